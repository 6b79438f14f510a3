"""What may still complete a row is never underrated, and keeping requirements exactly changes only the rounding."""

import numpy as np
import pytest
from judges import weigh_all
from laws.evidence_cases import JOB, draw_case

from halfsplit.infer import bounds
from halfsplit.infer.bounds import Bounds

ROUNDING = 1e-9
SEEDS = range(12)


def bounds_of(program):
    return Bounds(program.walk, program.steps, program.packing, program.plan, program.closings)


@pytest.mark.parametrize("most_exact", [0, 2, 10])
@pytest.mark.parametrize("seed", SEEDS)
def test_no_row_is_completed_by_more_than_its_bound(seed, most_exact, monkeypatch):
    monkeypatch.setattr(bounds, "_LOST", 0.0)
    monkeypatch.setattr(bounds, "_MOST_EXACT", most_exact)
    for solved in weigh_all(draw_case(seed, JOB).evidence).groups:
        found = bounds_of(solved.program)
        assert solved.p <= found.p * (1 + ROUNDING)
        for level, (table, beta) in enumerate(zip(solved.up.tables, solved.betas, strict=True)):
            most = found.beta(table.node, table.codes, level)
            assert (beta <= most * (1 + ROUNDING)).all()


def test_the_bounds_say_something():
    """Else the test before this one would ask nothing."""
    shares = []
    for seed in SEEDS:
        for solved in weigh_all(draw_case(seed, JOB).evidence).groups:
            table = solved.up.tables[0]
            shares.append(bounds_of(solved.program).beta(table.node, table.codes, 0).min())
    assert min(shares) < 1e-3
    assert np.mean(np.array(shares) < 0.1) > 0.2


@pytest.mark.parametrize("seed", SEEDS)
def test_requirements_kept_exactly_say_the_same_as_those_kept_by_what_is_left(seed, monkeypatch):
    monkeypatch.setattr(bounds, "_LOST", 0.0)
    for solved in weigh_all(draw_case(seed, JOB).evidence).groups:
        monkeypatch.setattr(bounds, "_MOST_EXACT", 10)
        exact = bounds_of(solved.program)
        monkeypatch.setattr(bounds, "_MOST_EXACT", 0)
        left = bounds_of(solved.program)
        for one, other in zip(exact.betas, left.betas, strict=True):
            assert one == pytest.approx(other, rel=ROUNDING, abs=1e-9)
            assert (one <= other * (1 + ROUNDING)).all()
