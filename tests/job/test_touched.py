"""What the work may have left worse is asked for once more, and no more than that."""

import pytest
from folding import BOOK, job_of

from halfsplit.job.machine import facts_of
from halfsplit.job.touched import LEAST_LEFT, touched_by_work
from halfsplit.job.trail import walk_job

MACHINE = "{kind: built, age_years: 6, card: {}, memory: [8, 8], drives: [sata]}"


def touched(*entries):
    job = job_of(*entries, machine=MACHINE)
    return {place.at: place for place in touched_by_work(walk_job(job, BOOK), facts_of(job, BOOK, []), BOOK)}


def test_where_nothing_was_opened_nothing_is_asked():
    assert touched("run: {reached: log_in}") == {}
    assert touched("inspect: {at: outlet, seen: fine}") == {}


def test_a_new_supply_asks_for_each_plug_that_hung_on_the_old_one_and_for_leads_in_the_fan():
    found = touched("repair: {do: replace, at: supply}")
    assert {"main_power_plug", "cpu_power_plug", "card_power_plug", "drive_power_plug.1"} <= found.keys()
    fan = found["cooler_fan_plug"]
    assert "blocked" in BOOK.inspections[fan.look].seen
    blocked = BOOK.faults["processor_fan_blocked"].made_by
    least = 1.0 - (1.0 - blocked["power_leads_off"].p) * (1.0 - blocked["replace_supply"].p)
    assert fan.p >= least >= LEAST_LEFT
    assert "memory_seat.1" not in found


def test_what_was_worked_at_itself_is_asked_for_whatever_the_chance_of_it():
    found = touched("repair: {do: reseat, at: memory_seat.2}")
    assert found["memory_seat.2"].p == pytest.approx(1.0)
    assert found["memory_seat.1"].p == pytest.approx(BOOK.openings["memory_out"].disturbs["memory_seat"].p)
    assert next(iter(found)) == "memory_seat.2"


def test_what_can_be_seen_only_by_taking_more_apart_is_not_asked_for():
    """Paste is seen with the cooler off; the cooler's mount with the side panel off (common practice)."""
    found = touched("repair: {do: refit, at: cooler_mount}")
    assert "cooler_mount" in found
    assert "paste" not in found
    assert "processor_seat" not in found


def test_a_look_since_then_is_told_and_one_before_is_not():
    work, fine = "repair: {do: reseat, at: memory_seat.1}", "inspect: {at: memory_seat.1, seen: fine}"
    assert touched(fine, work)["memory_seat.1"].seen == ""
    looked = touched(work, fine)
    assert looked["memory_seat.1"].is_fine
    assert list(looked) == list(touched(work))  # nothing jumps while the list is ticked off


def test_a_look_at_another_place_with_the_panel_off_again_does_not_undo_what_was_seen():
    work = "repair: {do: replace, at: supply}"
    looks = [f"inspect: {{at: {at}, seen: fine}}" for at in ("main_power_plug", "cooler_fan_plug")]
    found = touched(work, looks[0], "run: {reached: log_in}", looks[1])
    assert found["main_power_plug"].is_fine
    assert found["cooler_fan_plug"].is_fine


def test_a_look_that_nobody_is_sure_of_is_no_look():
    found = touched("repair: {do: replace, at: supply}", "inspect: {at: main_power_plug, seen: unsure}")
    assert found["main_power_plug"].seen == ""


def test_looking_below_a_cover_puts_nothing_on_the_list():
    looks = ["inspect: {at: memory_seat.1, seen: fine}", "run: {reached: log_in}"] * 8
    assert touched(*looks) == {}
    work = "repair: {do: replace, at: supply}"
    assert touched(work, *looks).keys() == touched(work).keys()


def test_what_was_seen_not_to_be_right_is_open_until_it_was_looked_at_after_a_repair():
    work = ["repair: {do: replace, at: supply}", "inspect: {at: main_power_plug, seen: half_in}"]
    assert touched(*work)["main_power_plug"].seen == "half_in"
    assert not touched(*work)["main_power_plug"].is_fine
    mended = [*work, "repair: {do: reseat, at: main_power_plug}"]
    assert touched(*mended)["main_power_plug"].seen == ""
    assert touched(*mended, "inspect: {at: main_power_plug, seen: fine}")["main_power_plug"].is_fine
