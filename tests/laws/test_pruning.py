"""What a pruned answer may promise: the probability that it dropped is no more than it says."""

import numpy as np
import pytest
from judges import weigh_all
from laws.evidence_cases import JOB, RICH_JOB, Size, draw_case
from oracles import enumerate_evidence

from halfsplit.infer import weigh

ROUNDING = 1e-9
LIMITS = (8, 20, 50)
DEFAULT_TARGET = 0.01
MANY_CONTEXTS = Size((2, 3), (1, 3), (1, 4), (3, 4), (0, 4))
VOID_JOB = Size((5, 7), (1, 2), (3, 5), (0, 1), (0, 2), p_touched=0.5, p_repeated=0.1, p_void=0.8)
CASES = [(seed, limit) for seed in range(20) for limit in LIMITS]


@pytest.fixture(scope="module")
def exact():
    """seed -> the unpruned posterior of a drawn job."""
    return {seed: weigh_all(draw_case(seed, JOB).evidence) for seed in range(20)}


@pytest.mark.parametrize(("seed", "limit"), CASES)
def test_what_is_dropped_is_within_the_bound(seed, limit, exact):
    evidence = draw_case(seed, JOB).evidence
    pruned, p = weigh(evidence, limit=limit), exact[seed].p_readings
    assert 0 <= pruned.bound_share <= 1
    assert pruned.p_readings <= p * (1 + ROUNDING)
    assert p - pruned.p_readings <= pruned.bound_share * p * (1 + ROUNDING) + ROUNDING * p


@pytest.mark.parametrize(("seed", "limit"), CASES)
def test_no_answer_is_off_by_more_than_the_bound(seed, limit, exact):
    """Dropping a share b of the probability moves no posterior probability by more than b."""
    evidence = draw_case(seed, JOB).evidence
    pruned = weigh(evidence, limit=limit)
    if pruned.p_readings == 0:
        assert pruned.bound_share == 1
        return
    for root in evidence.roots:
        moved = np.abs(np.asarray(pruned.p_states(root.id)) - exact[seed].p_states(root.id))
        assert moved.max() <= pruned.bound_share + ROUNDING


@pytest.mark.parametrize("seed", range(12))
def test_what_void_reports_leave_open_is_within_the_bound_as_well(seed):
    evidence = draw_case(seed, VOID_JOB).evidence
    p = weigh_all(evidence).p_readings
    for limit in LIMITS:
        pruned = weigh(evidence, limit=limit)
        assert p * (1 - pruned.bound_share) * (1 - ROUNDING) <= pruned.p_readings <= p * (1 + ROUNDING)


def test_the_small_limits_do_prune():
    """Else the tests before this one would ask nothing."""
    shares = [weigh(draw_case(seed, JOB).evidence, limit=LIMITS[0]).bound_share for seed in range(20)]
    assert sum(share > 0 for share in shares) >= 5


@pytest.mark.parametrize("seed", range(6))
def test_what_different_limits_promise_can_be_true_together(seed):
    """Each answer and its bound enclose P(readings); this is too rich a job to do without pruning."""
    evidence = draw_case(seed, RICH_JOB).evidence
    every = [weigh(evidence, limit=limit) for limit in (*LIMITS, 1_000, None)]
    assert every[0].bound_share > every[-1].bound_share
    # log P <= log P(readings) <= log P - log(1 - share)
    at_most = min(said.log_p - np.log1p(-said.bound_share) for said in every if said.bound_share < 1)
    assert max(said.log_p for said in every) <= at_most + ROUNDING


@pytest.mark.parametrize("seed", range(20))
def test_without_a_limit_next_to_nothing_is_dropped(seed, exact):
    said = weigh(draw_case(seed, JOB).evidence)
    assert said.bound_share <= DEFAULT_TARGET
    assert said.p_readings == pytest.approx(exact[seed].p_readings, rel=2 * DEFAULT_TARGET)
    assert exact[seed].bound_share == 0


@pytest.mark.parametrize("seed", [10, 45, 89, 138])
def test_context_values_that_were_not_looked_at_count_as_dropped(seed):
    """Above 64 joint values of the contexts some are left out; these cases have 81."""
    evidence = draw_case(seed, MANY_CONTEXTS).evidence
    said, p = weigh_all(evidence), float(enumerate_evidence(evidence).p_readings)
    assert said.p_readings < p * (1 - ROUNDING)
    assert p - said.p_readings <= said.bound_share * p * (1 + ROUNDING)
