"""The trade's own rules of evidence, kept on the shipped book by the fold and the engine together."""

import pytest
from folding import weigh_log

NO_PICTURE = "run: {output: card, picture: none, reached: self_test, signs: {caps_lock_answers: yes}, of: 2}"
DOES_NOT_START = "run: {not: starts, started_by: pins, of: 2}"
STARTS_WITH_OURS = "run: {with: {supply: shelf.supply_a}, reached: log_in, started_by: pins, of: 2}"


def test_a_pass_in_the_bench_machine_clears_the_part_and_not_its_slot():
    lent = "setup: {on: bench, card: owner}"
    passed = "run: {on: bench, output: card, picture: yes, reached: log_in, of: 3}"
    before, after = weigh_log(NO_PICTURE, lent), weigh_log(NO_PICTURE, lent, passed)
    assert after["card_dead_or_failing"] < 0.2 * before["card_dead_or_failing"]
    assert after["card_not_home"] > before["card_not_home"]
    assert after["card_power_plug_half_in"] > before["card_power_plug_half_in"]


def test_silence_with_the_memory_out_accuses_what_comes_before_memory():
    stops = "run: {not: memory_passes, picture: none, signs: {fans_turn: yes}}"
    setup = "memory: out, speaker: shelf.speaker_bench"
    out = f"run: {{{{with: {{{{{setup}}}}}, not: memory_passes, signs: {{{{memory_complaint: {{}}}}}}}}}}"
    silent, loud = weigh_log(stops, out.format("no")), weigh_log(stops, out.format("yes"))
    for early in ("board_dead", "cpu_power_plug_half_in", "processor_dead"):
        assert silent[early] > 2 * loud[early]
    for late in ("memory_module_bad@memory.1", "memory_not_home@memory.1"):
        assert silent[late] < 0.5 * loud[late]


def test_a_cure_by_swap_splits_between_part_and_contact_until_the_suspect_is_put_back():
    cured = weigh_log(DOES_NOT_START, STARTS_WITH_OURS, "setup: {supply: shelf.supply_a}")
    contact_before = cured["main_power_plug_half_in"] + cured["board_state_stuck"]
    back_and_bad = weigh_log(DOES_NOT_START, STARTS_WITH_OURS, DOES_NOT_START)
    back_and_well = weigh_log(DOES_NOT_START, STARTS_WITH_OURS, "run: {reached: log_in, started_by: pins, of: 2}")
    assert 0.5 < cured.held("owner.supply") < 0.9
    assert contact_before > 0.0
    assert back_and_bad.held("owner.supply") > 0.95
    assert back_and_well.held("owner.supply") < 0.05


def test_a_lead_out_is_credited_for_a_cure_by_swap():
    stuck = weigh_log(DOES_NOT_START)["board_state_stuck"]
    assert weigh_log(DOES_NOT_START, STARTS_WITH_OURS)["board_state_stuck"] < 0.05 * stuck


def test_a_corrected_entry_weighs_as_if_it_had_been_right_all_along():
    load = "run: {load: card, reached: log_in, stop: {resets: 5 min}, of: 2}"
    wrong = "measure: {at: rail_12v, volts: 11.0, load: card, id: sag}"
    right = "measure: {at: rail_12v, volts: 11.95, load: card, id: sag}"
    run = "run: {reached: log_in}"
    corrected = weigh_log(load, wrong, run, "correct: {entry: sag, volts: 11.95}")
    assert corrected.posterior.log_p == pytest.approx(weigh_log(load, right, run).posterior.log_p, abs=1e-9)
    assert corrected["supply_sags_under_load"] < weigh_log(load, wrong, run)["supply_sags_under_load"]


def test_told_words_are_soft():
    told = weigh_log(told="[{not: starts, always: yes}]")
    seen = weigh_log("run: {not: starts, of: 2}")
    well = "run: {reached: log_in, stop: none, minutes: 30, of: 3}"
    assert told["supply_no_standby"] < seen["supply_no_standby"]
    assert weigh_log(well, told="[{not: starts, always: yes}]").posterior.log_p > -20


def test_a_guess_moves_less_than_what_somebody_is_sure_of():
    p = [
        weigh_log(told=f"[{{stop: resets, load: games, sure: {sure}}}]")["supply_sags_under_load"]
        for sure in ("guess", "fairly")
    ]
    assert weigh_log()["supply_sags_under_load"] < p[0] < p[1]


def test_no_beep_from_a_dead_machine_clears_nothing():
    plain = weigh_log("run: {not: starts, of: 2}", machine="{speaker: yes}")
    silent = weigh_log(
        "run: {not: starts, signs: {memory_complaint: no, self_test_beep: no}, of: 2}", machine="{speaker: yes}"
    )
    for root in plain.folded.evidence.roots:
        assert silent[root.id] == pytest.approx(plain[root.id], abs=1e-9)


def test_a_start_at_its_pins_does_not_clear_a_supply_that_sags():
    load = "run: {load: card, reached: log_in, stop: {resets: 5 min}, of: 2}"
    tried = "run: {on: supply_alone, with: {supply: owner}, started_by: supply_pins, reached: rails_good}"
    before, after = weigh_log(load), weigh_log(load, tried)
    assert after["supply_sags_under_load"] == pytest.approx(before["supply_sags_under_load"], rel=0.02)
    assert after["supply_no_standby"] < 0.7 * before["supply_no_standby"]


def test_what_the_work_made_is_suspected_after_an_opening_that_makes_it():
    starts, dead = "run: {reached: log_in, started_by: front}", "run: {not: starts, started_by: front}"
    untouched = weigh_log(starts, dead)
    opened = weigh_log(starts, "inspect: {at: back_of_board, seen: fine}", dead)
    assert untouched["front_leads_off"] < 0.05
    assert opened["front_leads_off"] > 0.3
    assert opened["supply_no_standby"] < 0.5 * untouched["supply_no_standby"]


def test_a_second_look_with_the_same_eyes_is_no_second_proof():
    run = "run: {not: processor_runs, signs: {fans_turn: yes}, of: 2}"
    look = "inspect: {{at: cpu_power_plug, tool: {}, seen: fine}}"
    once = weigh_log(run, look.format("eye"))["cpu_power_plug_half_in"]
    twice = weigh_log(run, look.format("eye"), look.format("eye"))["cpu_power_plug_half_in"]
    glass = weigh_log(run, look.format("eye"), look.format("glass"))["cpu_power_plug_half_in"]
    assert glass < twice < once
    assert once - twice < 0.5 * (once - glass)


def test_a_rail_without_volts_does_not_accuse_the_supply_of_a_machine_that_has_no_mains():
    dead = "run: {not: standby_power, of: 2}"
    before, after = weigh_log(dead), weigh_log(dead, "measure: {at: rail_5vsb, volts: 0.02}")
    assert after["mains_plug_off"] > 0.5 * before["mains_plug_off"]
    assert after["mains_lead_bad"] > 0.5 * before["mains_lead_bad"]


def test_two_faults_are_no_surprise_where_one_cure_did_not_end_it():
    load = "run: {{load: {}, reached: log_in, stop: {{{}: 5 min}}, of: 2}}"
    weighed = weigh_log(
        load.format("card", "resets"),
        "inspect: {at: card_power_plug, seen: half_in}",
        "repair: {do: reseat, at: card_power_plug}",
        "run: {load: card, reached: log_in, stop: none, minutes: 30, of: 3}",
        load.format("processor", "cuts_out"),
        "inspect: {at: cooler, seen: clogged}",
    )
    assert weighed["card_power_plug_half_in"] < 0.05
    assert weighed["cooler_clogged"] > 0.7


@pytest.mark.parametrize(
    ("complaint", "leading"),
    [
        ("nothing_happens", ("supply_no_standby", "supply_does_not_start", "board_dead")),
        ("lights_no_picture", ("board_dead", "wrong_output", "memory_not_home@memory.1")),
        ("picture_then_stops", ("system_damaged", "drive_failing@drive.1")),
    ],
)
def test_a_class_of_complaint_raises_what_leads_to_it(complaint, leading):
    plain, complained = weigh_log(), weigh_log(complaint=complaint)
    for root in leading:
        assert complained[root] > 1.5 * plain[root]


def test_no_machine_is_brought_in_without_a_reason():
    nothing = weigh_log()
    roots = nothing.folded.evidence.roots
    there = nothing.posterior.samples(4000).states > 0
    reasons = [n for n, root in enumerate(roots) if "brought_in" in root.acts]
    assert there[:, reasons].any(axis=1).all()
    properties = ["board_outputs_off_with_card", "dust_inside_normal", "no_lamps_normal", "no_own_picture_normal"]
    assert sorted(roots[n].id for n in range(len(roots)) if n not in reasons) == properties
