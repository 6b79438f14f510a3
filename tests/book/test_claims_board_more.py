"""What a technician would nod at, of the board, its battery, the processor and its cooling.

All claims: common practice, no source, but where a publication is named beside it.
"""

import pytest
from folding import BOOK, total, weigh_log

BUILT = "{kind: built, supply_shape: standard, cooling: air, card: {}, memory: [8, 8]}"
MADE = "{kind: ready_made, supply_shape: standard, cooling: air, memory: [8, 8]}"
LIQUID = "{kind: built, supply_shape: standard, cooling: liquid, card: {}, memory: [8, 8]}"
PLAIN = "{kind: built, supply_shape: standard, cooling: air, own_picture: there, memory: [8, 8]}"
DEAD = "run: {not: starts, started_by: front, of: 2}"
TURNS = "run: {not: processor_runs, signs: {fans_turn: yes}, of: 2}"
HOT = "run: {load: processor, reached: log_in, stop: none, signs: {processor_hot: yes, slow_under_load: yes}, of: 2}"
SLOW_COOL = (
    "run: {load: processor, reached: log_in, stop: none, signs: {slow_under_load: yes, processor_hot: no}, of: 2}"
)
FAN_SAID = "run: {not: boot_drive, signs: {fan_message: yes, waits_for_key: yes}, of: 2}"
CLOCK = "run: {lead_out: 8 h, reached: log_in, signs: {clock_wrong: yes}, of: 2}"


# Heat


@pytest.mark.parametrize(
    ("seen", "accused", "cleared"),
    [
        (
            "cool_beside_hot_reading",
            ("cooler_badly_seated", "cooler_mount_broken", "paste_dry", "paste_broken_open", "board_sensor_wrong"),
            ("cooler_clogged", "processor_fan_dead", "processor_fan_blocked", "cooler_too_small"),
        ),
        (
            "hot_all_over",
            (
                "cooler_clogged",
                "processor_fan_dead",
                "processor_fan_blocked",
                "cooler_too_small",
                "fan_curve_too_quiet",
            ),
            ("cooler_badly_seated", "cooler_mount_broken", "paste_dry", "board_sensor_wrong"),
        ),
    ],
    ids=["contact", "air"],
)
def test_a_finger_on_the_cooler_tells_contact_from_air(
    seen: str, accused: tuple[str, ...], cleared: tuple[str, ...]
) -> None:
    before = weigh_log(HOT, machine=BUILT)
    after = weigh_log(HOT, f"inspect: {{at: cooler_warmth, tool: fingers, seen: {seen}}}", machine=BUILT)
    assert total(after, *accused) > total(before, *accused)
    assert total(after, *accused) > 5 * total(after, *cleared)
    assert total(after, *cleared) < 0.5 * total(before, *cleared)


def test_off_within_seconds_under_a_cooler_that_turns_is_contact() -> None:
    off = "run: {load: processor, reached: log_in, stop: {cuts_out: 12 s}, signs: {processor_hot: yes}, of: 2}"
    turns = weigh_log(off, "inspect: {at: cooler_nudged, tool: fingers, seen: turns}", machine=BUILT)
    firm = weigh_log(off, "inspect: {at: cooler_nudged, tool: fingers, seen: fine}", machine=BUILT)
    assert turns["cooler_badly_seated"] > 0.8
    assert firm["cooler_badly_seated"] < 0.7 * turns["cooler_badly_seated"]
    # Firm says nothing of dust.
    assert firm["cooler_clogged"] > turns["cooler_clogged"]


def test_a_hot_reading_over_a_cold_machine_is_the_sensor() -> None:
    log = (
        "run: {cold: yes, reached: log_in, stop: none, signs: {processor_hot: yes, fans_full: yes}, of: 2}",
        "measure: {at: cpu_temp_idle, celsius: 108}",
        "inspect: {at: cooler_nudged, tool: fingers, seen: fine}",
        "inspect: {at: cooler_warmth, tool: fingers, seen: cool_beside_hot_reading}",
    )
    fitted = weigh_log(*log, machine=BUILT)
    renewed = weigh_log(*log, "repair: refit_cooler", log[0], machine=BUILT)
    assert renewed["board_sensor_wrong"] >= fitted["board_sensor_wrong"]
    assert renewed["board_sensor_wrong"] > 0.8


def test_slow_under_load_with_a_cool_processor_asks_the_regulators() -> None:
    before = weigh_log(SLOW_COOL, machine=LIQUID)
    hot = weigh_log(SLOW_COOL, "measure: {at: board_temp, celsius: 121, load: processor}", machine=LIQUID)
    cool = weigh_log(SLOW_COOL, "measure: {at: board_temp, celsius: 74, load: processor}", machine=LIQUID)
    assert hot["board_regulators_hot"] > 0.7
    assert cool["board_regulators_hot"] < 0.3 * before["board_regulators_hot"]


def test_a_new_processor_under_the_old_cooler_is_arithmetic() -> None:
    small = "inspect: {at: cooler_size, tool: software, seen: too_small}"
    enough = "inspect: {at: cooler_size, tool: software, seen: fine}"
    assert weigh_log(HOT, small, told="[new_processor]", machine=BUILT)["cooler_too_small"] > 0.8
    assert weigh_log(HOT, enough, told="[new_processor]", machine=BUILT)["cooler_too_small"] < 0.15


def test_quiet_fans_that_were_told_to_be_quiet_are_not_worn() -> None:
    slow = "inspect: {at: fan_settings, tool: photo, seen: too_slow}"
    weighed = weigh_log(HOT, slow, told="[settings_changed]", machine=BUILT)
    assert weighed["fan_curve_too_quiet"] > 0.8
    assert weighed["processor_fan_dead"] < 0.02


def test_a_fan_message_is_fan_header_or_signal_and_a_meter_with_our_fan_tells_which() -> None:
    still = FAN_SAID.replace("fan_message: yes", "fan_message: yes, processor_fan_still: yes")
    turns = FAN_SAID.replace("fan_message: yes", "fan_message: yes, processor_fan_still: no")
    no_volts = weigh_log(still, "measure: {at: fan_header_volts, volts: 0.0}", machine=BUILT)
    volts = weigh_log(still, "measure: {at: fan_header_volts, volts: 12.1}", machine=BUILT)
    plugged = "inspect: {at: cooler_fan_plug, tool: torch, seen: fine}"
    signal = weigh_log(turns, plugged, "measure: {at: fan_header_volts, volts: 12.1}", machine=BUILT)
    fan_or_plug = ("processor_fan_dead", "processor_fan_unplugged", "processor_fan_blocked")
    assert no_volts["board_fan_header_dead"] > 0.8
    assert total(volts, *fan_or_plug) > 10 * volts["board_fan_header_dead"]
    assert signal["fan_speed_signal_lost"] > 0.4
    assert signal["fan_speed_signal_lost"] > signal["processor_fan_unplugged"]


# Start and settings


def test_a_cap_left_on_the_clearing_pins_is_looked_for_after_a_reset_before_the_board_is_blamed() -> None:
    on_pins = "inspect: {at: board_jumpers, tool: torch, seen: on_reset}"
    found = weigh_log(DEAD, on_pins, told="[settings_reset]", machine=BUILT)
    clear = weigh_log(DEAD, on_pins.replace("on_reset", "fine"), told="[settings_reset]", machine=BUILT)
    assert found["reset_jumper_left_on"] > 0.75  # entered wrongly three times in a thousand (NUREG/CR-1278)
    assert found["board_dead"] < 0.5 * clear["board_dead"]


def test_a_new_battery_that_is_flat_again_is_the_boards_doing() -> None:
    """A CR2032 of 220 mAh lasts five years at 5 microampere; 10 mV across 10 kilohm are 1 microampere."""
    drains = weigh_log(CLOCK, "repair: replace_cell", CLOCK, "measure: {at: cell_drain, volts: 0.9}", machine=MADE)
    sound = weigh_log(CLOCK, "measure: {at: cell_volts, volts: 1.9}", machine=MADE)
    quiet = weigh_log(
        CLOCK, "measure: {at: cell_volts, volts: 1.9}", "measure: {at: cell_drain, volts: 0.05}", machine=MADE
    )
    assert drains["cell_drained_by_board"] > 0.7
    assert sound["cell_flat"] > 0.9
    assert quiet["cell_drained_by_board"] < sound["cell_drained_by_board"]


def test_a_warm_night_with_the_lead_out_tells_cold_from_lead_out() -> None:
    cold = "run: {cold: yes, lead_out: 10 h, not: starts, of: 2}"
    runs = "run: {cold: no, lead_out: 10 h, started_by: front, reached: log_in, stop: none, of: 3}"
    same = "run: {cold: no, lead_out: 10 h, started_by: front, not: starts, of: 3}"
    between = "run: {cold: no, lead_out: no, reached: log_in, of: 3}"
    warm, out = (weigh_log(between, cold, night, machine=BUILT) for night in (runs, same))
    fails_cold = ("supply_does_not_start", "board_dead", "board_capacitors_aged", "corroded")
    assert total(warm, *fails_cold) > 2 * total(out, *fails_cold)
    assert out["supply_no_standby"] > 2 * warm["supply_no_standby"]


def test_a_picture_that_went_to_the_other_socket_after_a_change_of_settings_is_a_setting() -> None:
    dark = "run: {output: card, picture: none, reached: log_in, of: 2}"
    other = "inspect: {at: output_choice, tool: photo, seen: other_output}"
    weighed = weigh_log(dark, other, told="[settings_changed]", machine=BUILT)
    assert weighed["output_choice_wrong"] > 0.7
    assert weighed["card_dead_or_failing"] < 0.2


def test_a_processor_that_is_in_no_list_is_not_flashed_for() -> None:
    not_listed = "inspect: {at: processor_list, tool: software, seen: not_listed}"
    told = "[new_processor]"
    before = weigh_log(TURNS, told=told, machine=BUILT)
    weighed = weigh_log(TURNS, not_listed, told=told, machine=BUILT)
    assert weighed["processor_not_accepted"] > 0.5
    assert weighed["firmware_too_old"] < 0.6 * before["firmware_too_old"]


# Processor and memory


def test_good_modules_that_fail_in_every_slot_accuse_the_processors_memory_side_or_the_settings() -> None:
    errors = "run: {load: memory, reached: log_in, signs: {memory_test_errors: yes}, of: 2}"
    ours = "with: {memory.1: shelf.memory_ddr4, memory.2: out}"
    again = f"run: {{{ours}, load: memory, reached: log_in, signs: {{memory_test_errors: yes}}, of: 2}}"
    clean = f"run: {{{ours}, load: memory, reached: log_in, signs: {{memory_test_errors: no}}, of: 2}}"
    machine = "{kind: built, memory_type: ddr4, cooling: air, memory: [8, 8]}"
    standard = "inspect: {at: settings_page, tool: photo, seen: fine}"
    fails, runs = (weigh_log(errors, standard, run, machine=machine) for run in (again, clean))
    assert fails["processor_memory_side_weak"] > 3 * runs["processor_memory_side_weak"]
    assert total(fails, "memory_module_bad@memory.1", "memory_module_bad@memory.2") < 0.3
    assert total(runs, "memory_module_bad@memory.1", "memory_module_bad@memory.2") > 0.4


def test_stripes_on_the_boards_own_socket_that_a_small_card_cures_are_the_processors_graphics() -> None:
    out = "setup: {card: out, output: board}"
    stripes = "run: {output: board, picture: yes, reached: log_in, signs: {artefacts: yes}, of: 2}"
    small = "with: {card: shelf.card_small}, output: card"
    card = f"run: {{{small}, picture: yes, reached: log_in, signs: {{artefacts: no}}, of: 3}}"
    before, after = weigh_log(out, stripes, machine=PLAIN), weigh_log(out, stripes, card, machine=PLAIN)
    assert after["processor_graphics_dead"] > before["processor_graphics_dead"]
    assert after["processor_graphics_dead"] > 0.3


def test_wrong_answers_without_a_stop_are_the_processor_once_memory_and_profile_are_clear() -> None:
    wrong = "run: {load: processor, reached: log_in, stop: none, signs: {program_crashes: yes}, of: 2}"
    memory = "run: {load: memory, minutes: 600, reached: log_in, signs: {memory_test_errors: no}, of: 2}"
    standard = "inspect: {at: settings_page, tool: photo, seen: fine}"
    stick = "with: {drive: out, stick: shelf.start_stick}, "
    log = (wrong.replace("{load", f"{{{stick}load"), memory, standard)
    weighed = weigh_log(*log, machine=BUILT)
    suspects = ("processor_unstable", "unlisted_processor", "supply_ripple", "processor_memory_side_weak")
    assert weighed["processor_unstable"] == max(weighed[suspect] for suspect in suspects)
    assert weighed["memory_module_bad@memory.1"] < 0.1


# Liquid, transport, work


def test_a_crust_at_a_fitting_is_a_leak_that_has_not_made_a_puddle() -> None:
    warm = "run: {load: processor, reached: log_in, stop: none, signs: {pump_gurgles: yes}, of: 2}"
    crust = weigh_log(warm, "inspect: {at: coolant_trace, tool: torch, seen: crust}", machine=LIQUID)
    dry = weigh_log(warm, "inspect: {at: coolant_trace, tool: torch, seen: fine}", machine=LIQUID)
    assert crust["liquid_leaks"] > 0.9
    assert dry["liquid_leaks"] < 0.2


def test_a_bright_line_in_a_parcelled_board_is_a_crack() -> None:
    stops = "run: {reached: log_in, stop: {freezes: 1 h}, of: 2}"
    line = weigh_log(
        stops, "inspect: {at: board_backlit, tool: glass, seen: crack}", told="[sent_by_courier]", machine=BUILT
    )
    none = weigh_log(
        stops, "inspect: {at: board_backlit, tool: glass, seen: fine}", told="[sent_by_courier]", machine=BUILT
    )
    assert line["transport_broke_board"] > 0.7
    assert none["transport_broke_board"] < 0.2 * line["transport_broke_board"]


def test_a_board_that_is_dead_only_since_it_was_washed_gets_a_day_of_air_before_it_is_replaced() -> None:
    stops = "run: {not: processor_runs, of: 2}"
    bent = "inspect: {at: processor_seat, tool: glass, seen: dirt}"
    weighed = weigh_log("run: {reached: log_in}", bent, "repair: clean_socket", stops, machine=BUILT)
    dried = weigh_log(
        "run: {reached: log_in}", bent, "repair: clean_socket", stops, "repair: let_it_dry", stops, machine=BUILT
    )
    assert weighed["cleaned_not_dry"] > weighed["board_dead"]
    assert dried["cleaned_not_dry"] < 0.3 * weighed["cleaned_not_dry"]


def test_one_device_is_a_fault_and_three_are_a_surge() -> None:
    alone = weigh_log(DEAD, told="[storm, {event: other_devices_died, happened: no}]", machine=BUILT)
    others = weigh_log(DEAD, told="[storm, other_devices_died]", machine=BUILT)
    assert others["surge"] > 1.3 * alone["surge"]


@pytest.mark.parametrize(
    "repair",
    ["watch_it", "leave_ups_out", "let_it_dry", "ignore_fan_speed", "refer_electrician", "leave_module_out"],
)
def test_doing_little_is_a_repair_with_its_own_recheck_or_somebody_elses(repair: str) -> None:
    found = BOOK.repairs[repair]
    assert found.does in ("watch", "leave_off", "clean", "set", "refer")
    assert found.recheck in BOOK.checks or found.does == "refer"
    assert any(cure.repair == repair for fault in BOOK.faults.values() for cure in fault.cures)
