"""Readings that cannot all be true are refused, with a smallest set of them that cannot."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from judges import weigh_all, with_readings
from laws.evidence_cases import STEADY, draw_case
from oracles import enumerate_evidence

from halfsplit.errors import ImpossibleReadingsError
from halfsplit.infer import log_p_readings
from halfsplit.model.evidence import Acts, Effect, Evidence, Reading, Root, SignAsked


def only(evidence, names):
    return with_readings(evidence, (reading for reading in evidence.readings if reading.id in names))


def is_possible(evidence):
    return enumerate_evidence(evidence).p_readings > 0


@cache
def contradictions():
    """Drawn cases in which some signs were reported the wrong way round, so that they cannot be.

    In half of them no reading is impossible alone.
    """
    lone, joint = [], []
    for seed in range(1_000):
        if min(len(lone), len(joint)) >= 20:
            break
        rng = np.random.default_rng(seed)
        evidence = draw_case(seed, STEADY).evidence
        readings = tuple(
            replace(
                reading,
                signs=tuple(
                    replace(sign, if_visible=sign.if_not, if_not=sign.if_visible) if rng.random() < 0.3 else sign
                    for sign in reading.signs
                ),
            )
            for reading in evidence.readings
        )
        turned = replace(evidence, readings=readings)
        if not is_possible(turned):
            is_lone = any(not is_possible(only(turned, {reading.id})) for reading in readings)
            (lone if is_lone else joint).append(turned)
    return [*lone[:20], *joint[:20]]


@pytest.mark.parametrize("number", range(40))
def test_the_readings_named_cannot_be_and_without_any_one_of_them_can(number):
    evidence = contradictions()[number]
    with pytest.raises(ImpossibleReadingsError) as refused:
        weigh_all(evidence)
    named = refused.value.readings
    assert set(named) <= {reading.id for reading in evidence.readings}
    assert len(set(named)) == len(named)
    assert not is_possible(only(evidence, named))
    for name in named:
        assert is_possible(only(evidence, set(named) - {name}))


def test_a_very_small_p_is_not_an_impossible_one():
    many = tuple(Reading(f"run{n}", n, signs=(SignAsked(0, 0, 1e-3, 1e-5),)) for n in range(400))
    shows = {reading.id: (None, Acts(((1.0, Effect(shown=1)),))) for reading in many}
    evidence = Evidence((), (Root("fault", ("absent", "present"), np.array([0.9, 0.1]), shows),), many)
    said = weigh_all(evidence)
    assert said.log_p == pytest.approx(400 * np.log(1e-3) + np.log(0.1), rel=1e-12)
    assert log_p_readings(evidence) == pytest.approx(said.log_p, rel=1e-12)
    assert said.p_now("fault") == pytest.approx(1, rel=0, abs=1e-12)
