"""The slow twin itself, against sums that fit on the back of an envelope; and the drawn cases."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from laws.evidence_cases import Size, draw_case
from oracles import enumerate_evidence

from halfsplit.model.evidence import NOTHING, Acts, Context, Effect, Evidence, Move, Reading, Root, SignAsked
from halfsplit.model.ladder import NO_STOP

HALF, QUARTER, EIGHTH = 0.5, 0.25, 0.125
SEEN, NOT_SEEN = (1.0, 0.0), (0.0, 1.0)


def fault(name, p, moves=(), **acts):
    """One pattern; ``reading=[(p, effect), ...]``."""
    return Root(
        id=name,
        states=("absent", "present"),
        start=np.array([1 - p, p]),
        acts={reading: (None, Acts(tuple(pairs))) for reading, pairs in acts.items()},
        moves=moves,
    )


def ask(bit, weights, needs_stop=0, **screens):
    return SignAsked(bit, needs_stop, *weights, **screens)


def weighed(roots, *readings, contexts=()):
    return enumerate_evidence(Evidence(contexts, tuple(roots), readings))


def test_two_faults_that_each_explain_a_sign_share_the_blame():
    roots = [
        fault("a", HALF, run=[(1.0, Effect(shown=1))]),
        fault("b", QUARTER, run=[(1.0, Effect(shown=1))]),
    ]
    said = weighed(roots, Reading("run", 0, signs=(ask(0, SEEN),)))
    # 1 - 1/2 x 3/4 = 5/8; a: (1/2) / (5/8), b: (1/4) / (5/8).
    assert said.p_readings == Fraction(5, 8)
    assert said.p_now("a") == Fraction(4, 5)
    assert said.p_now("b") == Fraction(2, 5)
    assert said.sets(3)[0] == (frozenset({"a"}), Fraction(3, 5))
    assert dict(said.sets(9))[frozenset({"a", "b"})] == Fraction(1, 5)


def test_what_one_fault_does_in_one_run_is_drawn_jointly():
    both = Effect(shown=0b11)
    said = weighed([fault("a", 1.0, run=[(HALF, both)])], Reading("run", 0, signs=(ask(0, SEEN), ask(1, SEEN))))
    assert said.p_readings == Fraction(1, 2)  # apart it would be 1/4


def test_equal_runs_are_drawn_apart():
    roots = [fault("a", HALF, run=[(HALF, Effect(stop=2))])]
    said = weighed(roots, Reading("run", 0, stop_weights={2: 1.0}, other_stops=0.0, count=3))
    assert said.p_readings == Fraction(1, 2) * Fraction(1, 8)


def test_a_hidden_sign_is_not_visible_whoever_shows_it():
    base = ((1.0, Effect(shown=0b1)),)
    said = weighed(
        [fault("a", QUARTER, run=[(1.0, Effect(hidden=1))])],
        Reading("run", 0, base, signs=(ask(0, NOT_SEEN),)),
    )
    assert said.p_readings == Fraction(1, 4)
    assert said.p_now("a") == 1


@pytest.mark.parametrize(("needs_stop", "p"), [(2, Fraction(1)), (3, Fraction(1, 2))])
def test_a_sign_needs_its_stop_to_be_reached(needs_stop, p):
    base = ((1.0, Effect(shown=0b1)),)
    roots = [fault("a", HALF, run=[(1.0, Effect(stop=2))])]
    said = weighed(roots, Reading("run", 0, base, signs=(ask(0, SEEN, needs_stop),)))
    assert said.p_readings == p


def test_a_sign_on_a_screen_needs_one_of_its_screens():
    base = ((1.0, Effect(shown=0b111)),)
    roots = [
        fault("a", HALF, run=[(1.0, Effect(hidden=0b10))]),
        fault("b", QUARTER, run=[(1.0, Effect(stop=4))]),
    ]
    screens = {"screens": 0b110, "screen_needs": ((1, 0), (2, 5))}
    said = weighed(roots, Reading("run", 0, base, signs=(ask(0, NOT_SEEN, 0, **screens),)))
    assert said.p_readings == Fraction(1, 8)  # the first is dark and the second is not reached


def test_the_lowest_stop_wins_and_no_stop_is_above_all():
    roots = [fault("a", HALF, run=[(1.0, Effect(stop=4))]), fault("b", QUARTER, run=[(1.0, Effect(stop=2))])]
    p = {
        stop: weighed(roots, Reading("run", 0, stop_weights={stop: 1.0}, other_stops=0.0)).p_readings
        for stop in (2, 4, NO_STOP)
    }
    assert p == {2: Fraction(2, 8), 4: Fraction(3, 8), NO_STOP: Fraction(3, 8)}


def test_a_move_counts_from_its_own_time_on():
    reseat = Move(1, np.array([[0.75, 0.25], [HALF, HALF]]))
    roots = [fault("a", HALF, (reseat,), before=[(1.0, Effect(stop=1))], after=[(1.0, Effect(stop=1))])]
    before = Reading("before", 0, stop_weights={1: 1.0}, other_stops=0.0)
    after = Reading("after", 1, stop_weights={1: 0.0})
    said = weighed(roots, before, after)
    assert said.p_readings == Fraction(1, 2) * Fraction(1, 2)
    assert said.p_states("a") == (1, 0)


def test_a_move_after_the_last_reading_still_counts_now():
    disturb = Move(7, np.array([[0.75, 0.25], [0.0, 1.0]]))
    said = weighed([fault("a", 0.0, (disturb,))], Reading("run", 0))
    assert said.p_now("a") == Fraction(1, 4)


def test_a_shared_teller_ties_two_statements_together():
    teller = Context("teller", ("careful", "poor"), (HALF, HALF))
    weights = (np.array([1.0, HALF]), np.array([0.0, HALF]))
    asked = (ask(0, weights),)
    base = ((HALF, Effect(shown=1)), (HALF, NOTHING))
    one, two = (Reading(name, 0, base, signs=asked, given=("teller",)) for name in ("one", "two"))
    said = weighed([], one, two, contexts=(teller,))
    assert said.p_readings == Fraction(1, 4)  # 1/2 x (1/2)^2 for either teller
    only_visible = replace(one, base=((1.0, Effect(shown=1)),))
    # careful 1/2 x 1 x 1/2, poor 1/2 x 1/2 x 1/2
    assert weighed([], only_visible, two, contexts=(teller,)).context("teller") == (
        Fraction(2, 3),
        Fraction(1, 3),
    )


def test_a_thing_is_held_when_any_of_its_faults_is_there():
    board, card = frozenset({"board"}), frozenset({"board", "card"})
    a = replace(fault("a", HALF), held=(frozenset(), board))
    b = replace(fault("b", QUARTER), held=(frozenset(), card))
    said = weighed([a, b, fault("c", HALF)])
    assert said.p_held("board") == Fraction(5, 8)
    assert said.p_held("card") == Fraction(1, 4)
    assert said.p_held("supply") == 0


# --- the drawn cases ---------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(60))
def test_the_truth_is_among_what_a_drawn_report_allows(seed):
    case = draw_case(seed)
    joint = enumerate_evidence(case.evidence).joint
    assert joint[case.context_values, case.final_states] > 0


def test_the_same_seed_draws_the_same_case():
    assert repr(draw_case(11)) == repr(draw_case(11))
    assert repr(draw_case(11)) != repr(draw_case(12))


def first_value(array, given, own_axes):
    return np.asarray(array)[(0,) * len(given)] if np.ndim(array) > own_axes else array


def change_effects(evidence, change, *, base=True):
    """Every effect changed; ``change`` takes and gives an effect."""

    def changed(acts):
        return acts and replace(acts, outcomes=tuple((p, change(effect)) for p, effect in acts.outcomes))

    roots = tuple(
        replace(root, acts={name: tuple(map(changed, acts)) for name, acts in root.acts.items()})
        for root in evidence.roots
    )
    readings = tuple(
        replace(reading, base=tuple((p, change(effect)) for p, effect in reading.base)) if base else reading
        for reading in evidence.readings
    )
    return replace(evidence, roots=roots, readings=readings)


def change_signs(evidence, **changes):
    readings = tuple(
        replace(reading, signs=tuple(replace(sign, **changes) for sign in reading.signs))
        for reading in evidence.readings
    )
    return replace(evidence, readings=readings)


def change_readings(evidence, change):
    return replace(evidence, readings=tuple(replace(reading, **change(reading)) for reading in evidence.readings))


def change_roots(evidence, change):
    return replace(evidence, roots=tuple(replace(root, **change(root)) for root in evidence.roots))


def without_context_in_reports(reading):
    def one(weight):
        return first_value(weight, reading.given, 0)

    return {
        "given": (),
        "stop_weights": {stop: one(weight) for stop, weight in reading.stop_weights.items()},
        "other_stops": one(reading.other_stops),
        "signs": tuple(
            replace(sign, if_visible=one(sign.if_visible), if_not=one(sign.if_not)) for sign in reading.signs
        ),
    }


def acts_only_in(states):
    """Keep what a root does in some of its states only."""
    return lambda root: {
        "acts": {
            name: tuple(one if states(state) else None for state, one in enumerate(acts))
            for name, acts in root.acts.items()
        }
    }


def first_outcome(root):
    def one(acts):
        return acts and replace(acts, outcomes=((sum(p for p, _ in acts.outcomes), acts.outcomes[0][1]),))

    return {"acts": {name: tuple(map(one, acts)) for name, acts in root.acts.items()}}


def certain(root):
    """Whoever may act does act."""

    def one(acts):
        return acts and replace(acts, outcomes=((1.0, acts.outcomes[0][1]),))

    return {"acts": {name: tuple(map(one, acts)) for name, acts in root.acts.items()}}


WITHOUT = {
    "hidden signs": lambda e: change_effects(e, lambda effect: replace(effect, hidden=0)),
    "signs shown by faults": lambda e: change_effects(e, lambda effect: replace(effect, shown=0), base=False),
    "signs on by default": lambda e: change_readings(e, lambda _: {"base": ((1.0, NOTHING),)}),
    "stops": lambda e: change_effects(e, lambda effect: replace(effect, stop=NO_STOP)),
    "leaks": lambda e: change_readings(e, lambda reading: {"base": ((1.0, reading.base[0][1]),)}),
    "needed stops": lambda e: change_signs(e, needs_stop=0),
    "screens": lambda e: change_signs(e, screens=0),
    "counts": lambda e: change_readings(e, lambda _: {"count": 1}),
    "soft weights": lambda e: change_readings(
        e,
        lambda reading: {
            "signs": tuple(
                replace(sign, if_visible=np.round(sign.if_visible), if_not=np.round(sign.if_not))
                for sign in reading.signs
            )
        },
    ),
    "contexts of reports": lambda e: change_readings(e, without_context_in_reports),
    "contexts of starts": lambda e: change_roots(
        e, lambda root: {"given": (), "start": first_value(root.start, root.given, 1)}
    ),
    "contexts of moves": lambda e: change_roots(
        e,
        lambda root: {
            "moves": tuple(
                replace(move, given=(), matrix=first_value(move.matrix, move.given, 2)) for move in root.moves
            )
        },
    ),
    "moves": lambda e: change_roots(e, lambda _: {"moves": ()}),
    "second outcomes": lambda e: change_roots(e, first_outcome),
    "faults that act seldom": lambda e: change_roots(e, certain),
    "oddities of the absent": lambda e: change_roots(e, acts_only_in(lambda state: state != 0)),
    "second patterns": lambda e: change_roots(e, acts_only_in(lambda state: state < 2)),
}


FEW = Size(roots=(2, 3), readings=(2, 4), contexts=(1, 2), moves=(1, 3))


@pytest.fixture(scope="module")
def few_cases():
    """Evidence, each with its P(readings)."""
    drawn = [draw_case(seed, FEW).evidence for seed in range(30)]
    return [(evidence, enumerate_evidence(evidence).p_readings) for evidence in drawn]


@pytest.mark.parametrize("feature", WITHOUT)
def test_every_feature_matters_in_the_drawn_cases(feature, few_cases):
    """Else an engine that forgets the feature would pass unseen."""
    changed = [enumerate_evidence(WITHOUT[feature](evidence)).p_readings for evidence, _ in few_cases]
    assert sum(now != before for now, (_, before) in zip(changed, few_cases, strict=True)) >= 5
