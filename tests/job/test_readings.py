"""What a report weighs, and what roots do in it."""

import pytest
from folding import BOOK, fold, reading, root, weigh_log

from halfsplit.job.effects import Effects
from halfsplit.job.wrong_taps import P_MISNOTED, P_MISTAPPED
from halfsplit.model.ladder import NO_STOP

LADDER = BOOK.ladder


def stops(entry, name="run_1", **job):
    found = reading(fold(entry, **job), name)
    return lambda stop: found.stop_weights.get(stop, found.other_stops)


def test_a_rung_reached_rules_out_every_stop_below_it():
    weight = stops("run: {reached: self_test}")
    assert weight(LADDER.stop_before("self_test")) == 0.0
    assert weight(LADDER.stop_before("boot_drive")) == 1.0
    assert weight(NO_STOP) == 1.0


def test_a_rung_not_reached_rules_out_every_stop_above_it():
    weight = stops("run: {not: self_test}")
    assert weight(LADDER.stop_before("self_test", "resets")) == 1.0
    assert weight(LADDER.stop_before("starts")) == 1.0
    assert weight(LADDER.stop_before("boot_drive")) == 0.0
    assert weight(NO_STOP) == 0.0


def test_how_it_stopped_rules_out_the_other_ways():
    weight = stops("run: {not: self_test, stop: resets}")
    assert weight(LADDER.stop_before("self_test", "resets")) == 1.0
    assert weight(LADDER.stop_before("self_test", "cuts_out")) == 0.0


def test_a_stop_right_after_the_start_was_at_a_rung_that_can_be_reached_by_then():
    weight = stops("run: {stop: {cuts_out: 2 s}}")
    assert weight(LADDER.stop_before("rails_good", "cuts_out")) == 1.0
    assert weight(LADDER.stop_before("log_in", "cuts_out")) == 0.0
    assert weight(NO_STOP) == 0.0


def test_a_time_after_log_in_is_good_to_a_factor_of_three():
    load = "run: {load: card, reached: log_in, stop: {resets: 5 min}}"
    fits = weigh_log(load)["supply_sags_under_load"]
    late = weigh_log("run: {load: card, reached: log_in, stop: {resets: 3 h}}")["supply_sags_under_load"]
    near = weigh_log("run: {load: card, reached: log_in, stop: {resets: 12 min}}")["supply_sags_under_load"]
    assert near == pytest.approx(fits, rel=0.5)
    assert late < fits


def test_a_run_that_was_not_watched_long_says_nothing_of_later_stops():
    run = "run: {{load: processor, minutes: {}, reached: log_in, stop: none, of: 3}}"
    cuts_out = root(fold(), "cooler_clogged").states.index("cuts_out")
    short, long = (
        weigh_log(run.format(minutes)).posterior.p_states("cooler_clogged")[cuts_out] for minutes in (5, 120)
    )
    assert long < 0.5 * short


def test_runs_that_went_through_are_a_reading_of_their_own():
    folded = fold("run: {load: card, reached: log_in, stop: {resets: 5 min}, failed: 3, of: 5, id: sag}")
    assert folded.readings["sag"] == ("sag", "sag:passed")
    assert [reading(folded, name).count for name in folded.readings["sag"]] == [3, 2]
    passed = reading(folded, "sag:passed")
    assert passed.stop_weights.get(LADDER.stop_before("self_test"), 1.0) == 0.0


def test_runs_that_went_through_showed_what_a_sound_machine_shows():
    turned = fold("run: {reached: log_in, signs: {fans_turn: yes}, stop: {resets: 5 min}, failed: 2, of: 9, id: some}")
    stood = fold("run: {not: self_test, signs: {fans_turn: no}, failed: 2, of: 9, id: some}")
    assert not reading(turned, "some:passed").signs
    (sign,) = reading(stood, "some:passed").signs
    assert (sign.if_visible, sign.if_not) == (1.0, 0.0)


def test_runs_that_went_through_did_not_show_the_sign_of_those_that_failed():
    folded = fold("run: {reached: log_in, signs: {picture_flickers: yes}, failed: 1, of: 4, id: flicker}")
    (sign,) = reading(folded, "flicker:passed").signs
    assert (sign.if_visible, sign.if_not) == (0.0, 1.0)


def test_what_somebody_was_unsure_of_is_left_out():
    assert reading(fold("run: {reached: log_in, signs: {fans_turn: unsure}}"), "run_1").signs == ()
    assert "inspect_1" not in fold("inspect: {at: cpu_power_plug, seen: unsure}").readings


def sign_weights(entry):
    names = {bit: sign for sign, bit in Effects(BOOK).bit.items()}
    return {names[sign.bit]: (sign.if_visible, sign.if_not) for sign in reading(fold(entry), "run_1").signs}


def test_a_sign_that_no_sound_machine_gives_may_have_been_entered_where_there_was_none():
    weights = sign_weights("run: {reached: log_in, signs: {artefacts: yes, error_screen: no, fans_turn: yes}}")
    assert weights["artefacts"] == (1.0, P_MISTAPPED)
    assert weights["error_screen"] == (0.0, 1.0)
    assert weights["fans_turn"] == (1.0, 0.0)
    assert sign_weights("run: {reached: starts, signs: {fans_turn: no}}")["fans_turn"] == (P_MISTAPPED, 1.0)
    dark = sign_weights("run: {reached: starts, picture: {used: no}}")
    assert dark
    assert set(dark.values()) == {(0.0, 1.0)}


def test_a_wrong_tap_is_of_what_could_have_been_seen():
    weight = stops("run: {not: self_test, signs: {processor_complaint: yes}}")
    assert weight(LADDER.stop_before(BOOK.signs["processor_complaint"].needs)) == 0.0
    assert weight(LADDER.stop_before("self_test")) == 1.0
    weights = sign_weights("run: {reached: log_in, signs: {error_screen: yes}}")
    lit = {sign: both for sign, both in weights.items() if sign.startswith("picture:")}
    assert weights["error_screen"] == (1.0, P_MISTAPPED)
    assert list(lit.values()) == [(1.0, 0.0)]


def test_starts_with_the_same_complaint_go_together():
    start = "run: {not: self_test, signs: [processor_complaint]}"
    log = (start, start, "repair: reset_settings", start, "repair: reseat_processor", start)
    weighed = weigh_log(*log, machine="{kind: built, age_years: 0, board: {status_leds: yes}}")
    assert weighed.posterior.bound_share < 0.05


def test_a_sign_seen_again_is_no_wrong_tap():
    odd = "run: {reached: log_in, stop: none, signs: {artefacts: yes}}"
    once, twice = (1.0 - weigh_log(*[odd] * times)["card_dead_or_failing"] for times in (1, 2))
    assert once > 0.1
    assert twice < 0.1 * once


def test_a_message_on_the_screen_needs_a_picture():
    folded = fold("run: {output: card, reached: self_test, signs: {no_boot_drive_message: no}}")
    (sign,) = reading(folded, "run_1").signs
    assert sign.screens > 0
    assert weigh_log("run: {output: card, picture: none, not: boot_drive, signs: {no_boot_drive_message: no}}")


def test_without_memory_a_sound_machine_stops_and_complains():
    folded = fold("run: {with: {memory: out, speaker: shelf.speaker_bench}, signs: {memory_complaint: yes}}")
    base = reading(folded, "run_1").base
    assert {effect.stop for _, effect in base} == {LADDER.stop_before("memory_passes")}
    assert sum(p for p, effect in base if effect.shown) == pytest.approx(0.9)


def test_only_what_a_report_asks_for_is_in_what_the_setup_does():
    base = reading(fold("run: {reached: log_in}"), "run_1").base
    assert len(base) == 1
    two = reading(fold("run: {reached: log_in, signs: {power_light: no}}"), "run_1").base
    assert [round(p, 6) for p, _ in two] == [0.97, 0.03] or [round(p, 6) for p, _ in two] == [0.03, 0.97]


def test_runs_that_nothing_tells_apart_share_their_acts():
    folded = fold("run: {reached: log_in, id: one}", "run: {reached: log_in, id: two}")
    for each in folded.evidence.roots:
        assert each.acts.get("one") is each.acts.get("two")


def test_a_part_that_is_out_does_nothing():
    folded = fold("run: {with: {card: out}, output: board, reached: log_in, id: bare}")
    assert "bare" not in root(folded, "card_dead_or_failing").acts
    assert "bare" not in root(folded, "card_not_home").acts


def test_a_fault_of_two_parts_acts_only_while_both_are_in():
    folded = fold(
        "run: {load: card, reached: log_in}", "run: {with: {supply: shelf.supply_a}, load: card, reached: log_in}"
    )
    too_small = root(folded, "supply_too_small")
    assert "run_1" in too_small.acts
    assert "run_2" not in too_small.acts


def test_a_start_of_which_nobody_said_whether_it_was_cold_is_half_of_each():
    q = {
        name: sum(p for p, _ in root(fold(f"run: {{reached: log_in{cold}}}"), "board_dead").acts["run_1"][5].outcomes)
        for name, cold in (("cold", ", cold: yes"), ("warm", ", cold: no"), ("unsaid", ""))
    }
    assert q["warm"] < q["cold"]
    assert q["unsaid"] == pytest.approx((q["cold"] + q["warm"]) / 2)


def test_looks_at_one_place_with_one_tool_are_one_reading_until_somebody_works_there():
    look = "inspect: {at: cpu_power_plug, seen: fine}"
    assert fold(look, look).readings["inspect_2"] == ("inspect_1",)
    between = fold(look, "repair: {do: reseat, at: cpu_power_plug}", look)
    assert between.readings["inspect_2"] == ("inspect_2",)


def test_a_look_at_one_module_does_not_ask_about_the_other():
    folded = fold("inspect: {at: memory_seat.2, seen: half_in}", machine="{memory: [8, 8]}")
    assert "inspect_1" in root(folded, "memory_not_home@memory.2").acts
    assert "inspect_1" not in root(folded, "memory_not_home@memory.1").acts


def test_a_record_shows_faults_of_parts_that_it_is_not_at():
    assert "inspect_1" in root(fold("inspect: {at: system_records, seen: power_loss}"), "supply_sags_under_load").acts


def test_a_number_weighs_the_states_of_its_point():
    low = reading(fold("measure: {at: rail_12v, volts: 10.9}"), "measure_1").stop_weights
    assert low[1] == pytest.approx(1.0 - P_MISNOTED)
    assert low[NO_STOP] == pytest.approx(P_MISNOTED)
    open_side = reading(fold("measure: {at: cell_volts, volts: 3.1}"), "measure_1").stop_weights
    assert open_side[NO_STOP] >= 1.0 - P_MISNOTED
    assert open_side[1] == pytest.approx(P_MISNOTED)


def test_a_number_under_load_asks_about_faults_under_load():
    p = {
        load: dict(root(fold(f"measure: {{at: rail_12v, volts: 11.1, load: {load}}}"), "supply_sags_under_load").acts)
        for load in ("card", "idle")
    }
    assert "measure_1" in p["card"]
    assert p["card"]["measure_1"][1] is not None
    assert "measure_1" not in p["idle"] or p["idle"]["measure_1"][1] is None


def test_what_was_told_under_the_same_conditions_is_one_run():
    folded = fold(told="[{stop: resets, load: games}, {signs: [fans_full], load: games}, {picture: none}]")
    assert folded.readings["told_1"] == folded.readings["told_2"] == ("told_1",)
    assert folded.readings["told_3"] == ("told_3",)


def test_what_is_always_so_counts_twice():
    told = "[{not: starts, always: %s}]"
    assert reading(fold(told=told % "yes"), "told_1").count == 2
    assert reading(fold(told=told % "no"), "told_1").count == 1


def test_each_reading_and_each_root_has_a_line_for_people():
    folded = fold(
        "run: {load: card, reached: log_in, stop: {resets: 5 min}, failed: 3, of: 5}",
        "run: {with: {supply: shelf.supply_a}, cold: yes, not: starts, signs: {fans_turn: no}}",
        "inspect: {at: memory_seat.2, seen: half_in}",
        "measure: {at: rail_12v, volts: 11.18, load: card}",
        told="[{stop: resets, load: games}]",
        machine="{memory: [8, 8]}",
    )
    assert dict(folded.lines) == {
        "brought_in": "the machine was brought in",
        "told_1": "told: resets",
        "run_1": "3 of 5: reached 'log-in', resets after 5\u00a0min, load on the graphics card",
        "run_1:passed": "2 of 5 went through, load on the graphics card",
        "run_2": "stopped before 'starts (fans move)', fans stand still (power supply from the shelf), cold",
        "inspect_1": "memory module in its slot no.\u00a02: half in",
        "measure_1": "+12 V at the 24-pin or a drive plug: 11.18\u00a0V, load on the graphics card",
    }
    assert folded.roots["memory_not_home@memory.2"].things == ("memory_seat.2",)
    assert folded.things["memory_seat.2"] == "memory module in its slot no.\u00a02"
    assert set(folded.things) >= {"owner.supply", "shelf.supply_a", "cpu_power_plug"}


def test_numbers_with_a_spread_have_a_word_to_move_by():
    evidence = fold("run: {not: starts}").evidence
    words = {each.word for each in evidence.roots} | {
        act.word for each in evidence.roots for acts in each.acts.values() for act in acts if act is not None
    }
    assert words - {""} <= set(evidence.spreads)
    assert "base:board_dead" in words
    assert {"often", "usually"} <= words
