"""The engine says what literal enumeration in exact fractions says."""

import math

import pytest
from judges import ALL_SETS, answers, close, weigh_all
from laws.evidence_cases import draw_case
from oracles import enumerate_evidence

from halfsplit.infer import log_p_readings

ROUNDING = 1e-12


@pytest.mark.parametrize("seed", range(200))
def test_unpruned_the_engine_gives_every_answer_of_the_twin(seed):
    evidence = draw_case(seed).evidence
    said, true = weigh_all(evidence), enumerate_evidence(evidence)
    assert said.bound_share == 0
    # Nothing is subtracted on the way to these: no absolute tolerance.
    assert said.p_readings == pytest.approx(float(true.p_readings), rel=1e-9, abs=0)
    for root in evidence.roots:
        expected = [float(p) for p in true.p_states(root.id)]
        assert said.p_states(root.id) == pytest.approx(expected, rel=1e-9, abs=0)
    assert answers(said, evidence) == close(answers(true, evidence))


@pytest.mark.parametrize("seed", range(40))
def test_the_logarithm_of_p_readings_is_its_logarithm(seed):
    evidence = draw_case(seed).evidence
    log_p = math.log(enumerate_evidence(evidence).p_readings)
    assert weigh_all(evidence).log_p == pytest.approx(log_p, rel=0, abs=1e-9)
    assert log_p_readings(evidence, limit=0) == pytest.approx(log_p, rel=0, abs=1e-9)


SETS_DROPPED = 1e-4
"""The sets may leave out very small shares, and say how much; more than this is too much."""


@pytest.mark.parametrize("seed", range(200))
def test_the_sets_are_those_of_the_twin_but_for_what_they_say_is_left_out(seed):
    evidence = draw_case(seed).evidence
    said, true = weigh_all(evidence), enumerate_evidence(evidence)
    found, expected = dict(said.sets(ALL_SETS)), dict(true.sets(ALL_SETS))
    assert 0 <= said.sets_bound <= SETS_DROPPED
    assert len(found) == len(said.sets(ALL_SETS))
    short = {faults: float(p) - found.pop(faults, 0.0) for faults, p in expected.items()}
    assert not any(found.values())
    assert all(-ROUNDING <= left_out <= said.sets_bound + ROUNDING for left_out in short.values())
    assert sum(short.values()) <= said.sets_bound + ROUNDING


@pytest.mark.parametrize("seed", range(40))
def test_sets_come_best_first_and_asking_for_fewer_gives_the_first_of_them(seed):
    said = weigh_all(draw_case(seed).evidence)
    every = said.sets(ALL_SETS)
    assert [p for _, p in every] == sorted((p for _, p in every), reverse=True)
    assert said.sets(3) == every[:3]
