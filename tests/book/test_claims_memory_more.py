"""What a technician says of memory, graphics card and picture once one thing at a time was asked, put to real jobs.

All claims: common practice, no source.
"""

import pytest
from folding import total_anywhere, weigh_log

TWO = "{memory: [8, 8], kind: built}"
CARD = "{card: {}, kind: built}"
STICK = "drive: out, stick: shelf.start_stick"
"""Our own system, with the owner's drives off."""

CRASHES = "run: {reached: log_in, stop: {resets: 20 min}, signs: {error_screen: yes}, failed: 2, of: 5}"
ERRORS = f"run: {{with: {{{STICK}}}, load: memory, minutes: 90, reached: log_in, signs: {{memory_test_errors: yes}}}}"
DARK = "run: {reached: self_test, output: card, picture: none, of: 2}"

MODULES = ("memory_module_bad@memory.1", "memory_module_bad@memory.2")
MIXED = ("memory_mixed@memory.1", "memory_mixed@memory.2")
CARD_ITSELF = ("card_dead_or_failing", "card_paste_dry", "card_fails_with_driver", "card_firmware_changed")
RISER = "{card: {}, riser: {}, mount: on_riser, kind: built}"


def on_our_stick(*out: str, finds: str, settings: str = "") -> str:
    """Return a run of the memory test on our stick with some modules out: "errors", or "none" and it holds."""
    swaps = ", ".join([*(f"{slot}: out" for slot in out), *([f"settings: {settings}"] if settings else []), STICK])
    seen = "signs: {memory_test_errors: yes}" if finds == "errors" else "stop: none, signs: {memory_test_errors: no}"
    return f"run: {{with: {{{swaps}}}, load: memory, minutes: 90, reached: log_in, {seen}}}"


# Memory


def test_part_numbers_that_differ_accuse_the_pair_and_alike_ones_clear_it() -> None:
    before = weigh_log(CRASHES, machine=TWO, told="[new_memory]")
    mixed = weigh_log(CRASHES, "inspect: {at: memory_data.2, tool: software, seen: mixed}", machine=TWO)
    fine = "inspect: {{at: memory_data.{}, tool: software, seen: fine}}"
    alike = weigh_log(CRASHES, fine.format(1), fine.format(2), machine=TWO, told="[new_memory]")
    assert total_anywhere(mixed, *MIXED) > 0.9
    assert total_anywhere(alike, *MIXED) < 0.25 * total_anywhere(before, *MIXED)


def test_a_module_that_is_not_listed_has_no_contact_or_a_dead_slot_and_is_no_matter_of_speed() -> None:
    half = "run: {reached: self_test, signs: {memory_half_seen: yes}, of: 2}"
    weighed = weigh_log(half, "inspect: {at: memory_data.2, tool: software, seen: missing_here}", machine=TWO)
    here = total_anywhere(
        weighed, "memory_not_home", "board_memory_slot_dead", "socket_pins_bent", "memory_not_accepted"
    )
    assert here > 0.8
    assert total_anywhere(weighed, "memory_profile_unstable") < 0.05


def test_errors_go_with_one_module_or_come_back_only_with_the_two_together() -> None:
    first = weigh_log(
        ERRORS, on_our_stick("memory.2", finds="errors"), on_our_stick("memory.1", finds="none"), machine=TWO
    )
    apart = on_our_stick("memory.2", finds="none"), on_our_stick("memory.1", finds="none")
    before, neither = weigh_log(ERRORS, machine=TWO), weigh_log(ERRORS, *apart, ERRORS, machine=TWO)
    assert first["memory_module_bad@memory.1"] > 0.5
    assert first["memory_module_bad@memory.1"] > 20 * first["memory_module_bad@memory.2"]
    together = "memory_mixed", "memory_profile_unstable"
    assert total_anywhere(before, *together) < total_anywhere(before, *MODULES)
    assert total_anywhere(neither, *together) > total_anywhere(neither, *MODULES)  # one clean pass is no clearance


@pytest.mark.parametrize("told", ["[]", "[memory_profile_on]"])
def test_errors_that_are_gone_at_the_standards_speed_accuse_the_profile_and_errors_that_stay_the_module(
    told: str,
) -> None:
    gone = weigh_log(ERRORS, on_our_stick(finds="none", settings="new"), machine=TWO, told=told)
    stay = weigh_log(ERRORS, on_our_stick(finds="errors", settings="new"), machine=TWO, told=told)
    assert total_anywhere(gone, "memory_profile_unstable") > 3 * total_anywhere(stay, "memory_profile_unstable")
    assert total_anywhere(gone, "memory_profile_unstable") > total_anywhere(gone, *MODULES)
    assert total_anywhere(stay, *MODULES) > 3 * total_anywhere(stay, "memory_profile_unstable")


def test_a_profile_that_is_read_to_be_off_clears_the_profile() -> None:
    before = weigh_log(ERRORS, machine=TWO)
    fine = "inspect: {{at: memory_data.{}, tool: software, seen: fine}}"
    after = weigh_log(ERRORS, fine.format(1), fine.format(2), machine=TWO)
    assert total_anywhere(after, "memory_profile_unstable") < 0.2 * total_anywhere(before, "memory_profile_unstable")
    assert total_anywhere(after, *MODULES) > total_anywhere(before, *MODULES)


def test_our_module_that_runs_in_both_slots_clears_the_slots_and_leaves_their_modules_or_a_contact_now_gone() -> None:
    beeps = "run: {not: memory_passes, signs: {memory_complaint: yes}, of: 3}"
    first, second = (
        f"run: {{with: {{memory.1: {one}, memory.2: {two}}}, reached: log_in, of: 2}}"
        for one, two in (("shelf.memory_ddr4", "out"), ("out", "shelf.memory_ddr4"))
    )
    before, after = weigh_log(beeps, machine=TWO), weigh_log(beeps, first, second, machine=TWO)
    assert total_anywhere(after, "board_memory_slot_dead", "socket_pins_bent") < 0.1 * total_anywhere(
        before, "board_memory_slot_dead", "socket_pins_bent"
    )
    assert total_anywhere(after, *MODULES) > total_anywhere(before, *MODULES)
    assert total_anywhere(after, "memory_not_home") < total_anywhere(before, "memory_not_home")


# The card, its slot and its own data


def test_missing_lanes_accuse_the_contact_before_the_card() -> None:
    lost = "run: {load: card, reached: log_in, signs: {picture_lost_alive: yes}, failed: 2, of: 4}"
    before = weigh_log(lost, machine=CARD)
    after = weigh_log(lost, "inspect: {at: card_link, tool: software, seen: few_lanes}", machine=CARD)
    contact = ("card_not_home", "board_card_slot_dead", "riser_not_home")
    assert total_anywhere(after, *contact) > 0.8 > total_anywhere(before, *contact)
    assert total_anywhere(after, *contact) > 2 * total_anywhere(after, *CARD_ITSELF)


def test_a_picture_in_the_next_slot_accuses_slot_and_seat_and_clears_the_card() -> None:
    look = "inspect: {{at: card_in_next_slot, tool: photo, seen: {}}}"
    there, not_there = (
        weigh_log(DARK, look.format("picture_there"), machine=CARD),
        weigh_log(DARK, look.format("fine"), machine=CARD),
    )
    assert total_anywhere(there, "board_card_slot_dead", "card_not_home") > 5 * total_anywhere(there, *CARD_ITSELF)
    assert total_anywhere(not_there, *CARD_ITSELF) > total_anywhere(not_there, "board_card_slot_dead", "card_not_home")


def test_errors_of_the_link_on_a_riser_accuse_the_riser() -> None:
    flickers = "run: {load: card, reached: log_in, signs: {picture_lost_alive: yes}, failed: 2, of: 4}"
    weighed = weigh_log(flickers, "inspect: {at: card_link, tool: software, seen: link_errors}", machine=RISER)
    assert total_anywhere(weighed, "riser_worn", "riser_too_old", "riser_not_home") > 3 * total_anywhere(
        weighed, *CARD_ITSELF
    )


def test_errors_in_the_cards_memory_on_our_stick_accuse_the_card_and_clear_the_driver() -> None:
    stripes = "run: {load: card, reached: log_in, signs: {artefacts: yes}, failed: 3, of: 4}"
    ours = f"run: {{with: {{{STICK}}}, load: card, minutes: 20, reached: log_in, signs: {{card_memory_errors: yes}}}}"
    after = weigh_log(stripes, ours, machine=CARD)
    assert total_anywhere(after, *CARD_ITSELF, "card_cooler_badly_refitted") > 0.9
    assert total_anywhere(after, "graphics_driver_bad", "card_tuned_in_system") < 0.02


def test_crashes_in_games_that_our_stick_has_not_are_driver_or_tuning_and_the_tuning_page_tells_which() -> None:
    crashes = "run: {load: games, reached: log_in, signs: {program_crashes: yes}, failed: 4, of: 5}"
    holds = f"run: {{with: {{{STICK}}}, load: card, minutes: 60, reached: log_in, stop: none, of: 3}}"
    page = "inspect: {{at: card_tuning, tool: software, seen: {}}}"
    tuned = weigh_log(crashes, holds, page.format("tuned"), machine=CARD)
    fine = weigh_log(crashes, holds, page.format("fine"), machine=CARD)
    assert tuned["card_tuned_in_system"] > max(tuned["system_damaged"], 5 * tuned["graphics_driver_bad"])
    assert fine["graphics_driver_bad"] > 5 * fine["card_tuned_in_system"]
    assert total_anywhere(fine, *CARD_ITSELF) < 0.1


def test_a_finger_under_the_card_tells_its_seat_from_a_failing_card() -> None:
    lost = "run: {reached: log_in, signs: {picture_lost_alive: yes}, failed: 2, of: 5}"
    touched = "run: {{touched: card, reached: log_in, signs: {{picture_lost_alive: {}}}, of: 2}}"
    answers = weigh_log(lost, touched.format("yes"), machine=CARD)
    steady = weigh_log(lost, touched.format("no"), machine=CARD)
    assert total_anywhere(answers, "card_not_home", "board_card_slot_dead") > 3 * total_anywhere(answers, *CARD_ITSELF)
    assert total_anywhere(steady, "card_not_home") < 0.5 * total_anywhere(answers, "card_not_home")


def test_used_and_with_a_firmware_that_is_not_its_makers_it_is_the_firmware_before_the_driver() -> None:
    crashes = "run: {load: card, reached: log_in, signs: {picture_lost_alive: yes}, failed: 2, of: 4}"
    weighed = weigh_log(
        crashes, "inspect: {at: card_firmware, tool: software, seen: changed}", machine=CARD, told="[bought_used]"
    )
    assert weighed["card_firmware_changed"] > 0.5
    assert weighed["card_firmware_changed"] > 3 * weighed["graphics_driver_bad"]


def test_hot_within_a_minute_of_new_paste_is_what_the_work_made() -> None:
    hot = "run: {load: card, reached: log_in, stop: {cuts_out: 1 min}, signs: {card_hot: yes}, of: 2}"
    untouched, worked = weigh_log(hot, machine=CARD), weigh_log("repair: renew_card_paste", hot, machine=CARD)
    assert worked["card_cooler_badly_refitted"] > 5 * untouched["card_cooler_badly_refitted"]
    assert worked["card_cooler_badly_refitted"] > worked["card_clogged"]


# Between card and eye


def test_one_swap_tells_monitor_from_cable() -> None:
    ours = "run: {{with: {{monitor: shelf.monitor_bench}}, reached: self_test, output: card, picture: {{card: {}}}}}"
    picture, dark = weigh_log(DARK, ours.format("yes"), machine=CARD), weigh_log(DARK, ours.format("no"), machine=CARD)
    monitor = ("monitor_bad", "wrong_input", "monitor_lead_off", "unlisted_monitor")
    assert total_anywhere(picture, *monitor) > 0.8
    assert total_anywhere(dark, *monitor) < 0.05
    assert total_anywhere(dark, "video_cable_bad") > total_anywhere(picture, "video_cable_bad")


def test_a_monitor_that_shows_our_machine_is_cleared_and_their_machine_is_not() -> None:
    ours = "run: {on: bench, with: {monitor: owner}, reached: log_in, picture: yes}"
    before, after = weigh_log(DARK, machine=CARD), weigh_log(DARK, ours, machine=CARD)
    assert total_anywhere(after, "monitor_bad", "monitor_lead_off") < 0.25 * total_anywhere(
        before, "monitor_bad", "monitor_lead_off"
    )
    assert total_anywhere(after, *CARD_ITSELF) > total_anywhere(before, *CARD_ITSELF)


def test_out_of_range_is_a_setting_and_neither_card_nor_cable_is_bought() -> None:
    says = (
        "run: {reached: log_in, output: card, picture: {card: {self_test: yes, system: no}},"
        " signs: {out_of_range_message: yes}, of: 2}"
    )
    ours = "run: {with: {monitor: shelf.monitor_bench}, reached: log_in, output: card, picture: yes}"
    weighed = weigh_log(says, ours, machine=CARD)
    assert weighed["picture_mode_not_taken"] > 0.9
    assert total_anywhere(weighed, *CARD_ITSELF, "video_cable_bad", "monitor_bad") < 0.05


def test_a_lamp_that_is_out_asks_the_monitors_own_lead_before_the_monitor_is_bought() -> None:
    look = "inspect: {{at: {}, seen: {}}}"
    dead = weigh_log(DARK, look.format("monitor", "dead"), machine=CARD, told="[moved_house]")
    off = weigh_log(DARK, look.format("monitor", "dead"), look.format("monitor_mains", "switched_off"), machine=CARD)
    assert dead["monitor_lead_off"] > dead["monitor_bad"]
    assert off["monitor_lead_off"] > 0.9


def test_a_safe_start_with_a_picture_accuses_the_driver_and_does_not_clear_the_card() -> None:
    goes = "run: {output: card, picture: {card: {self_test: yes, system: no}}, reached: log_in, of: 2}"
    well = "inspect: {at: safe_start, tool: software, seen: well_with_plain_drivers}"
    before, after = weigh_log(goes, machine=CARD), weigh_log(goes, well, machine=CARD)
    assert after["graphics_driver_bad"] > before["graphics_driver_bad"]
    assert after["card_fails_with_driver"] > 0.5 * before["card_fails_with_driver"]
    assert total_anywhere(after, "monitor_bad", "video_cable_bad") < 0.5 * total_anywhere(
        before, "monitor_bad", "video_cable_bad"
    )
