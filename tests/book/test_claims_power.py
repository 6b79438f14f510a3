"""What a technician would nod at, from no power to no picture, kept on the shipped book by the fold and the engine.

All claims: common practice, no source.
"""

import pytest
from folding import Suspicions, total, weigh_log

BUILT = "{kind: built, card: {}, memory: [8, 8]}"
NO_PICTURE = "run: {output: card, picture: none, reached: self_test, signs: {caps_lock_answers: yes}, of: 2}"
DEAD = "run: {not: starts, started_by: front, of: 2}"
NO_STANDBY_SUPPLY = ("supply_no_standby", "supply_input_shorted", "outside_supply_dead")
NO_STANDBY = "run: {not: standby_power, of: 2}"
FLICK = "run: {not: rails_good, stop: cuts_out, signs: {fans_twitch: yes}, of: 2}"
TURNS = "run: {not: processor_runs, signs: {fans_turn: yes}, of: 2}"
OFF_IN_GAMES = "run: {load: card, reached: log_in, stop: {cuts_out: 5 min}, of: 2}"
RESETS_IN_GAMES = "run: {load: card, reached: log_in, stop: {resets: 5 min}, of: 2}"
LONG_AND_WARM = "run: {load: all, minutes: 60, cold: no, reached: log_in, stop: none}"
FRONT_OFF = "with: {front_panel: out, front_usb: out}, started_by: pins"


def rose(before: Suspicions, after: Suspicions, *roots: str, by: float = 1.0) -> bool:
    return all(after[root] > by * before[root] for root in roots)


def fell(before: Suspicions, after: Suspicions, *roots: str, to: float = 1.0) -> bool:
    return all(after[root] < to * before[root] for root in roots)


# How a run ends


@pytest.mark.parametrize(
    ("ending", "leads", "trails"),
    [
        (
            "not: rails_good, stop: cuts_out",
            ("standoff_shorts", "board_dead"),
            ("front_switch_stuck", "cooler_clogged"),
        ),
        (
            "not: log_in, stop: {cuts_out: 5 s}",
            ("front_switch_stuck",),
            ("cooler_clogged", "board_dead", "supply_sags_under_load"),
        ),
        (
            "not: log_in, stop: {cuts_out: 40 s}, signs: {heat_complaint: yes}",
            ("cooler_badly_seated", "cooler_clogged"),
            ("front_switch_stuck", "standoff_shorts", "supply_does_not_start"),
        ),
        (
            "load: card, reached: log_in, stop: {cuts_out: 5 min}",
            ("supply_sags_under_load",),
            ("front_switch_stuck", "standoff_shorts", "supply_does_not_start"),
        ),
    ],
    ids=["a flick is a short", "five seconds are a held button", "a minute is the cooler", "only under load"],
)
def test_how_a_run_ends_separates_causes(ending: str, leads: tuple[str, ...], trails: tuple[str, ...]) -> None:
    plain, ended = weigh_log(machine=BUILT), weigh_log(f"run: {{{ending}, of: 2}}", machine=BUILT)
    assert rose(plain, ended, *leads, by=3)
    assert min(ended[root] for root in leads) > max(ended[root] for root in trails)


def test_what_starts_again_only_after_the_lead_was_out_is_a_supply_that_trips() -> None:
    off, latched = (
        weigh_log(f"run: {{load: card, reached: log_in, stop: {{cuts_out: 5 min}}, signs: {{needs_lead_out: {so}}}}}")
        for so in ("no", "yes")
    )
    assert latched.held("owner.supply") > off.held("owner.supply")
    assert latched.held("owner.supply") > 0.7
    assert fell(off, latched, "cooler_clogged", "card_power_plug_half_in")


def test_picture_lost_but_alive_accuses_the_card_and_a_cut_off_the_supply() -> None:
    lost = weigh_log("run: {load: card, reached: log_in, stop: none, signs: {picture_lost_alive: yes}, of: 2}")
    off = weigh_log(OFF_IN_GAMES)
    card = ("card_dead_or_failing", "card_not_home", "card_power_plug_half_in")
    assert total(lost, *card) > 5 * total(off, *card)
    assert off["supply_sags_under_load"] > 5 * lost["supply_sags_under_load"]


# From the wall


def test_no_watts_at_the_wall_accuse_lead_outlet_switch_and_supply() -> None:
    before = weigh_log(NO_STANDBY)
    after = weigh_log(NO_STANDBY, "measure: {at: wall_watts_off, watts: 0.0}")
    mains = ("outlet_dead", "mains_lead_bad", "lead_fuse_blown", "mains_plug_off")
    assert total(after, *mains, *NO_STANDBY_SUPPLY) > 0.8
    assert fell(before, after, "main_power_plug_half_in")


def test_stuck_at_few_watts_accuses_what_keeps_the_processor_from_running() -> None:
    stuck = weigh_log(TURNS, "measure: {at: wall_watts_on, watts: 24}")
    normal = weigh_log(TURNS, "measure: {at: wall_watts_on, watts: 70}")
    assert stuck["cpu_power_plug_half_in"] > 2 * normal["cpu_power_plug_half_in"]
    assert stuck["board_dead"] > normal["board_dead"]


def test_our_outlet_and_lead_clear_the_mains_side_and_nothing_behind_it() -> None:
    ours = "run: {with: {outlet: shelf.outlet_bench, mains_lead: shelf.mains_lead_bench}, not: standby_power, of: 2}"
    before, after = weigh_log(NO_STANDBY), weigh_log(NO_STANDBY, ours)
    assert fell(before, after, "outlet_dead", "mains_lead_bad", to=0.1)
    assert rose(before, after, "supply_no_standby", "main_power_plug_half_in")


def test_what_runs_with_all_outside_cables_off_is_held_down_from_outside() -> None:
    off = "with: {usb_device: out, network_lead: out, headset: out, mouse: out, keyboard: out, video_cable: out}"
    stands = "run: {not: self_test, signs: {fans_turn: yes}, of: 4}"
    runs = weigh_log(stands, f"run: {{{off}, reached: self_test, of: 5}}", stands)
    same = weigh_log(stands, f"run: {{{off}, not: self_test, signs: {{fans_turn: yes}}, of: 4}}")
    outside = ("power_fed_back", "usb_device_stalls", "unlisted_usb_device", "unlisted_mouse", "unlisted_keyboard")
    assert total(runs, *outside) > 0.5
    assert total(same, *outside) < 0.02


# Supplies


def test_a_supply_fan_that_stands_still_without_load_accuses_nothing() -> None:
    alone = "run: {{on: supply_alone, with: {{supply: owner}}, started_by: supply_pins, reached: rails_good{}}}"
    turned = weigh_log(DEAD, alone.format(""))
    still = weigh_log(DEAD, alone.format(", signs: {supply_fan_turns: no}"))
    assert still.held("owner.supply") == pytest.approx(turned.held("owner.supply"), abs=0.05)


def test_volts_at_idle_clear_no_supply_that_gives_way_under_load() -> None:
    before = weigh_log(RESETS_IN_GAMES)
    idle = weigh_log(RESETS_IN_GAMES, "measure: {at: rail_12v, volts: 12.05}")
    loaded = weigh_log(RESETS_IN_GAMES, "measure: {at: rail_12v, volts: 12.05, load: card}")
    low = weigh_log(RESETS_IN_GAMES, "measure: {at: rail_12v, volts: 11.1, load: card}")
    assert idle["supply_sags_under_load"] == pytest.approx(before["supply_sags_under_load"], rel=0.02)
    assert 0.3 * before["supply_sags_under_load"] < loaded["supply_sags_under_load"] < before["supply_sags_under_load"]
    assert low["supply_sags_under_load"] > before["supply_sags_under_load"]


def test_a_short_cold_pass_says_little_of_a_supply_that_trips_warm() -> None:
    told = "[{stop: {cuts_out: 1 h}, load: games}]"
    before = weigh_log(told=told)
    short = weigh_log("run: {load: all, minutes: 5, cold: yes, reached: log_in}", told=told)
    long = weigh_log(LONG_AND_WARM, LONG_AND_WARM, told=told)
    assert short["supply_sags_under_load"] > 0.5 * before["supply_sags_under_load"]
    assert long["supply_sags_under_load"] < 0.5 * short["supply_sags_under_load"]


def test_a_good_supply_that_fails_the_same_clears_theirs_and_its_leads() -> None:
    ours = "run: {with: {supply: shelf.supply_a}, not: rails_good, stop: cuts_out, signs: {fans_twitch: yes}, of: 2}"
    machine = "{kind: built, supply_leads: modular, card: {}, memory: [8, 8]}"
    before, after = weigh_log(FLICK, machine=machine), weigh_log(FLICK, ours, machine=machine)
    assert fell(before, after, "supply_does_not_start", "wrong_modular_lead", to=0.1)
    assert rose(before, after, "board_dead", by=2)


def test_a_short_to_ground_accuses_the_part_that_it_was_measured_on() -> None:
    at_board = weigh_log(FLICK, "measure: {at: short_cpu_12v, ohms: 0.6}", machine=BUILT)
    at_card = weigh_log(FLICK, "measure: {at: short_card_12v, ohms: 0.6}", machine=BUILT)
    assert at_board["board_dead"] > 0.7
    assert at_card["card_dead_or_failing"] > 0.7
    assert max(at_board["supply_does_not_start"], at_card["supply_does_not_start"]) < 0.1


def test_kept_modular_leads_are_asked_for_before_a_new_supply_is_blamed() -> None:
    machine = "{kind: built, supply_leads: modular, card: {}, memory: [8, 8]}"
    kept = weigh_log(FLICK, told="[new_supply, leads_kept]", machine=machine)
    bagged = weigh_log(FLICK, told="[new_supply, {event: leads_kept, happened: no}]", machine=machine)
    assert kept["wrong_modular_lead"] > 0.8
    assert bagged["wrong_modular_lead"] < kept["wrong_modular_lead"]
    assert bagged["supply_does_not_start"] > 2 * kept["supply_does_not_start"]


def test_a_new_supply_that_does_not_cure_is_rarely_bad_itself() -> None:
    """New parts are 1 to 3 % bad on arrival."""
    weighed = weigh_log(DEAD, "repair: {do: replace, at: supply}", DEAD)
    assert 0.005 < weighed["bad:new.supply.1"] < 0.1
    assert weighed["board_dead"] > 3 * weighed["bad:new.supply.1"]


# Front leads and the case


def test_two_minutes_with_the_front_leads_off_clear_or_accuse_the_front() -> None:
    before = weigh_log(DEAD, machine=BUILT)
    runs = weigh_log(DEAD, f"run: {{{FRONT_OFF}, reached: log_in, of: 2}}", DEAD, machine=BUILT)
    same = weigh_log(DEAD, f"run: {{{FRONT_OFF}, not: starts, of: 2}}", machine=BUILT)
    assert total(runs, "front_switch_stuck", "front_leads_off", "front_usb_shorted", "front_usb_misplugged") > 0.5
    # What is left is a switch that closes by itself now and then, which has nothing to do with this.
    assert fell(before, same, "front_switch_stuck", to=0.15)
    assert fell(before, same, "front_leads_off", "front_usb_shorted")
    assert rose(before, same, "supply_does_not_start", "board_dead")


def test_out_of_the_case_and_the_same_clears_standoffs_and_front_leads() -> None:
    out = f"run: {{case: out, {FRONT_OFF}, not: rails_good, stop: cuts_out, signs: {{fans_twitch: yes}}, of: 2}}"
    before, after = (weigh_log(*log, told="[newly_built]", machine=BUILT) for log in ((FLICK,), (FLICK, out)))
    assert fell(before, after, "standoff_shorts", "loose_metal_shorts", to=0.1)
    assert fell(before, after, "front_usb_shorted", "front_usb_misplugged")
    assert rose(before, after, "board_dead", "supply_does_not_start", by=2)


def test_out_of_the_case_and_well_accuses_all_that_was_left_behind_and_clears_board_and_supply() -> None:
    out = f"run: {{case: out, {FRONT_OFF}, reached: self_test, of: 2}}"
    before, after = (weigh_log(*log, told="[newly_built]", machine=BUILT) for log in ((FLICK,), (FLICK, out)))
    assert rose(before, after, "standoff_shorts")
    assert fell(before, after, "board_dead", "supply_does_not_start", to=0.3)


def test_what_works_on_the_table_and_not_in_the_case_is_a_standoff_or_a_screw() -> None:
    out = f"run: {{case: out, {FRONT_OFF}, reached: self_test, of: 2}}"
    back = f"run: {{case: in, {FRONT_OFF}, not: rails_good, stop: cuts_out, signs: {{fans_twitch: yes}}, of: 2}}"
    weighed = weigh_log(FLICK, out, back, told="[newly_built]", machine=BUILT)
    assert total(weighed, "standoff_shorts", "loose_metal_shorts", "unlisted_case") > 0.9


# Pictures


def test_picture_on_the_board_and_none_on_the_card_accuses_the_card_its_lead_its_slot_and_its_pins() -> None:
    out, board = "setup: {card: out, output: board}", "run: {output: board, picture: yes, reached: log_in}"
    before, after = weigh_log(NO_PICTURE, machine=BUILT), weigh_log(NO_PICTURE, out, board, machine=BUILT)
    accused = (
        "card_dead_or_failing",
        "card_not_home",
        "card_socket_broken",
        "card_power_plug_half_in",
        "board_card_slot_dead",
        "socket_pins_bent",
    )
    assert rose(before, after, *accused, by=1.5)
    assert total(after, *accused) > 0.7
    assert fell(before, after, "monitor_bad", "video_cable_bad", "wrong_input", to=0.3)
    for rest in ("memory_module_bad@memory.1", "processor_dead", "supply_no_standby"):
        assert after[rest] < 0.02


def test_none_on_the_board_with_a_card_in_says_little() -> None:
    dark = "run: {{{}output: board, picture: none, reached: self_test, signs: {{caps_lock_answers: yes}}}}"
    card_in = weigh_log(NO_PICTURE, dark.format(""), machine=BUILT)
    card_out = weigh_log(NO_PICTURE, dark.format("with: {card: out}, "), machine=BUILT)
    before = weigh_log(NO_PICTURE, machine=BUILT)
    assert card_in["card_dead_or_failing"] > 0.4 * before["card_dead_or_failing"]
    assert card_out["card_dead_or_failing"] < card_in["card_dead_or_failing"]


def test_better_flat_accuses_what_hangs() -> None:
    upright = (
        "run: {position: upright, load: card, reached: log_in, stop: none, signs: {picture_lost_alive: yes}, of: 2}"
    )
    flat = "run: {position: flat, load: card, reached: log_in, stop: none, signs: {picture_lost_alive: no}, of: 3}"
    before, after = weigh_log(upright), weigh_log(upright, flat)
    assert after["card_not_home"] > 2 * before["card_not_home"]
    assert fell(before, after, "card_dead_or_failing", "card_power_plug_half_in", to=0.5)


# Memory, drive, system


def test_the_memory_grid_tells_a_module_from_a_slot() -> None:
    stops = "not: memory_passes, signs: {memory_complaint: yes}"
    both = f"run: {{{stops}, of: 2}}"
    first_in_1 = "run: {{with: {{memory.2: out}}, {}}}".format
    second_in_1 = "run: {{with: {{memory.1: owner.memory.2, memory.2: out}}, {}}}".format
    first_in_2 = "run: {{with: {{memory.2: owner.memory.1, memory.1: out}}, {}}}".format
    second_in_2 = "run: {{with: {{memory.1: out}}, {}}}".format
    runs = "reached: log_in"
    module = weigh_log(both, first_in_1(runs), second_in_1(stops), first_in_2(runs), second_in_2(stops), machine=BUILT)
    slot = weigh_log(both, first_in_1(runs), second_in_1(runs), first_in_2(stops), second_in_2(stops), machine=BUILT)
    assert module["memory_module_bad@memory.2"] > 0.8
    assert total(slot, "board_memory_slot_dead", "socket_pins_bent") > 0.7
    assert slot["memory_module_bad@memory.2"] < 0.1


def test_a_cure_by_reseating_is_not_proven_by_one_start() -> None:
    fails = "run: {cold: yes, not: memory_passes, signs: {memory_complaint: yes}, failed: 2, of: 4}"
    reseated = "repair: {do: reseat, at: memory_seat.1}"
    once = weigh_log(fails, reseated, "run: {reached: log_in}")
    moved = weigh_log(
        fails,
        reseated,
        "run: {reached: log_in}",
        "run: {touched: memory, reached: log_in, stop: none, of: 2}",
        "run: {cold: yes, reached: log_in, stop: none, of: 5}",
    )
    assert once["memory_not_home@memory.1"] > 3 * moved["memory_not_home@memory.1"]


def test_good_health_figures_lower_the_suspicion_of_a_drive_and_do_not_clear_it() -> None:
    machine, told = "{drives: [mechanical], boot_drive_type: mechanical}", "[got_slower_first]"
    slow = "run: {reached: log_in, signs: {slow: yes, hangs_for_seconds: yes}, of: 2}"
    before = weigh_log(slow, machine=machine, told=told)
    after = weigh_log(slow, "inspect: {at: drive_health.1, tool: software, seen: fine}", machine=machine, told=told)
    assert 0.1 * before["drive_failing@drive.1"] < after["drive_failing@drive.1"] < before["drive_failing@drive.1"]


def test_many_different_crashes_ask_memory_before_the_drive() -> None:
    crash = "run: {reached: log_in, stop: {resets: 1 h}, signs: {error_screen: yes}, of: 2}"
    mixed = weigh_log(crash, "inspect: {at: system_records, tool: software, seen: mixed_crashes}")
    drive = weigh_log(crash, "inspect: {at: system_records, tool: software, seen: drive_errors}")
    memory = ("memory_module_bad@memory.1", "memory_module_bad@memory.2", "memory_profile_unstable")
    assert total(mixed, *memory) > 3 * total(drive, *memory)
    assert mixed["drive_failing@drive.1"] < 0.3 * drive["drive_failing@drive.1"]


def test_the_bench_stick_splits_hardware_from_drive_and_system() -> None:
    crash = "run: {reached: log_in, stop: {freezes: 30 min}, of: 3}"
    stick = "with: {drive: out, stick: shelf.start_stick}, minutes: 60"
    well = weigh_log(crash, f"run: {{{stick}, reached: log_in, stop: none, of: 3}}")
    fails = weigh_log(crash, f"run: {{{stick}, reached: log_in, stop: {{freezes: 30 min}}, of: 3}}")
    stored = ("system_damaged", "drive_failing@drive.1", "unlisted_system", "unlisted_drive@drive.1")
    assert total(well, *stored) > 2 * total(fails, *stored)
    assert fails["system_damaged"] < 0.4 * well["system_damaged"]
    assert fails["processor_unstable"] > 10 * well["processor_unstable"]


# One teller


def test_the_same_thing_told_twice_by_one_teller_is_no_second_witness() -> None:
    once = weigh_log(told="[{not: starts}]")["supply_no_standby"]
    twice = weigh_log(told="[{not: starts}, {signs: {fans_turn: no}}]")["supply_no_standby"]
    seen = weigh_log(DEAD)["supply_no_standby"]
    assert once < twice < seen
