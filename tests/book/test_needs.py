"""Which checks need that the machine gets so far: nothing is read off a page that a dead machine cannot show.

Common practice, no source: what a bench does, and leaves, with a machine that shows no picture.
"""

import pytest

from halfsplit.book import page_of, shipped_book
from halfsplit.model.bench import Check

BOOK = shipped_book()
RUNGS = [rung.id for rung in BOOK.ladder.rungs]

SETUP_PAGE_OR_STICK = (
    "memory_data_read",
    "rails_on_setup_page",
    "warm_restart",
    "settings_photo",
    "fan_speeds_read",
    "board_records_read",
    "boot_menu_tried",
    "clock_after_an_hour",
    "health_from_stick",
    "sensors_under_load",
    "load_all",
    "load_memory",
    "load_card",
    "load_processor",
    "memory_test_overnight",
)
OWNERS_SYSTEM = ("records", "wake_three_times", "look_at_drivers", "look_at_programs", "updates_read", "start_timed")

BEGINS_WITH_A_START = (
    "counter_run",
    "as_at_home",
    "hooked_up_supply",
    "minimum_parts",
    "memory_grid",
    "shelf_memory",
    "memory_second_alone",
    "memory_out_listen",
    "out_of_case",
    "front_leads_off_pins",
    "leads_back_one_at_a_time",
    "card_out_other_output",
    "shelf_card",
    "all_outside_off",
    "five_cold_starts",
)

READ_OFF_A_RUNNING_MACHINE = {
    "board_records",
    "boot_menu",
    "card_link",
    "card_memory_errors",
    "fan_settings",
    "memory_data",
    "memory_test_errors",
    "output_choice",
    "settings_page",
    "card_temp_load",
    "cpu_fan_rpm",
    "cpu_temp_idle",
    "cpu_temp_load",
    "fan_rpm",
    "pump_rpm",
}
"""Looks, numbers and signs that are read off a screen, wherever they are at."""

MAY_GET_FURTHER = {
    "add_on_card_taken_out",
    "card_braced",
    "card_straight_in_board",
    "night_without_mains",
    "shelf_outside_supply",
    "warmed_first_start",
}
"""They go on with the bench stick, but begin with a start of another machine than the one that did not get so far."""

BY_EAR_OR_METER = {"drive_listen", "rails_at_cold_start", "thermal_look"}
"""They stay on the setup page if there is one, and read nothing there."""


def place(check: Check) -> int:
    """The place of the rung that a check needs, -1 = none."""
    return RUNGS.index(check.needs) if check.needs else -1


def on_the_machine() -> list[Check]:
    return [check for check in BOOK.checks.values() if check.host == "owner" and check.kind != "ask"]


@pytest.mark.parametrize("name", SETUP_PAGE_OR_STICK)
def test_what_reads_the_setup_page_or_starts_the_stick_needs_the_self_test_done(name: str) -> None:
    assert BOOK.checks[name].needs == "self_test"


@pytest.mark.parametrize("name", OWNERS_SYSTEM)
def test_what_reads_the_owners_system_needs_log_in(name: str) -> None:
    assert BOOK.checks[name].needs == "log_in"


@pytest.mark.parametrize("name", BEGINS_WITH_A_START)
def test_a_start_that_may_get_further_needs_nothing(name: str) -> None:
    assert BOOK.checks[name].needs == ""


def test_whatever_looks_at_the_system_needs_a_machine_that_starts_from_something() -> None:
    at_system = {look.id for look in BOOK.inspections.values() if look.at == "system"}
    found = [check for check in on_the_machine() if at_system & set(check.asks)]
    assert len(found) >= 10
    for check in found:
        assert place(check) >= RUNGS.index("self_test"), check.id


def test_whatever_is_read_off_a_screen_needs_a_machine_that_runs() -> None:
    there = set(BOOK.inspections) | set(BOOK.measurements) | set(BOOK.signs)
    assert there >= READ_OFF_A_RUNNING_MACHINE
    found = [check for check in on_the_machine() if READ_OFF_A_RUNNING_MACHINE & set(check.asks)]
    assert len(found) >= 20
    for check in found:
        assert check.needs, check.id


def test_whatever_is_busy_or_on_the_setup_page_needs_the_self_test_done() -> None:
    found = [check for check in on_the_machine() if check.conditions.get("load", "idle") != "idle"]
    assert len(found) >= 40
    low = {check.id for check in found if place(check) < RUNGS.index("self_test")}
    assert low - MAY_GET_FURTHER == BY_EAR_OR_METER


def test_whatever_starts_the_stick_needs_memory_that_passes() -> None:
    found = [check for check in on_the_machine() if check.setup.get("stick", "").startswith("shelf")]
    assert len(found) >= 40
    assert {check.id for check in found if place(check) < RUNGS.index("memory_passes")} == MAY_GET_FURTHER


def test_whatever_is_done_elsewhere_or_asked_needs_nothing_of_the_machine() -> None:
    for check in BOOK.checks.values():
        if check.host != "owner" or check.kind == "ask":
            assert check.needs == "", check.id


def test_its_page_says_what_it_needs() -> None:
    for name, title in (("records", "log-in"), ("settings_photo", "self-test done")):
        page = page_of("checks", name, BOOK, ())
        assert f"a machine that gets to: {title}" in dict(page.chapters)["needs"]
