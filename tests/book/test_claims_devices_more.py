"""What a technician says of drives, systems and devices once they were asked without being changed, put to real jobs.

All claims: common practice, no source.
"""

import pytest
from folding import BOOK, total_anywhere, weigh_log

SATA, M2, TWO_DRIVES = "{drives: [sata]}", "{drives: [m2]}", "{drives: [m2, sata]}"
MECHANICAL = "{drives: [mechanical], age_years: 6}"

NO_BOOT_DRIVE = "run: {reached: self_test, not: loader, signs: {no_boot_drive_message: yes}, of: 2}"
SLOW_START = "run: {reached: log_in, signs: {slow_start: yes}, of: 2}"
STICK = "with: {drive: out, stick: shelf.start_stick}"
"""Our own system, with the owner's drives off."""

DRIVE = ("ssd_gone", "ssd_failing", "ssd_read_only", "ssd_firmware_hangs", "drive_failing")
LEADS = ("sata_lead_bad", "sata_lead_not_home", "drive_power_plug_loose", "drive_power_lead_bad")
DRIVERS = ("graphics_driver_bad", "other_driver_bad")

NORMAL = (
    "new_drive_not_set_up",
    "gigabytes_counted_otherwise",
    "memory_lent_to_graphics",
    "lamps_on_standby",
    "relay_clicks",
    "screen_saves_power",
    "asleep_not_off",
    "warm_air_under_load",
)


def seen(what: str, word: str) -> str:
    return f"inspect: {{at: {what}, tool: software, seen: {word}}}"


def shows(sign: str, answer: str = "yes", **run: str) -> str:
    said = "".join(f"{key}: {value}, " for key, value in run.items())
    return f"run: {{{said}reached: log_in, signs: {{{sign}: {answer}}}, of: 3}}"


# A start that finds nothing


def test_a_drive_that_starts_when_it_is_chosen_by_hand_has_a_wrong_order_and_no_lost_loader() -> None:
    by_hand = weigh_log(NO_BOOT_DRIVE, seen("boot_menu", "starts_by_hand"), machine=M2)
    listed = weigh_log(NO_BOOT_DRIVE, seen("boot_menu", "fine"), machine=M2)
    settings = ("boot_order_wrong", "start_mode_wrong", "stick_left_in")
    assert total_anywhere(by_hand, *settings) > 0.9
    assert total_anywhere(listed, "loader_damaged", "loader_on_other_drive") > 3 * total_anywhere(listed, *settings)


def test_a_drive_that_is_not_in_the_start_menu_is_plug_lead_port_or_drive() -> None:
    weighed = weigh_log(NO_BOOT_DRIVE, seen("boot_menu", "drive_not_listed"), machine=SATA)
    assert total_anywhere(weighed, *DRIVE, *LEADS, "board_drive_port_dead", "storage_mode_wrong") > 0.9
    assert total_anywhere(weighed, "loader_damaged", "boot_order_wrong") < 0.05


def test_a_drive_that_is_back_after_a_rest_is_the_drive_and_no_loader() -> None:
    gone = "run: {lead_out: no, reached: self_test, not: loader, signs: {drive_missing: yes}, of: 2}"
    back = "run: {lead_out: 30 min, load: setup_page, reached: self_test, signs: {drive_missing: no}, of: 2}"
    before, after = weigh_log(gone, machine=SATA), weigh_log(gone, back, machine=SATA)
    assert total_anywhere(after, "ssd_gone") > total_anywhere(before, "ssd_gone") * 0.5
    assert total_anywhere(after, "board_drive_port_dead") < 0.3 * total_anywhere(before, "board_drive_port_dead")


def test_a_drive_that_comes_with_the_other_one_out_shares_its_line_with_it() -> None:
    lost = "run: {reached: log_in, signs: {drive_missing: yes}, of: 2}"
    alone = "run: {with: {drive.2: out}, reached: log_in, signs: {drive_missing: no}, of: 3}"
    before, after = weigh_log(lost, machine=TWO_DRIVES), weigh_log(lost, alone, machine=TWO_DRIVES)
    assert total_anywhere(after, "m2_lane_clash") > total_anywhere(before, "m2_lane_clash")
    assert total_anywhere(before, "m2_lane_clash") > 0.05


def test_a_drive_that_our_lead_finds_on_another_port_is_cleared_and_its_own_lead_is_not() -> None:
    missing = "run: {reached: self_test, not: loader, signs: {drive_missing: yes, no_boot_drive_message: yes}, of: 2}"
    there = weigh_log(missing, seen("drive_on_our_lead.1", "found_there"), machine=SATA)
    not_there = weigh_log(missing, seen("drive_on_our_lead.1", "fine"), machine=SATA)
    assert total_anywhere(there, *LEADS, "board_drive_port_dead") > 5 * total_anywhere(there, *DRIVE)
    assert total_anywhere(not_there, *DRIVE) > 2 * total_anywhere(not_there, "sata_lead_bad", "sata_lead_not_home")


def test_a_drive_set_up_for_the_other_way_of_starting_needs_a_setting_and_no_new_loader() -> None:
    weighed = weigh_log(NO_BOOT_DRIVE, seen("start_mode", "modes_differ"), machine=M2)
    assert weighed["start_mode_wrong"] > 0.8
    assert weighed["loader_damaged"] < 0.1


# Where the time of a start goes


@pytest.mark.parametrize(
    ("word", "machine", "least", "leading"),
    [
        ("long_before_logo", M2, 0.2, {"usb_device_stalls", "memory_training"}),
        ("long_to_log_in", MECHANICAL, 0.6, {"drive_old_slow", "drive_failing"}),
        ("long_after_log_in", M2, 0.6, {"programs_start_along", "memory_too_little"}),
    ],
)
def test_the_part_of_a_start_that_takes_long_says_who_is_slow(
    word: str, machine: str, least: float, leading: set[str]
) -> None:
    before = weigh_log(SLOW_START, machine=machine)
    after = weigh_log(SLOW_START, seen("start_time", word), machine=machine)
    assert total_anywhere(after, *leading) > max(least, total_anywhere(before, *leading))


# The system, with less of it at work


def test_well_with_nothing_starting_along_is_a_program_and_no_driver() -> None:
    slow = "run: {reached: log_in, signs: {slow: yes, slow_start: yes}, of: 2}"
    before = weigh_log(slow, machine=M2)
    after = weigh_log(slow, seen("clean_start", "well_without_them"), machine=M2)
    programs = ("programs_start_along", "adware", "hidden_program")
    assert total_anywhere(after, *programs) > max(0.7, total_anywhere(before, *programs))
    assert total_anywhere(after, *DRIVERS) <= total_anywhere(before, *DRIVERS)


def test_well_with_plain_drivers_is_a_driver_and_the_same_with_them_is_not() -> None:
    stops = "run: {reached: loader, not: log_in, stop: resets, signs: {error_screen: yes}, of: 3}"
    well = weigh_log(stops, seen("safe_start", "well_with_plain_drivers"), machine=M2)
    same = weigh_log(stops, seen("safe_start", "fine"), machine=M2)
    files = ("system_damaged", "file_system_damaged", "storage_mode_wrong")
    assert total_anywhere(well, *DRIVERS) > total_anywhere(well, *files)
    assert total_anywhere(same, *files) > 5 * total_anywhere(same, *DRIVERS)


def test_what_our_stick_finds_on_their_drive_makes_loud_for_nothing_a_foreign_program() -> None:
    loud = shows("fans_loud_under_load")
    before, after = weigh_log(loud, machine=M2), weigh_log(loud, seen("foreign_scan", "found"), machine=M2)
    assert total_anywhere(after, "hidden_program", "adware") > 0.7 > total_anywhere(before, "hidden_program", "adware")


def test_an_update_that_failed_again_and_again_is_seen_in_its_list_and_is_no_damaged_system() -> None:
    weighed = weigh_log(shows("updates_refused"), seen("update_list", "failed_again"), machine=M2)
    assert weighed["update_stuck"] > 0.8
    assert weighed["update_stuck"] > 10 * weighed["system_damaged"]


def test_a_password_that_our_network_and_keyboard_let_in_was_not_lost() -> None:
    refused = (
        "run: {with: {network_lead: out}, reached: system_loads, not: log_in, signs: {log_in_refused: yes}, of: 2}"
    )
    ours = "run: {with: {keyboard: shelf.keyboard_bench}, reached: log_in, signs: {log_in_refused: no}, of: 3}"
    before, after = weigh_log(refused, machine=M2), weigh_log(refused, ours, machine=M2)
    assert before["password_lost"] > 0.8
    assert after["keyboard_key_held"] > 5 * before["keyboard_key_held"]


# Work leaves something behind


def test_files_that_are_gone_since_a_new_drive_were_left_on_the_old_one() -> None:
    gone = shows("files_damaged")
    told = weigh_log(gone, seen("owner_data", "less_than_before"), machine=M2, told="[new_drive]")
    worked = weigh_log("repair: replace_drive", gone, machine=M2)
    untouched = weigh_log(gone, machine=M2)
    assert told["data_left_behind"] > 0.9
    assert worked["data_left_behind"] > 4 * untouched["data_left_behind"]


def test_full_since_the_larger_drive_is_room_that_was_not_given_to_the_system() -> None:
    full = shows("disk_full_message")
    look = seen("drive_parts.1", "room_unused")
    weighed = weigh_log(full, look, machine=M2, told="[new_drive]")
    assert weighed["room_not_grown"] > 0.9
    assert weighed["disk_full"] < 0.1


def test_no_sound_since_a_new_monitor_asks_the_chosen_output_before_a_driver() -> None:
    dead = shows("sound_dead")
    new, update = weigh_log(dead, machine=M2, told="[new_monitor]"), weigh_log(dead, machine=M2, told="[driver_update]")
    assert new["sound_to_other_output"] > 3 * new["other_driver_bad"]
    assert update["other_driver_bad"] > update["sound_to_other_output"]


# Devices


def test_a_device_that_drops_out_on_a_full_hub_is_the_hub_and_after_a_rest_the_saving_of_power() -> None:
    drops = shows("devices_drop", load="idle", minutes="30")
    hub = weigh_log(drops, "inspect: {at: usb_hub, seen: too_much_on_it}", machine=M2)
    saved = weigh_log(drops, seen("usb_power_page", "devices_put_to_sleep"), machine=M2)
    assert hub["hub_overloaded"] > 0.9
    assert saved["usb_put_to_sleep"] > saved["hub_overloaded"]


def test_a_mouse_that_jumps_beside_a_fast_disk_needs_another_place_and_no_new_mouse() -> None:
    jumps = shows("pointer_jumps")
    still = "run: {with: {usb_device: out}, reached: log_in, signs: {pointer_jumps: no}, of: 3}"
    before, after = weigh_log(jumps, machine=M2), weigh_log(jumps, still, machine=M2)
    assert after["receiver_disturbed"] > 0.8
    assert after["receiver_disturbed"] >= 0.9 * before["receiver_disturbed"]


def test_a_start_that_needs_the_devices_off_accuses_a_device_and_clears_the_board() -> None:
    stays = "run: {reached: memory_passes, not: self_test, of: 3}"
    runs = "run: {with: {usb_device: out}, reached: log_in, of: 3}"
    before, after = weigh_log(stays, machine=M2), weigh_log(stays, runs, machine=M2)
    assert after["usb_device_stalls"] + after["unlisted_usb_device"] > 0.7
    assert total_anywhere(after, "board_dead", "processor_dead") < 0.1 * total_anywhere(
        before, "board_dead", "processor_dead"
    )


def test_our_radio_stick_that_gets_through_where_theirs_does_not_leaves_card_aerials_and_driver() -> None:
    weak, machine = shows("radio_dead"), "{drives: [m2], radio: {}}"
    only_theirs = weigh_log(weak, seen("radio_beside", "only_theirs_bad"), machine=machine)
    both = weigh_log(weak, seen("radio_beside", "fine"), machine=machine)
    card = ("radio_card_bad", "radio_aerials_off", "radio_card_not_home")
    assert total_anywhere(only_theirs, *card) > 2 * only_theirs["network_settings_bad"]
    assert both["network_settings_bad"] > total_anywhere(both, *card)


# Normal


@pytest.mark.parametrize("fault", NORMAL)
def test_what_is_normal_is_said_to_be_so_and_does_not_keep_the_machine_here(fault: str) -> None:
    found = BOOK.faults[fault]
    assert found.is_normal
    assert not found.matters
    assert len(found.owner_says.split()) >= 10


def test_twenty_things_that_are_normal_have_a_sentence_for_the_owner() -> None:
    assert sum(fault.is_normal for fault in BOOK.faults.values()) >= 20


def test_a_screen_that_comes_back_at_a_key_saves_power_and_one_that_does_not_hangs_in_its_sleep() -> None:
    well = "run: {load: all, minutes: 60, reached: log_in, stop: none, of: 2}"
    back = weigh_log(well, shows("dark_until_key", minutes="20"), machine=M2, complaint="slow_noisy_other")
    hangs = weigh_log(well, shows("sleep_no_wake", minutes="20"), machine=M2, complaint="slow_noisy_other")
    assert back["screen_saves_power"] > 3 * total_anywhere(back, "sleep_hangs", *DRIVERS)
    assert hangs["sleep_hangs"] > 5 * hangs["screen_saves_power"]


def test_fewer_gigabytes_than_printed_are_a_way_of_counting_unless_a_stretch_is_unused() -> None:
    fewer = shows("smaller_than_printed")
    counted = weigh_log(fewer, seen("drive_parts.1", "fine"), machine=M2)
    unused = weigh_log(fewer, seen("drive_parts.1", "room_unused"), machine=M2, told="[new_drive]")
    assert total_anywhere(counted, "gigabytes_counted_otherwise") > 5 * counted["room_not_grown"]
    assert unused["room_not_grown"] > total_anywhere(unused, "gigabytes_counted_otherwise") / 2
