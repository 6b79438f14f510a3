"""What a technician says of drives, systems, lock-outs and devices, asked of the shipped book by real jobs.

Common practice, no source: every claim here is a rule of the trade, and none is from a publication.
"""

import pytest
from folding import Suspicions, weigh_log

SATA, M2, MECHANICAL = "{drives: [sata]}", "{drives: [m2]}", "{drives: [mechanical], age_years: 6}"

STICK = "with: {drive: out, stick: shelf.start_stick}"
"""Our own system, with the owner's drives off."""

NO_BOOT_DRIVE = "run: {reached: self_test, not: loader, signs: {no_boot_drive_message: yes}, of: 2}"
NOT_ON_THE_PAGE = (
    "run: {reached: self_test, not: loader, signs: {no_boot_drive_message: yes, drive_missing: yes}, of: 2}"
)
ON_THE_PAGE = "run: {reached: self_test, not: loader, signs: {no_boot_drive_message: yes, drive_missing: no}, of: 2}"

SATA_DRIVE = ("ssd_gone", "ssd_failing", "ssd_read_only", "ssd_firmware_hangs")
SATA_LEADS = ("sata_lead_bad", "sata_lead_not_home", "drive_power_plug_loose", "drive_power_lead_bad")
SYSTEM = ("system_damaged", "loader_damaged", "file_system_damaged", "graphics_driver_bad", "other_driver_bad")
MEMORY = ("memory_module_bad@memory.1", "memory_module_bad@memory.2")


def total(weighed: Suspicions, faults: tuple[str, ...]) -> float:
    """Return the sum of suspicions, each of the first drive where there may be several."""
    return sum(weighed.posterior.p_now(_root(weighed, fault)) for fault in faults)


def _root(weighed: Suspicions, fault: str) -> str:
    names = {root.id for root in weighed.folded.evidence.roots}
    return fault if fault in names else f"{fault}@drive.1"


# The split between hardware and software


def test_a_stick_that_runs_with_the_drives_off_clears_memory_and_supply_and_leaves_drive_and_system():
    stops = "run: {reached: log_in, stop: {resets: 10 min}, signs: {error_screen: yes}, failed: 4, of: 5}"
    runs = f"run: {{{STICK}, reached: log_in, stop: none, minutes: 60, of: 5}}"
    before, after = weigh_log(stops, machine=SATA), weigh_log(stops, runs, machine=SATA)
    assert total(after, MEMORY) < 0.5 * total(before, MEMORY)
    assert after["supply_sags_under_load"] < before["supply_sags_under_load"]
    assert total(after, SYSTEM) > total(before, SYSTEM)
    assert total(after, (*SYSTEM, *SATA_DRIVE)) > 3 * total(after, MEMORY)


def test_a_stick_that_fails_with_the_drives_off_clears_drive_and_system():
    stops = "run: {reached: log_in, stop: {resets: 10 min}, failed: 4, of: 5}"
    fails = f"run: {{{STICK}, reached: log_in, stop: {{resets: 10 min}}, failed: 4, of: 5}}"
    before, after = weigh_log(stops, machine=SATA), weigh_log(stops, fails, machine=SATA)
    assert total(after, SYSTEM) < 0.3 * total(before, SYSTEM)
    assert after.held("owner.system") < 0.15


def test_a_picture_that_goes_with_the_driver_is_the_drivers_if_our_stick_keeps_it_and_the_cards_if_not():
    goes = "output: card, picture: {card: {self_test: yes, system: no}}, reached: log_in, of: 2"
    stays = "output: card, picture: yes, reached: log_in, of: 2"
    ours_stays = weigh_log(f"run: {{{goes}}}", f"run: {{{STICK}, {stays}}}", machine="{card: {}}")
    ours_goes = weigh_log(f"run: {{{goes}}}", f"run: {{{STICK}, {goes}}}", machine="{card: {}}")
    assert ours_stays["graphics_driver_bad"] > 5 * ours_stays["card_fails_with_driver"]
    assert ours_goes["card_fails_with_driver"] > 5 * ours_goes["graphics_driver_bad"]


def test_many_codes_ask_the_memory_first_and_one_code_each_time_asks_a_driver():
    stops = "run: {reached: log_in, stop: {resets: 20 min}, signs: {error_screen: yes}, failed: 2, of: 5}"
    look = "inspect: {{at: system_records, tool: software, seen: {}}}"
    many, one = weigh_log(stops, look.format("mixed_crashes")), weigh_log(stops, look.format("one_code"))
    assert total(many, MEMORY) > many["other_driver_bad"]
    assert one["other_driver_bad"] > total(one, MEMORY)


# Drives


@pytest.mark.parametrize(("machine", "failing"), [(SATA, "ssd_failing"), (MECHANICAL, "drive_failing")])
def test_good_health_figures_lower_the_drives_chance_and_do_not_clear_it(machine, failing):
    slow = "run: {reached: log_in, signs: {slow: yes, hangs_for_seconds: yes}, of: 2}"
    look = "inspect: {at: drive_health, tool: software, seen: fine}"
    before, after = weigh_log(slow, machine=machine), weigh_log(slow, look, machine=machine)
    name = f"{failing}@drive.1"
    odds_before, odds_after = (weighed[name] / (1.0 - weighed[name]) for weighed in (before, after))
    assert 0.1 < odds_after / odds_before < 0.7


def test_a_drive_that_is_gone_from_the_setup_page_when_warm_accuses_drive_lead_and_port_and_not_the_system():
    cold = "run: {cold: yes, reached: log_in, stop: {freezes: 20 min}}"
    warm = "run: {cold: no, load: setup_page, minutes: 30, reached: self_test, signs: {drive_missing: yes}}"
    before, after = weigh_log(cold, machine=SATA), weigh_log(cold, warm, machine=SATA)
    here = (*SATA_DRIVE, *SATA_LEADS, "board_drive_port_dead")
    assert total(after, here) > 0.8 > total(before, here)
    assert total(after, SYSTEM) < 0.5 * total(before, SYSTEM)


def test_a_drive_on_the_setup_page_that_does_not_start_accuses_loader_and_settings_and_one_that_is_not_there_does_not():
    software = ("loader_damaged", "loader_on_other_drive", "boot_order_wrong", "start_mode_wrong", "stick_left_in")
    there, missing = weigh_log(ON_THE_PAGE, machine=SATA), weigh_log(NOT_ON_THE_PAGE, machine=SATA)
    assert total(there, software) > 0.8
    assert total(missing, software) < 0.1
    assert total(missing, (*SATA_DRIVE, *SATA_LEADS)) > 0.8


def test_no_answer_in_the_dock_is_the_drive_and_good_figures_there_are_lead_plug_or_port():
    look = "inspect: {{at: drive_health, tool: software, seen: {}}}"
    dead = weigh_log(NOT_ON_THE_PAGE, look.format("dead_in_dock"), machine=SATA)
    well = weigh_log(NOT_ON_THE_PAGE, look.format("fine"), machine=SATA)
    assert dead["ssd_gone@drive.1"] > 0.9
    assert total(well, (*SATA_LEADS, "board_drive_port_dead")) > 3 * total(well, SATA_DRIVE)


def test_our_drive_on_their_lead_tells_drive_from_lead_and_port():
    ours = "run: {{with: {{drive: shelf.drive_sata}}, reached: self_test, signs: {{drive_missing: {}}}}}"
    found = weigh_log(NOT_ON_THE_PAGE, ours.format("no"), machine=SATA)
    missing = weigh_log(NOT_ON_THE_PAGE, ours.format("yes"), machine=SATA)
    assert found["board_drive_port_dead"] < 0.2 * missing["board_drive_port_dead"]
    assert found["ssd_gone@drive.1"] > 2 * missing["ssd_gone@drive.1"]


def test_no_boot_drive_since_somebody_was_in_it_is_a_plug_before_a_drive():
    opened = weigh_log(NOT_ON_THE_PAGE, machine=SATA, told="[new_supply]")
    never = weigh_log(NOT_ON_THE_PAGE, machine=SATA, told="[{event: opened_by_owner, happened: no}]")
    assert total(opened, SATA_LEADS) > 2 * total(opened, SATA_DRIVE)
    assert total(opened, SATA_DRIVE) < 0.6 * total(never, SATA_DRIVE)


def test_a_new_drive_that_is_not_found_is_looked_at_in_its_slot_before_it_is_sent_back():
    weighed = weigh_log(NOT_ON_THE_PAGE, machine=M2, told="[new_drive]")
    slot = ("m2_not_home", "m2_wrong_kind", "m2_lane_clash", "board_drive_port_dead")
    assert total(weighed, slot) > 2 * total(weighed, SATA_DRIVE)


def test_clicks_that_answer_to_a_finger_are_the_plug_and_clicks_that_nobody_touched_the_drive():
    touched = weigh_log(
        "run: {touched: drive_plugs, reached: log_in, stop: {freezes: 5 s}, signs: {drive_clicks: yes}}",
        machine=MECHANICAL,
    )
    alone = weigh_log("run: {reached: log_in, signs: {drive_clicks: yes, slow: yes}, of: 2}", machine=MECHANICAL)
    assert total(touched, SATA_LEADS) > 3 * touched["drive_failing@drive.1"]
    assert alone["drive_failing@drive.1"] > 3 * total(alone, SATA_LEADS)


def test_slow_with_good_figures_and_even_speed_is_an_old_drive_and_slow_places_are_a_failing_one():
    slow = "run: {reached: log_in, signs: {slow_start: yes, slow: yes}, of: 2}"
    good = "inspect: {at: drive_health, tool: software, seen: fine}"
    speed = "inspect: {{at: drive_speed, tool: software, seen: {}}}"
    even = weigh_log(slow, good, speed.format("slow_all_over"), machine=MECHANICAL)
    places = weigh_log(slow, good, speed.format("slow_places"), machine=MECHANICAL)
    assert even["drive_old_slow@drive.1"] > 0.9
    assert even["drive_failing@drive.1"] < 0.1
    assert places["drive_failing@drive.1"] > 0.8


def test_bad_memory_harms_the_system_with_the_drive_in_and_not_with_the_drive_off():
    errors = f"run: {{{STICK}, load: memory, minutes: 600, reached: log_in, signs: {{memory_test_errors: yes}}}}"
    drive_in = weigh_log(errors, "run: {reached: self_test, of: 20}", machine=M2)
    drive_off = weigh_log(errors, f"run: {{{STICK}, reached: self_test, of: 20}}", machine=M2)
    assert total(drive_in, MEMORY) > 0.1 < total(drive_off, MEMORY)
    assert harmed_by_memory(drive_in) > 0.01 * total(drive_in, MEMORY)
    assert harmed_by_memory(drive_off) == 0.0


def harmed_by_memory(weighed: Suspicions) -> float:
    """Return how likely it is that a bad module has harmed the owner's system."""
    return sum(
        float(p)
        for root in weighed.folded.evidence.roots
        if root.id in MEMORY
        for p, held in zip(weighed.posterior.p_states(root.id), root.held, strict=True)
        if "owner.system" in held
    )


def test_a_drive_blamed_for_odd_crashes_first_asks_the_memory():
    crashes = "run: {reached: log_in, signs: {program_crashes: yes, files_damaged: yes}, failed: 2, of: 6}"
    many = "inspect: {at: system_records, tool: software, seen: mixed_crashes}"
    good = "inspect: {at: drive_health, tool: software, seen: fine}"
    weighed = weigh_log(crashes, many, good, machine=SATA)
    assert total(weighed, MEMORY) > 2 * total(weighed, SATA_DRIVE)


# Settings and lock-outs


def test_a_key_that_is_asked_after_a_reset_accuses_the_reset_and_not_the_drive():
    machine = "{drives: [m2], drive_lock: encrypted}"
    asked = "run: {reached: loader, not: system_loads, signs: {recovery_key_asked: yes}, of: 2}"
    before = weigh_log(machine=machine, told="[settings_reset]")
    after = weigh_log(asked, machine=machine, told="[settings_reset]")
    assert after["drive_sealed"] > 0.95
    assert after.held("owner.drive.1") <= before.held("owner.drive.1")
    assert before["drive_sealed"] > 10 * weigh_log(machine=machine)["drive_sealed"]


def test_a_reset_at_the_bench_may_lock_an_encrypted_drive_and_never_an_open_one():
    repair = "repair: reset_settings"
    locked = weigh_log(repair, machine="{drive_lock: encrypted}")
    assert locked["drive_sealed"] > 0.2
    assert "drive_sealed" not in {
        root.id for root in weigh_log(repair, machine="{drive_lock: open}").folded.evidence.roots
    }


def test_an_error_at_each_start_since_a_reset_asks_the_settings_before_the_system():
    error = "run: {reached: loader, not: log_in, stop: resets, signs: {error_screen: yes}, of: 3}"
    reset, update = weigh_log(error, told="[settings_reset]"), weigh_log(error, told="[system_update]")
    assert reset["storage_mode_wrong"] > 3 * total(reset, SYSTEM)
    assert total(update, SYSTEM) > update["storage_mode_wrong"]


def test_no_boot_drive_that_comes_back_with_the_outside_off_accuses_what_was_outside():
    off = "run: {with: {usb_device: out, mouse: out, network_lead: out}, reached: log_in, of: 3}"
    before, after = weigh_log(ON_THE_PAGE, machine=M2), weigh_log(ON_THE_PAGE, off, machine=M2)
    assert after["stick_left_in"] + after["boot_order_wrong"] > 0.9
    assert after["loader_damaged"] < 0.05 < before["loader_damaged"]


# Slow, loud, asleep, without a network


def test_loud_for_nothing_on_a_cool_setup_page_is_a_program_and_on_a_hot_one_the_cooler():
    loud = "run: {reached: log_in, signs: {fans_loud_under_load: yes}, of: 2}"
    cool = weigh_log(loud, "measure: {at: cpu_temp_idle, celsius: 38}")
    hot = weigh_log(loud, "measure: {at: cpu_temp_idle, celsius: 82}")
    cooling = ("cooler_clogged", "paste_dry", "cooler_badly_seated", "liquid_blocked")
    assert cool["hidden_program"] > 2 * hot["hidden_program"]
    assert total(hot, cooling) > 3 * hot["hidden_program"]


def test_well_after_a_restart_and_not_after_a_shut_down_is_fast_start():
    fails = "run: {started_by: front, reached: loader, not: log_in, failed: 4, of: 6}"
    well = "run: {started_by: restart, reached: log_in, of: 6}"
    before, after = weigh_log(fails, machine=M2), weigh_log(fails, well, machine=M2)
    assert after["fast_start_state_bad"] > 0.5
    assert after["fast_start_state_bad"] > 4 * before["fast_start_state_bad"]
    assert total(after, SYSTEM) < 0.5 * total(before, SYSTEM)


def test_a_network_that_our_stick_has_is_set_wrong_and_one_that_it_has_not_is_lead_or_port():
    dead = "run: {reached: log_in, signs: {network_dead: yes}, of: 2}"
    ours = f"run: {{{STICK}, reached: log_in, signs: {{network_dead: "
    has, has_not = weigh_log(dead, ours + "no}}"), weigh_log(dead, ours + "yes}}")
    outside = ("network_lead_bad", "board_network_dead")
    assert has["network_settings_bad"] > 5 * total(has, outside)
    assert total(has_not, outside) > 5 * has_not["network_settings_bad"]


def test_a_weak_radio_since_a_move_has_lost_its_aerials():
    weak = "run: {reached: log_in, signs: {radio_dead: yes}, of: 2}"
    moved = weigh_log(weak, machine="{radio: {}}", told="[moved_house]")
    updated = weigh_log(weak, machine="{radio: {}}", told="[system_update]")
    assert moved["radio_aerials_off"] > 3 * moved["radio_card_bad"]
    assert updated["network_settings_bad"] > updated["radio_aerials_off"]


# Each fault leads in the story that every technician knows of it.


def _slow(*signs: str) -> str:
    return f"run: {{reached: log_in, signs: [{', '.join(signs)}], of: 2}}"


def _seen(at: str, word: str) -> str:
    return f"inspect: {{at: {at}, tool: software, seen: {word}}}"


STORIES = [
    ("ssd_read_only", M2, "[]", [_slow("changes_not_kept")]),
    ("ssd_failing", SATA, "[drive_warned]", [_slow("hangs_for_seconds"), _seen("drive_health", "failing")]),
    ("m2_too_hot", M2, "[hot_days]", ["run: {load: drive, reached: log_in, signs: [drive_hot, slow_under_load]}"]),
    ("drive_old_slow", MECHANICAL, "[]", [_slow("slow_start", "slow"), _seen("drive_health", "fine")]),
    ("drive_power_plug_loose", SATA, "[new_supply]", [NOT_ON_THE_PAGE]),
    ("drive_power_lead_bad", SATA, "[smell]", [NOT_ON_THE_PAGE, _seen("drive_power_plug", "burnt")]),
    ("m2_lane_clash", "{drives: [m2, sata]}", "[new_drive]", ["run: {reached: log_in, signs: [drive_missing], of: 2}"]),
    ("memory_too_little", M2, "[]", [_slow("slow", "hangs_for_seconds"), _seen("memory_use", "full")]),
    ("adware", M2, "[]", [_slow("pop_ups")]),
    ("programs_start_along", M2, "[]", [_slow("slow_start", "slow"), _seen("running_programs", "many")]),
    ("files_locked_for_money", M2, "[strange_attachment]", [_slow("ransom_note", "files_damaged")]),
    ("graphics_driver_missing", "{card: {}}", "[system_reinstalled]", [_slow("picture_coarse")]),
    ("other_driver_bad", M2, "[driver_update]", [_slow("sound_dead")]),
    ("file_system_damaged", SATA, "[power_cut]", [_slow("file_check_runs", "slow_start")]),
    ("loader_damaged", M2, "[]", [ON_THE_PAGE, _seen("drive_layout", "no_loader")]),
    ("loader_on_other_drive", M2, "[new_drive]", [ON_THE_PAGE, _seen("drive_layout", "loader_elsewhere")]),
    ("sleep_hangs", M2, "[driver_update]", [_slow("sleep_no_wake")]),
    ("wakes_by_device_or_timer", M2, "[]", [_slow("wakes_by_itself")]),
    ("disk_full", M2, "[]", [_slow("disk_full_message", "slow")]),
    ("profile_damaged", M2, "[bad_shutdown]", [_slow("empty_profile")]),
    ("licence_lost", M2, "[new_board]", [_slow("licence_message")]),
    ("system_unsupported", "{age_years: 11}", "[]", [_slow("updates_refused")]),
    ("password_lost", M2, "[]", ["run: {reached: system_loads, not: log_in, signs: [log_in_refused], of: 2}"]),
    ("firmware_password", M2, "[]", ["run: {reached: self_test, not: boot_drive, signs: [firmware_password_asked]}"]),
    ("boot_order_wrong", M2, "[settings_reset]", [ON_THE_PAGE]),
    ("start_mode_wrong", M2, "[firmware_update]", ["run: {reached: self_test, signs: [secure_start_message]}"]),
    ("network_lead_bad", M2, "[moved_house]", [_slow("network_dead")]),
    ("keyboard_key_held", M2, "[spill]", ["run: {reached: self_test, not: boot_drive, signs: [waits_for_key]}"]),
    ("keyboard_dead", M2, "[]", ["run: {reached: system_loads, signs: {keys_dead: yes, caps_lock_answers: no}}"]),
]


@pytest.mark.parametrize(("fault", "machine", "told", "log"), STORIES, ids=[story[0] for story in STORIES])
def test_a_fault_leads_in_its_own_story(fault, machine, told, log):
    weighed = weigh_log(*log, machine=machine, told=told)
    faults = {root.id: weighed[root.id] for root in weighed.folded.evidence.roots if "brought_in" in root.acts}
    leading = max(faults, key=lambda name: faults[name])
    assert leading.partition("@")[0] == fault
    assert faults[leading] > 0.4
