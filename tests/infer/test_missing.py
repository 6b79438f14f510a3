"""What was left out is estimated by sampling, within the bound and near the truth."""

import numpy as np
import pytest
from judges import weigh_all
from laws.evidence_cases import JOB, draw_case

from halfsplit.infer import program, weigh
from halfsplit.infer.posterior import WORRYING_SHARE

STANDARD_ERRORS = 5
SMALL_LIMIT = 8


@pytest.mark.parametrize("seed", range(8))
def test_the_estimate_is_near_what_was_really_left_out(seed, monkeypatch):
    monkeypatch.setattr(program, "STAY_SHARE", 0.03)  # so that chance has much to do in small cases
    monkeypatch.setattr(program, "ESTIMATE_PAIRS", 20)
    evidence = draw_case(seed, JOB).evidence
    said, true = weigh(evidence, limit=SMALL_LIMIT), weigh_all(evidence)
    pairs = [
        (one, exact)
        for one, exact in zip(said.groups, true.groups, strict=True)
        if one.dropped > WORRYING_SHARE * one.p > 0
    ]
    for (one, exact), found in zip(pairs, said.estimate(passes=400), strict=True):
        share = np.exp(np.log(exact.p) + exact.program.log_scale - np.log(one.p) - one.program.log_scale)
        assert abs(found.share - share) <= STANDARD_ERRORS * found.standard_error + 1e-9 * share
        assert found.standard_error < 0.5 * share


@pytest.mark.parametrize("seed", range(8))
def test_the_interval_lies_within_the_bound(seed):
    said = weigh(draw_case(seed, JOB).evidence, limit=SMALL_LIMIT)
    missing = said.missing() if said.p_readings else None
    if said.bound_share <= WORRYING_SHARE:
        assert missing is None
    elif missing is not None:
        assert 0.0 <= missing.low <= missing.share <= missing.high <= said.bound_share


@pytest.mark.parametrize("seed", range(8))
def test_p_is_between_what_was_found_and_its_bound_from_above(seed):
    evidence = draw_case(seed, JOB).evidence
    said, true = weigh(evidence, limit=SMALL_LIMIT), weigh_all(evidence)
    assert said.log_p - 1e-9 <= true.log_p <= said.log_p_most + 1e-9
