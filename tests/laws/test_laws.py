"""What must be so whatever the evidence is."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import assume, given
from judges import ALL_SETS, answers, close, weigh_all, with_readings
from laws.evidence_cases import FEW, LAST_STOP, SEEDS, STEADY, STEADY_RUNS, draw_case

from halfsplit.errors import ImpossibleReadingsError
from halfsplit.infer import weigh
from halfsplit.model.evidence import Acts, Effect, Evidence, Move, Reading, Root, SignAsked
from halfsplit.model.ladder import NO_STOP


def said_of(evidence):
    return answers(weigh_all(evidence), evidence)


def p_or_zero(evidence):
    try:
        return weigh_all(evidence).p_readings
    except ImpossibleReadingsError:
        return 0.0


def without(flat, *names):
    return {name: p for name, p in flat.items() if not name.startswith(names)}


def posterior_only(flat):
    return without(flat, "P(readings)")


# --- order and names ---------------------------------------------------------------------------------


@STEADY_RUNS
@given(seed=SEEDS)
def test_order_of_readings_at_one_time_does_not_matter(seed):
    evidence = draw_case(seed, FEW).evidence
    rng = np.random.default_rng(seed)
    shuffled = sorted(rng.permutation(len(evidence.readings)), key=lambda place: evidence.readings[place].time)
    assume(shuffled != sorted(shuffled))
    readings = tuple(evidence.readings[place] for place in shuffled)
    assert said_of(replace(evidence, readings=readings)) == close(said_of(evidence))


@STEADY_RUNS
@given(seed=SEEDS)
def test_names_and_order_of_roots_and_names_of_readings_do_not_matter(seed):
    evidence = draw_case(seed, FEW).evidence
    order = np.random.default_rng(seed).permutation(len(evidence.roots)).tolist()
    name = {reading.id: f"z{99 - place}" for place, reading in enumerate(evidence.readings)}
    roots = [
        replace(root, id=f"y{99 - place}", acts={name[reading]: acts for reading, acts in root.acts.items()})
        for place, root in enumerate(evidence.roots)
    ]
    readings = tuple(replace(reading, id=name[reading.id]) for reading in evidence.readings)
    renamed = replace(evidence, roots=tuple(roots[place] for place in order), readings=readings)
    back = replace(renamed, roots=tuple(roots))
    assert answers(weigh_all(renamed), back) == close(said_of(evidence))


@STEADY_RUNS
@given(seed=SEEDS)
def test_numbers_of_bits_and_of_stops_and_of_patterns_do_not_matter(seed):
    evidence = draw_case(seed, FEW).evidence
    new_bit = np.random.default_rng(seed).permutation(60).tolist()

    def bits(mask):
        return sum(1 << new_bit[bit] for bit in range(30) if mask >> bit & 1)

    def stop(number):
        return number if number == NO_STOP else 7 * number + 3

    def effect(old):
        return Effect(stop(old.stop), bits(old.shown), bits(old.hidden))

    def pairs(old):
        return tuple((p, effect(one)) for p, one in old)

    def root(old):
        order = [0, *reversed(range(1, len(old.states)))]
        acts = {
            name: tuple(of[s] and replace(of[s], outcomes=pairs(of[s].outcomes)) for s in order)
            for name, of in old.acts.items()
        }
        moves = tuple(replace(move, matrix=move.matrix[..., order, :][..., order]) for move in old.moves)
        held = tuple(old.held[s] for s in order) if old.held else ()
        return replace(old, start=old.start[..., order], acts=acts, moves=moves, held=held)

    def sign(old):
        return replace(
            old,
            bit=new_bit[old.bit],
            needs_stop=stop(old.needs_stop),
            screens=bits(old.screens),
            screen_needs=tuple((new_bit[bit], stop(needs)) for bit, needs in old.screen_needs),
        )

    def reading(old):
        return replace(
            old,
            base=pairs(old.base),
            stop_weights={stop(number): weight for number, weight in old.stop_weights.items()},
            signs=tuple(map(sign, old.signs)),
        )

    renumbered = replace(
        evidence, roots=tuple(map(root, evidence.roots)), readings=tuple(map(reading, evidence.readings))
    )
    states = [len(root.states) for root in evidence.roots]
    expected = said_of(evidence)
    for place, count in enumerate(states):
        old = [expected[f"root {place} in state {state}"] for state in range(count)]
        for state, p in zip(range(1, count), reversed(old[1:]), strict=True):
            expected[f"root {place} in state {state}"] = p
    assert said_of(renumbered) == close(expected)


# --- sums --------------------------------------------------------------------------------------------


@STEADY_RUNS
@given(seed=SEEDS)
def test_every_answer_is_a_probability(seed):
    assert {name: p for name, p in said_of(draw_case(seed, FEW).evidence).items() if not 0 <= p <= 1} == {}


@STEADY_RUNS
@given(seed=SEEDS)
def test_everything_that_shares_out_a_certainty_adds_up_to_1(seed):
    evidence = draw_case(seed, FEW).evidence
    said = weigh_all(evidence)
    for root in evidence.roots:
        assert sum(said.p_states(root.id)) == pytest.approx(1, rel=1e-12)
        assert said.p_now(root.id) == pytest.approx(1 - said.p_states(root.id)[0], rel=0, abs=1e-12)
    for context in evidence.contexts:
        assert sum(said.context(context.id)) == pytest.approx(1, rel=1e-12)
    p_sets = sum(p for _, p in said.sets(ALL_SETS))
    assert 1 - said.sets_bound - 1e-12 <= p_sets <= 1 + 1e-12


@pytest.mark.parametrize("seed", range(6))
def test_the_reports_that_one_run_can_give_share_out_what_was_before(seed):
    evidence = draw_case(seed, FEW).evidence
    *before, last = evidence.readings
    stops = [({stop: 1.0}, 0.0) for stop in (*range(LAST_STOP + 1), NO_STOP)]
    asked = last.signs[:3]
    total = 0.0
    reports = list(product(stops, *[[(1.0, 0.0), (0.0, 1.0)]] * len(asked)))
    for (stop_weights, other_stops), *seen in reports:
        signs = tuple(
            replace(sign, if_visible=if_visible, if_not=if_not)
            for sign, (if_visible, if_not) in zip(asked, seen, strict=True)
        )
        told = replace(last, stop_weights=stop_weights, other_stops=other_stops, signs=signs, given=(), count=1)
        told = replace(told, if_void=1 / len(reports))
        total += p_or_zero(replace(evidence, readings=(*before, told)))
    assert total == pytest.approx(weigh_all(with_readings(evidence, before)).p_readings, rel=1e-9, abs=0)


@STEADY_RUNS
@given(seed=SEEDS)
def test_a_context_is_the_mean_over_its_values(seed):
    evidence = draw_case(seed, replace(FEW, contexts=(1, 2))).evidence
    first, *others = evidence.contexts
    parts = []
    for value, p in enumerate(first.p):
        sure = replace(first, p=tuple(float(other == value) for other in range(len(first.p))))
        parts.append(p * p_or_zero(replace(evidence, contexts=(sure, *others))))
    said = weigh_all(evidence)
    assert said.p_readings == pytest.approx(sum(parts), rel=1e-9, abs=0)
    assert said.context(first.id) == pytest.approx([part / sum(parts) for part in parts], rel=1e-9, abs=0)


# --- what tells nothing ------------------------------------------------------------------------------


@STEADY_RUNS
@given(seed=SEEDS)
def test_a_reading_that_no_fault_can_change_changes_nothing(seed):
    evidence = draw_case(seed, FEW).evidence
    base = ((0.75, Effect(shown=1)), (0.25, Effect(stop=3)))
    same_for_all = Reading("no fault acts here", 0, base, {3: 0.5}, signs=(SignAsked(0, 2, 0.9, 0.2),))
    said, more = said_of(evidence), said_of(replace(evidence, readings=(same_for_all, *evidence.readings)))
    assert posterior_only(more) == close(posterior_only(said))
    assert more["P(readings)"] == pytest.approx((0.75 * 0.9 + 0.25 * 0.5 * 0.2) * said["P(readings)"], rel=1e-9)


@STEADY_RUNS
@given(seed=SEEDS)
def test_a_run_that_nobody_watched_changes_nothing(seed):
    evidence = draw_case(seed, FEW).evidence
    rng = np.random.default_rng(seed)
    place = int(rng.integers(len(evidence.readings)))
    blind = replace(evidence.readings[place], stop_weights={}, other_stops=1.0, signs=(), if_void=1.0)
    readings = list(evidence.readings)
    readings[place] = blind
    left_out = with_readings(evidence, (reading for reading in evidence.readings if reading.id != blind.id))
    assert said_of(replace(evidence, readings=tuple(readings))) == close(said_of(left_out))


@STEADY_RUNS
@given(seed=SEEDS)
def test_what_faults_would_do_in_runs_that_nobody_made_changes_nothing(seed):
    evidence = draw_case(seed, FEW).evidence
    *before, _ = evidence.readings
    assert said_of(replace(evidence, readings=tuple(before))) == close(said_of(with_readings(evidence, before)))


@STEADY_RUNS
@given(seed=SEEDS)
def test_a_fault_that_does_nothing_keeps_its_prior_and_leaves_the_others_alone(seed):
    evidence = draw_case(seed, FEW).evidence
    idle = Root("idle", ("absent", "present"), np.array([0.999, 0.001]))
    said, more = said_of(evidence), said_of(replace(evidence, roots=(*evidence.roots, idle)))
    new = f"root {len(evidence.roots)} "
    assert without(more, new) == close(said)
    assert more[f"{new}now"] == pytest.approx(0.001, rel=1e-12)


def test_no_beep_from_a_machine_that_never_started_clears_nothing():
    """The beep needs rung 4; a dead supply stops the run at rung 0, whatever the memory is."""
    beep, beeper_needs = 0, 4
    no_memory = (None, Acts(((1.0, Effect(shown=1 << beep, stop=beeper_needs)),)))
    dead = (None, Acts(((1.0, Effect(stop=0)),)))

    def roots(*readings):
        return (
            Root("memory", ("absent", "present"), np.array([0.75, 0.25]), dict.fromkeys(readings, no_memory)),
            Root("supply", ("absent", "present"), np.array([0.5, 0.5]), dict.fromkeys(readings, dead)),
        )

    no_beep = (SignAsked(beep, beeper_needs, 0.0, 1.0),)
    ended_at_once = {"stop_weights": {0: 1.0}, "other_stops": 0.0}
    dead_and_silent = Evidence((), roots("run"), (Reading("run", 0, signs=no_beep, **ended_at_once),))
    just_dead = Evidence((), roots("run"), (Reading("run", 0, **ended_at_once),))
    just_silent = Evidence((), roots("run"), (Reading("run", 0, signs=no_beep),))
    assert said_of(dead_and_silent) == close(said_of(just_dead))
    assert weigh_all(dead_and_silent).p_now("memory") == pytest.approx(0.25, rel=1e-12)
    # It does clear the memory, and blames the supply, where nothing is known of the stop.
    assert weigh_all(just_silent).p_now("memory") == pytest.approx(0.125 / 0.875, rel=1e-12)
    assert weigh_all(just_silent).p_now("supply") == pytest.approx(0.5 / 0.875, rel=1e-12)


# --- repairs and repeats -----------------------------------------------------------------------------


@STEADY_RUNS
@given(seed=SEEDS)
def test_the_faults_of_a_part_stop_mattering_when_it_is_replaced(seed):
    """From then on it makes no difference what its patterns would do."""
    evidence = draw_case(seed, FEW).evidence
    time = evidence.readings[len(evidence.readings) // 2].time
    root, *others = evidence.roots
    gone = np.zeros((len(root.states), len(root.states)))
    gone[:, 0] = 1
    moves = tuple(move for move in root.moves if move.time < time)
    later = {reading.id for reading in evidence.readings if reading.time >= time} & set(root.acts)
    fatal = Acts(((1.0, Effect(stop=0, hidden=(1 << 30) - 1)),))

    def with_present(acts):
        """The same evidence, but in later readings each present state does this."""
        changed = {name: (root.acts[name][0], *[acts] * (len(root.states) - 1)) for name in later}
        replaced = replace(root, moves=(*moves, Move(time, gone)), acts={**root.acts, **changed})
        return replace(evidence, roots=(replaced, *others))

    harmless_is_possible = p_or_zero(with_present(None)) > 0
    assert (p_or_zero(with_present(fatal)) > 0) == harmless_is_possible
    assume(harmless_is_possible)
    said = said_of(with_present(fatal))
    assert said == close(said_of(with_present(None)))
    assert said["root 0 now"] == 0


@STEADY_RUNS
@given(seed=SEEDS)
def test_a_new_part_knows_nothing_of_the_old_one(seed):
    """Readings after the swap alone: the old part's prior does not matter."""
    evidence = draw_case(seed, FEW).evidence
    root, *others = evidence.roots
    states = len(root.states)
    swap = Move(
        evidence.readings[0].time,
        np.tile(np.array([0.97, *[0.03 / (states - 1)] * (states - 1)]), (states, 1)),
    )
    moves = (swap, *(move for move in root.moves if move.time > swap.time))
    starts = np.eye(states)[0], np.full(states, 1 / states)
    sure, vague = (
        said_of(replace(evidence, roots=(replace(root, start=start, given=(), moves=moves), *others)))
        for start in starts
    )
    assert sure == close(vague)


@STEADY_RUNS
@given(seed=SEEDS)
def test_twenty_repeats_of_a_steady_run_prove_no_more_than_one(seed):
    evidence = draw_case(seed, STEADY).evidence
    once, twenty = (
        replace(evidence, readings=tuple(replace(reading, count=count) for reading in evidence.readings))
        for count in (1, 20)
    )
    assert said_of(twenty) == close(said_of(once))


@STEADY_RUNS
@given(seed=SEEDS)
def test_a_count_of_runs_is_as_many_readings_of_one_run(seed):
    evidence = draw_case(seed, FEW).evidence
    apart = []
    roots = evidence.roots
    for reading in evidence.readings:
        names = [f"{reading.id} run {run}" for run in range(reading.count)]
        apart += [replace(reading, id=name, count=1) for name in names]
        roots = tuple(
            replace(root, acts={**root.acts, **dict.fromkeys(names, root.acts[reading.id])})
            if reading.id in root.acts
            else root
            for root in roots
        )
    each_run = with_readings(replace(evidence, roots=roots), apart)
    assert said_of(each_run) == close(said_of(evidence))


def test_twenty_good_runs_do_clear_a_fault_that_acts_now_and_then():
    acts = {"run": (None, Acts(((0.25, Effect(stop=2)),)))}
    root = Root("fault", ("absent", "present"), np.array([0.5, 0.5]), acts)
    good = Reading("run", 0, stop_weights={NO_STOP: 1.0}, other_stops=0.0, count=20)
    expected = 0.75**20 / (1 + 0.75**20)
    assert weigh_all(Evidence((), (root,), (good,))).p_now("fault") == pytest.approx(expected, rel=1e-12)


def test_one_fault_does_all_or_nothing_in_one_run():
    """Five signs of a fault that acts half of the time: 1/2, where independent gates would say 1/32."""
    acts = {"run": (None, Acts(((0.5, Effect(shown=0b11111)),)))}
    root = Root("fault", ("absent", "present"), np.array([0.0, 1.0]), acts)
    signs = tuple(SignAsked(bit, 0, 1.0, 0.0) for bit in range(5))
    assert weigh_all(Evidence((), (root,), (Reading("run", 0, signs=signs),))).p_readings == 0.5


def test_two_exclusive_suspects_make_the_part_certain():
    """Just one of two faults of the board is there: P(board bad) is 1, not 1 - (1/2)^2 = 0.75."""
    fails = (None, Acts(((1.0, Effect(stop=2)),)))
    lit, dark = Acts(((1.0, Effect(shown=1)),)), Acts(((1.0, Effect(hidden=1)),))
    board = (frozenset(), frozenset({"board"}))
    states, even = ("absent", "present"), np.array([0.5, 0.5])
    # The look is lit when both are there: the one lights it, the other's absence darkens it.
    one = Root("one", states, even, {"run": fails, "look": (None, lit)}, held=board)
    other = Root("other", states, even, {"run": fails, "look": (dark, None)}, held=board)
    some_fault = Reading("run", 0, stop_weights={2: 1.0}, other_stops=0.0)
    not_both = Reading("look", 0, signs=(SignAsked(0, 0, 0.0, 1.0),))
    said = weigh_all(Evidence((), (one, other), (some_fault, not_both)))
    assert said.p_now("one") == pytest.approx(0.5, rel=1e-12)
    assert said.p_now("other") == pytest.approx(0.5, rel=1e-12)
    assert said.p_held("board") == pytest.approx(1, rel=1e-12)


def test_many_faults_leave_the_sets_whole():
    """More nodes on a level than named rows may be kept: no node may lose what is large in it."""
    runs = tuple(Reading(f"run{n}", n, stop_weights={3: 1.0}, other_stops=0.0) for n in range(2))
    acts = {run.id: (None, Acts(((0.5, Effect(stop=3)),))) for run in runs}
    roots = tuple(
        Root(f"fault{place}", ("absent", "there"), np.array([1 - p, p]), acts)
        for place, p in enumerate(np.geomspace(1e-6, 0.05, 1200))
    )
    said = weigh(Evidence((), roots, runs), limit=50_000)
    sets = said.sets(10_000)
    assert sets
    assert sum(p for _, p in sets) + said.sets_bound >= 1.0 - 1e-9
