"""The checks that must not be missing, the shelf of a small bench, and what is charged for both (common practice)."""

import pytest

from halfsplit.book import shipped_book

BOOK = shipped_book()

CHECKS = (
    ("counter run", "counter_run"),
    ("watts at the wall", "wall_watts"),
    ("other outlet and lead", "other_outlet"),
    ("all outside off", "all_outside_off"),
    ("lead out and hold the button", "lead_out_hold"),
    ("speaker on the board", "speaker_on"),
    ("caps lock or network as a sign of life", "sign_of_life"),
    ("memory out and listen", "memory_out_listen"),
    ("memory grid", "memory_grid"),
    ("minimum parts", "minimum_parts"),
    ("front-panel leads off, start at the pins", "front_leads_off_pins"),
    ("leads back one at a time", "leads_back_one_at_a_time"),
    ("out of the case", "out_of_case"),
    ("card out or other output", "card_out_other_output"),
    ("board output", "board_output"),
    ("hooked-up known-good supply", "hooked_up_supply"),
    ("supply alone at its start pins", "supply_alone"),
    ("owner's memory in the bench machine", "memory_in_bench"),
    ("owner's card in the bench machine", "card_in_bench"),
    ("owner's supply in the bench machine", "supply_in_bench"),
    ("put the suspect memory back", "put_back_memory"),
    ("put the suspect card back", "put_back_card"),
    ("put the suspect supply back", "put_back_supply"),
    ("bench stick with owner's drives off", "bench_stick"),
    ("set-up page left idle", "setup_page_idle"),
    ("drive health in a dock", "drive_dock"),
    ("system's own records", "records"),
    ("sensors under load", "sensors_under_load"),
    ("memory test overnight", "memory_test_overnight"),
    ("load of everything", "load_all"),
    ("torch look at both ends of the power plugs", "power_plugs_look"),
    ("socket look past the cooler", "socket_past_cooler"),
    ("smell at the supply exhaust", "exhaust_smell"),
    ("pump by touch and hose temperature", "pump_touch"),
    ("warm or cold spots by thermal camera", "thermal_look"),
    ("wiggle and press", "wiggle_and_press"),
    ("card out and braced", "card_braced"),
    ("machine flat", "machine_flat"),
    ("fan started with a finger-free straw", "fan_straw"),
    ("two-digit code display", "code_display"),
    ("settings photographed before any reset", "settings_photo"),
    ("short to ground before a good supply goes on", "short_to_ground"),
)


@pytest.mark.parametrize("check", [check for _, check in CHECKS], ids=[name for name, _ in CHECKS])
def test_a_check_of_the_trade_is_there_and_some_fault_is_told_by_it(check: str) -> None:
    found = BOOK.checks[check]
    assert found.steps
    assert found.why
    assert len(found.results) >= 1
    assert found.asks


def test_a_torch_is_asked_for_before_a_cooler() -> None:
    """What costs three minutes stands beside what costs twenty: the look past the cooler needs the panel only."""
    past, look = BOOK.checks["socket_past_cooler"], BOOK.checks["socket_look"]
    assert past.opening == "side_panel"
    assert look.opening == "processor_out"
    assert minutes(look.opening) > 5 * minutes(past.opening)


def test_front_leads_cost_minutes_and_the_board_out_of_the_case_half_an_hour() -> None:
    assert minutes("front_leads_off") <= 5
    assert 45 <= minutes("board_out") <= 60
    assert 12 <= minutes("cooler_off") <= 20
    assert 25 <= minutes("liquid_cooler_off") <= 40


def minutes(opening: str) -> float:
    """Return the minutes to open and close it, and all that it is inside of."""
    total = 0.0
    while opening in BOOK.openings:
        found = BOOK.openings[opening]
        total += found.minutes_open + found.minutes_close
        opening = found.inside
    return total


def test_a_memory_test_over_night_takes_three_minutes_of_hands() -> None:
    check = BOOK.checks["memory_test_overnight"].minutes
    assert (check.hands_on, check.place, check.days) == (3.0, 600.0, 1.0)


def test_a_small_bench_has_one_of_each_and_no_board_for_every_socket() -> None:
    kinds = [part.kind for part in BOOK.shelf.values()]
    for kind in ("supply", "card", "stick", "monitor", "video_cable", "keyboard", "speaker", "cell", "mains_lead"):
        assert kind in kinds
    assert {f"memory_{ddr}" for ddr in ("ddr3", "ddr4", "ddr5")} <= BOOK.shelf.keys()
    assert {"drive_sata", "drive_m2"} <= BOOK.shelf.keys()
    assert not {"board", "processor"} & set(kinds)


def test_a_scout_goes_before_the_known_good_supply() -> None:
    grades = {BOOK.shelf[name].grade for name in BOOK.shelf if BOOK.shelf[name].kind == "supply"}
    assert grades == {"scout", "known_good"}
    assert BOOK.grades["scout"].p_good < BOOK.grades["known_good"].p_good


def test_makers_own_supplies_are_not_swapped_for_ours() -> None:
    for check in ("hooked_up_supply", "supply_alone", "supply_in_bench"):
        assert BOOK.checks[check].only["supply_shape"] == ("standard",)
