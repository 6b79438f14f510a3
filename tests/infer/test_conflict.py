"""How far readings speak against each other, and how seldom a right model is blamed for it."""

from dataclasses import replace
from itertools import product
from math import exp, isfinite, log

import numpy as np
import pytest
from judges import with_readings
from laws.evidence_cases import (
    FEW,
    Size,
    World,
    between,
    draw_base,
    draw_case,
    draw_contexts,
    draw_moves,
    draw_path,
    draw_root,
    draw_signs,
    draw_total,
    path_state,
    shows,
)
from oracles import enumerate_evidence

from halfsplit.infer import compile_readings
from halfsplit.infer.conflict import find_conflict, find_misfits, find_suspects
from halfsplit.infer.retold import Retold
from halfsplit.model.evidence import Acts, Effect, Evidence, Reading, Root, SignAsked


def asked(evidence, *given):
    return Retold(compile_readings(evidence), given=given, limit=0)


def log_p_of(evidence, names):
    kept = [reading for reading in evidence.readings if reading.id in names]
    return log(enumerate_evidence(with_readings(evidence, kept)).p_readings)


def course(found):
    return [log_m for _, log_m in found.course]


# --- the measure -------------------------------------------------------------------------------------


@pytest.mark.parametrize("many_given", [0, 1])
@pytest.mark.parametrize("seed", range(25))
def test_log_m_after_each_reading_is_that_of_the_twin(seed, many_given):
    evidence = draw_case(seed, FEW).evidence
    names = [reading.id for reading in evidence.readings]
    given, rest = names[:many_given], names[many_given:]
    known = log_p_of(evidence, given)
    alone = np.cumsum([log_p_of(evidence, [*given, name]) - known for name in rest])
    together = [log_p_of(evidence, [*given, *rest[: k + 1]]) - known for k in range(len(rest))]
    found = find_conflict(asked(evidence, *given))
    assert found.readings == tuple(rest)
    assert [k for k, _ in found.course] == list(range(len(rest) + 1))
    assert course(found) == pytest.approx([0, *(alone - together)], rel=0, abs=1e-9)
    assert found.log_m == course(found)[-1]


@pytest.mark.parametrize("seed", range(25))
def test_it_grew_most_since_the_reading_before_which_it_was_least(seed):
    found = find_conflict(asked(draw_case(seed).evidence))
    growths = {name: found.log_m - course(found)[k] for k, name in enumerate(found.readings)}
    assert found.log_since == pytest.approx(max(0.0, *growths.values()), rel=0, abs=1e-12)
    if found.since:
        assert growths[found.since] == pytest.approx(found.log_since, rel=0, abs=1e-12)
    assert found.log_since_alarm == pytest.approx(log(20 * len(found.readings)))


@pytest.mark.parametrize("seed", range(25))
def test_looked_at_in_fewer_places_it_grew_no_more(seed):
    retold = asked(draw_case(seed).evidence)
    every, some = find_conflict(retold), find_conflict(retold, places=[2])
    assert some.log_m == every.log_m
    assert some.log_since <= every.log_since
    assert {k for k, _ in some.course} == {0, 2, len(retold.order)}


@pytest.mark.parametrize("seed", range(25))
def test_each_reading_is_held_against_all_others(seed):
    evidence = draw_case(seed, FEW).evidence
    names = [reading.id for reading in evidence.readings]
    fits = find_misfits(asked(evidence))
    for fit in fits:
        others = [name for name in names if name != fit.reading]
        last = log_p_of(evidence, names) - log_p_of(evidence, others)
        assert fit.log_p_last == pytest.approx(last, rel=0, abs=1e-9)
        assert fit.log_p_alone == pytest.approx(log_p_of(evidence, [fit.reading]), rel=0, abs=1e-9)
        without = sum(log_p_of(evidence, [name]) for name in others) - log_p_of(evidence, others)
        assert fit.log_m_without == pytest.approx(without, rel=0, abs=1e-9)
    assert [fit.log_m_without for fit in fits] == pytest.approx(sorted(fit.log_m_without for fit in fits))
    assert {fit.reading for fit in fits} == set(names)


def house(*reports):
    """Burglary, earthquake and alarm as one root; who calls and what a look shows are readings of it.

    The network is that of ``tests/published/test_alarm_network_conflict.py``.
    """
    b, e = 0.001, 0.002
    causes = {
        "none": ((1 - b) * (1 - e), 0.001),
        "e": ((1 - b) * e, 0.29),
        "b": (b * (1 - e), 0.94),
        "be": (b * e, 0.95),
    }
    states = {(cause, rings): p * (a if rings else 1 - a) for cause, (p, a) in causes.items() for rings in (0, 1)}
    signs = {
        "john": SignAsked(0, 0, 0.90, 0.05),
        "not john": SignAsked(0, 0, 0.10, 0.95),
        "mary": SignAsked(0, 0, 0.70, 0.01),
        "not mary": SignAsked(0, 0, 0.30, 0.99),
        "alarm": SignAsked(0, 0, 1.0, 0.0),
        "no alarm": SignAsked(0, 0, 0.0, 1.0),
        "burglary": SignAsked(1, 0, 1.0, 0.0),
    }
    acts = tuple(
        Acts(((1.0, Effect(shown=rings | (2 if "b" in cause else 0))),)) if rings or "b" in cause else None
        for cause, rings in states
    )
    root = Root("house", tuple(map(str, states)), np.array(list(states.values())), dict.fromkeys(reports, acts))
    readings = tuple(Reading(report, 0, signs=(signs[report],)) for report in reports)
    return Evidence((), (root,), readings)


@pytest.mark.parametrize(
    ("reports", "conflict_bits"),
    [
        (("john", "mary"), -1.768007),
        (("john", "not mary"), 0.041820),
        (("alarm", "not john"), 3.244676),
        (("burglary", "no alarm"), 4.055740),
    ],
)
def test_the_published_conflicts_of_the_alarm_network(reports, conflict_bits):
    found = find_conflict(asked(house(*reports)))
    assert found.log_m / log(2) == pytest.approx(conflict_bits, rel=0, abs=5e-7)


def test_one_reading_cannot_speak_against_itself():
    found = find_conflict(asked(house("no alarm")))
    assert (found.log_m, found.since, found.is_alarm) == (pytest.approx(0, abs=1e-12), "", False)


def test_no_reading_is_no_conflict():
    found = find_conflict(asked(house("alarm"), "alarm"))
    assert (found.readings, found.log_m, found.since, found.log_since) == ((), 0.0, "", 0.0)


def steady(*reports):
    """A fault that always shows; the reports say whether it did, and each is wrong once in a thousand."""
    says = {True: (0.999, 0.001), False: (0.001, 0.999)}
    readings = tuple(Reading(f"run{n}", n, signs=(SignAsked(0, 0, *says[saw]),)) for n, saw in enumerate(reports))
    shows_it = (None, Acts(((1.0, Effect(shown=1)),)))
    root = Root("fault", ("absent", "present"), np.array([0.5, 0.5]), {reading.id: shows_it for reading in readings})
    return Evidence((), (root,), readings)


def test_early_agreement_does_not_hide_a_late_contradiction():
    found = find_conflict(asked(steady(True, True, True, True, True, True, False)))
    assert found.log_m < found.log_alarm
    assert found.since == "run6"
    assert found.log_since >= found.log_since_alarm
    assert found.is_alarm


def test_the_reading_that_fits_worst_is_named_first():
    fits = find_misfits(asked(steady(True, True, False, True)))
    assert fits[0].reading == "run2"
    assert fits[0].log_p_last == pytest.approx(log(0.001), abs=0.01)


@pytest.mark.parametrize("places", [None, [], [4]])
@pytest.mark.parametrize("wrong", range(8))
def test_whichever_reading_is_wrong_it_is_among_those_blamed_and_comes_out_worst(wrong, places):
    retold = asked(steady(*(n != wrong for n in range(8))))
    suspects = find_suspects(retold, find_conflict(retold, places=places), many=4)
    assert len(suspects) == len(set(suspects)) <= 4
    assert f"run{wrong}" in suspects
    assert find_misfits(retold, suspects)[0].reading == f"run{wrong}"


def test_where_conflict_never_grew_nobody_is_blamed():
    retold = asked(steady(True, True, True))
    assert find_suspects(retold, find_conflict(retold), many=4) == ()


def test_each_question_is_put_once():
    retold = asked(steady(True, False))
    assert retold.answer(["run0", "run1"]) is retold.answer(["run1", "run0"])
    assert retold.without("run1") is retold.after(1)


# --- a right model is seldom blamed ------------------------------------------------------------------

WORLD = Size((3, 6), (1, 2), (5, 8), (0, 1), (0, 2))
RIGHT, WRONG = 0.9, 0.15
"""P(yes | it is so), P(yes | it is not) of the soft questions below."""


def draw_world(seed):
    """Roots and runs, with what is asked of each run fixed before it is known: one stop and two signs."""
    rng = np.random.default_rng([seed, 7])
    contexts = draw_contexts(rng, WORLD)
    truth = {context.id: int(rng.choice(len(context.p), p=context.p)) for context in contexts}
    world = World(rng, WORLD, contexts, truth, draw_signs(rng))
    blank = [Reading(f"reading{n}", n, draw_base(world)) for n in range(between(rng, WORLD.readings))]
    roots = tuple(draw_root(world, f"fault{n}", blank) for n in range(between(rng, WORLD.roots)))
    return world, draw_moves(world, roots, len(blank)), blank


def reported(world, blank, stopped, seen):
    """The reading that says whether a run stopped at 2 or lower, and of each of two signs whether it was seen."""
    needs = {sign.bit: sign.needs_stop for sign in world.signs}
    asked_signs = [
        SignAsked(
            sign.bit,
            sign.needs_stop,
            RIGHT if was else 1 - RIGHT,
            WRONG if was else 1 - WRONG,
            sum(1 << bit for bit in sign.screens),
            tuple((bit, needs[bit]) for bit in sign.screens),
        )
        for sign, was in zip(world.signs[-2:], seen, strict=True)
    ]
    early = 1.0 if stopped else 0.0
    return replace(
        blank, stop_weights=dict.fromkeys(range(3), early), other_stops=1.0 - early, signs=tuple(asked_signs)
    )


def draw_reports(seed):
    """Evidence whose faults and reports are drawn from the very model that weighs it."""
    world, roots, blank = draw_world(seed)
    rng, truth = world.rng, world.truth
    states = []
    for root in roots:
        start = root.start[tuple(truth[name] for name in root.given)]
        states.append(draw_path(world, root, int(rng.choice(len(start), p=start / start.sum()))))
    readings = []
    for reading in blank:
        now = [path_state(root, path, reading.time) for root, path in zip(roots, states, strict=True)]
        total = draw_total(rng, roots, now, reading)
        seen = [rng.random() < (RIGHT if shows(total, sign, world.signs) else WRONG) for sign in world.signs[-2:]]
        readings.append(reported(world, reading, total.stop <= 2, seen))
    return Evidence(world.contexts, roots, tuple(readings))


JOBS = 200


@pytest.fixture(scope="module")
def right_model():
    """The conflicts of jobs that were drawn from the model that weighs them."""
    return [find_conflict(asked(draw_reports(seed))) for seed in range(JOBS)]


def test_under_a_right_model_at_most_one_job_in_twenty_raises_an_alarm(right_model):
    assert sum(found.log_m >= found.log_alarm for found in right_model) <= JOBS / 20
    assert sum(found.log_since >= found.log_since_alarm for found in right_model) <= JOBS / 20


@pytest.mark.parametrize("m", [2, 5, 20])
def test_under_a_right_model_m_ever_reaches_a_limit_in_at_most_that_share_of_jobs(right_model, m):
    """Ville's inequality; the share found may be larger by three standard errors."""
    share = np.mean([max(course(found)) >= log(m) for found in right_model])
    assert share <= 1 / m + 3 * np.sqrt(1 / m * (1 - 1 / m) / JOBS)


def draw_mixed(seed):
    """Each report is drawn from a fresh machine of the same make, so that they need not agree."""
    world, roots, blank = draw_world(seed)
    readings = []
    for reading in blank:
        states = [int(world.rng.choice(len(root.states), p=root.start[(0,) * len(root.given)])) for root in roots]
        total = draw_total(world.rng, roots, states, reading)
        seen = [shows(total, sign, world.signs) for sign in world.signs[-2:]]
        readings.append(reported(world, reading, total.stop <= 2, seen))
    return Evidence(world.contexts, roots, tuple(readings))


def test_reports_of_changing_machines_are_in_conflict_more_often_than_those_of_one(right_model):
    drawn = [asked(draw_mixed(seed)) for seed in range(60)]
    mixed = [find_conflict(retold) for retold in drawn if isfinite(retold.log_p(retold.order))]
    share = np.mean([found.log_m >= 1.0 for found in mixed])
    assert share > 3 * np.mean([found.log_m >= 1.0 for found in right_model])
    assert any(found.is_alarm for found in mixed)


@pytest.mark.parametrize("seed", range(6))
def test_the_mean_of_m_over_all_that_could_be_reported_is_no_more_than_one(seed):
    """Summed over every report of three runs: what makes M a (super)martingale, exactly."""
    world, roots, blank = draw_world(seed)
    kinds = [(stopped, seen) for stopped in (True, False) for seen in product((True, False), repeat=2)]
    mean = p_alarm = p_all = 0.0
    for told in product(kinds, repeat=2):
        readings = tuple(reported(world, one, *what) for one, what in zip(blank[:2], told, strict=True))
        evidence = with_readings(Evidence(world.contexts, roots, readings), readings)
        retold = asked(evidence)
        p = exp(retold.log_p([reading.id for reading in readings]))
        p_all += p
        if p > 0:
            found = find_conflict(retold)
            mean += p * exp(found.log_m)
            p_alarm += p * (found.log_m >= found.log_alarm)
    assert p_all == pytest.approx(1.0, abs=1e-9)
    assert mean <= 1.0 + 1e-9
    assert p_alarm <= 1 / 20
