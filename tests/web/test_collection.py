"""The page for collection tells what was wrong in the owner's words, and nothing that was only thought."""

import time

import pytest
from web_reader import Browser

from halfsplit import actions
from halfsplit.web.owner_words import MOST_TOLD

HEAD = "machine: {kind: built, card: none}\ncomplaint: nothing_happens\n"


def page_of(desk, *entries):
    number = actions.open_job(desk.bench, HEAD, by="AB", now=desk.clock())
    for entry in entries:
        actions.record(desk.bench, number, f"- {entry}", by="AB", now=desk.clock())
    return Browser(desk).open(f"/jobs/{number}/collection")


def found(page):
    return [each.text for each in page.all("section")[0].all("p")]


def test_a_repair_of_what_nobody_saw_after_which_it_still_failed_found_nothing(desk):
    faults = desk.bench.book.faults
    page = page_of(
        desk,
        "run: {not: starts}",
        "inspect: {at: front_switch_leads, seen: fine}",
        "repair: {do: reseat, at: front_switch_leads}",
        "run: {not: starts}",
        "inspect: {at: front_panel, seen: no_click}",
        "repair: {do: replace, at: front_panel}",
        "run: {cold: yes, reached: log_in, stop: none}",
    )
    assert found(page) == [faults["front_switch_stuck"].owner_says]
    done = [each.text for each in page.all("section")[1].all("li")]
    assert len(done) == 2


def test_what_was_seen_and_mended_is_told_even_if_another_fault_still_hid_it(desk):
    faults = desk.bench.book.faults
    page = page_of(
        desk,
        "run: {not: self_test, signs: {memory_complaint: yes}}",
        "inspect: {at: memory_seat.1, seen: dirty}",
        "inspect: {at: drive_data_plug.1, seen: off}",
        "repair: {do: reseat, at: drive_data_plug.1}",
        "run: {not: self_test, signs: {memory_complaint: yes}}",
        "repair: {do: leave_module_out, at: memory.2}",
        "run: {cold: yes, reached: log_in, stop: none}",
    )
    told = found(page)
    assert told[0] == faults["sata_lead_not_home"].owner_says
    assert told[1:] != [faults["memory_not_home"].owner_says]  # what was seen of the other module


def test_what_was_seen_and_righted_by_a_step_of_a_check_is_told_as_it_was_seen(desk):
    faults = desk.bench.book.faults
    page = page_of(
        desk,
        "run: {not: boot_drive}",
        "inspect: {at: drive_data_plug.1, seen: off}",
        "inspect: {at: fan_plug.1, seen: off}",
        "inspect: {at: memory_seat.1, seen: half_in}",
        "repair: {do: reseat, at: memory_seat.1}",
        "inspect: {at: drive_data_plug.1, seen: fine}",
        "inspect: {at: memory_seat.1, seen: fine}",
        "run: {cold: yes, reached: log_in, stop: none, of: 5}",
    )
    lead = "Seen by the way, and fine when it was looked at again: data lead of the drive, both ends: off."
    assert found(page) == [faults["memory_not_home"].owner_says, lead]  # the plug of the fan was not looked at again


def test_a_machine_that_came_further_after_a_repair_was_mended_of_something_even_if_it_was_dark_before(desk):
    faults = desk.bench.book.faults
    page = page_of(
        desk,
        "run: {reached: log_in, stop: none, picture: {used: {system: yes}}}",
        "run: {touched: case, reached: starts, picture: {used: {self_test: no, system: no}}}",
        "inspect: {at: memory_seat.1, seen: half_in}",
        "repair: {do: reseat, at: memory_seat.1}",
        "run: {load: processor, reached: log_in, stop: cuts_out}",
    )
    assert found(page) == [faults["memory_not_home"].owner_says]


def test_what_another_load_shows_later_is_another_fault(desk):
    faults = desk.bench.book.faults
    page = page_of(
        desk,
        "inspect: {at: memory_seat.1, seen: half_in}",
        "repair: {do: reseat, at: memory_seat.1}",
        "run: {cold: yes, reached: log_in, stop: none, of: 5}",
        "run: {load: processor, reached: log_in, stop: {cuts_out: 4 min}}",
        "inspect: {at: cooler, seen: clogged}",
        "repair: {do: clean, at: cooler}",
        "run: {load: processor, minutes: 30, reached: log_in, stop: none}",
    )
    assert found(page) == [faults["memory_not_home"].owner_says, faults["cooler_clogged"].owner_says]


@pytest.mark.parametrize("entries", [(), ("run: {not: starts}",)])
def test_where_nothing_was_mended_nothing_was_found(desk, entries):
    page = page_of(desk, *entries)
    assert found(page) == ["No fault was found that a repair was done for."]


def test_where_no_look_showed_it_what_was_suspected_most_is_told_as_likely(desk):
    """Dead at the wall: the standby supply, though a supply that gives way under load is the commoner fault."""
    faults = desk.bench.book.faults
    page = page_of(
        desk,
        "run: {not: standby_power, signs: {standby_light: no, fans_turn: no}}",
        "measure: {at: rail_5vsb, volts: 0.02}",
        "repair: {do: replace, at: supply}",
        "run: {cold: yes, reached: log_in, stop: none}",
    )
    assert found(page) == [f"Most likely: {faults['supply_no_standby'].owner_says}"]


def test_what_was_suspected_before_a_repair_is_told_by_the_corrected_log(desk):
    faults = desk.bench.book.faults
    page = page_of(
        desk,
        "run: {not: standby_power, signs: {standby_light: no, fans_turn: no}}",
        "measure: {at: rail_5vsb, volts: 5.05}",
        "repair: {do: replace, at: supply}",
        "run: {cold: yes, reached: log_in, stop: none}",
        "correct: {entry: measure_1, volts: 0.02}",
    )
    assert found(page) == [f"Most likely: {faults['supply_no_standby'].owner_says}"]


def test_a_needless_repair_that_came_later_is_not_told_as_what_was_wrong(desk):
    faults = desk.bench.book.faults
    page = page_of(
        desk,
        "run: {not: standby_power, signs: {standby_light: no, fans_turn: no}}",
        "measure: {at: rail_5vsb, volts: 0.02}",
        "repair: {do: replace, at: supply}",
        "run: {cold: yes, reached: log_in, stop: none}",
        "repair: {do: replace, at: cell}",
        "run: {cold: yes, reached: log_in, stop: none, of: 5}",
    )
    assert found(page) == [f"Most likely: {faults['supply_no_standby'].owner_says}"]
    assert len(page.all("section")[1].all("li")) == 2


def test_a_repair_after_which_it_came_further_found_one_of_two_faults(desk):
    faults = desk.bench.book.faults
    page = page_of(
        desk,
        "run: {not: starts}",
        "inspect: {at: front_switch_leads, seen: off}",
        "repair: {do: reseat, at: front_switch_leads}",
        "run: {reached: processor_runs, not: memory_passes}",
        "inspect: {at: memory_seat.1, seen: half_in}",
        "repair: {do: reseat, at: memory_seat.1}",
        "run: {cold: yes, reached: log_in, stop: none}",
    )
    assert found(page) == [faults["front_leads_off"].owner_says, faults["memory_not_home"].owner_says]


def test_an_unproved_machine_is_asked_about_before_it_is_handed_over(desk):
    repair = "repair: {do: reseat, at: memory_seat.1}"
    page = page_of(desk, "inspect: {at: memory_seat.1, seen: half_in}", repair)
    (asked,) = page.all("div", class_="stop screen")
    assert "after the last repair" in asked.text
    (button,) = page.all("button", data_test="collect")
    assert "class" not in button.attrs
    held, seats = "run: {cold: yes, reached: log_in, stop: none}", ("memory_seat.1", "memory_seat.2")
    page = page_of(desk, "run: {not: starts}", repair, held)
    (asked,) = page.all("div", class_="stop screen")
    assert "2 places that the work reached were not looked at since" in asked.text
    looks = [f"inspect: {{at: {seat}, seen: fine}}" for seat in seats]
    page = page_of(desk, "run: {not: starts}", repair, *looks, held)
    assert not page.all("div", class_="stop screen")
    assert "go" in page.all("button", data_test="collect")[0].attrs["class"]


def handover(page):
    (part,) = page.all("div", data_part="handover")
    return part


def test_what_may_still_be_wrong_comes_by_itself_and_then_stays(desk):
    part = handover(page_of(desk, "run: {not: starts}"))
    address = part.attrs["data-refresh"]
    assert "It comes here by itself" in part.text
    desk.weigher.work_off()
    part = handover(Browser(desk).open(address))
    assert part.attrs["data-refresh"] == ""
    assert "It comes here by itself" not in part.text


def test_what_could_not_be_worked_out_is_said_to_be_so(desk, monkeypatch):
    def broken(*_):
        raise RuntimeError

    monkeypatch.setattr(desk.weigher._ranker, "weigh", broken)
    address = handover(page_of(desk, "run: {not: starts}")).attrs["data-refresh"]
    desk.weigher.work_off()
    part = handover(Browser(desk).open(address))
    assert "It could not be worked out. The job sheet says why." in part.text
    assert part.attrs["data-refresh"] == ""


def test_what_is_normal_is_told_as_that_and_is_not_left_in(demo_desk):
    number = next(
        row.number for row in actions.list_open_jobs(demo_desk.bench) if row.name.startswith("new card, fans")
    )
    demo_desk.weigher.ask(number)
    demo_desk.weigher.work_off()
    page = Browser(demo_desk).open(f"/jobs/{number}/collection")
    normal = demo_desk.bench.book.faults["card_fans_still_at_idle"]
    assert found(page) == [normal.owner_says]
    assert normal.title not in page.text


def test_where_no_fault_alone_was_likely_the_likeliest_are_told_as_one_of_them(desk):
    """On a bang at home and a machine that stays dark nobody knows which end of the supply it was."""
    page = page_of(
        desk,
        "told: {event: storm}",
        "run: {not: starts}",
        "repair: {do: replace, at: supply}",
        "run: {cold: yes, reached: log_in, stop: none}",
    )
    (said,) = found(page)
    assert said.startswith("Likely one of these; which one was not found out: ")
    told = said.partition("out: ")[2].split(" - or: ")
    cured = {
        fault.owner_says
        for fault in desk.bench.book.faults.values()
        if any(cure.repair == "replace_supply" for cure in fault.cures)
    }
    assert 2 <= len(told) == len(set(told)) <= MOST_TOLD
    assert set(told) <= cured


@pytest.fixture
def far_east(monkeypatch):
    """The clock of the computer is twelve hours ahead of UTC, without summer time (POSIX TZ)."""
    monkeypatch.setenv("TZ", "XXX-12")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize("page", ["collection", "slip", "label"])
def test_the_day_when_it_came_is_the_day_at_the_bench(desk, far_east, page):
    """It came at noon of 14 June by UTC: at this bench that is midnight, and the 15th has begun."""
    assert desk.clock().isoformat().startswith("2030-06-14T12:00")
    number = actions.open_job(desk.bench, HEAD, by="AB", now=desk.clock())
    text = Browser(desk).open(f"/jobs/{number}/{page}").text
    assert "2030-06-15" in text
    assert "2030-06-14" not in text
