"""The advice beside the best of all policies, on drawn small models that nothing was fitted to."""

import numpy as np
import pytest
from drawn_situations import draw_situation

from halfsplit.plan import rank_actions
from halfsplit.plan.optimum import find_optimum, follow_advice

SEEDS = range(100_000, 100_040)
"""None of those that the bench takes."""


@pytest.fixture(scope="module")
def costs() -> np.ndarray:
    """Cost of the best policy and of the advice one step ahead, shape (models, 2)."""
    drawn = [draw_situation(seed, most_faults=6) for seed in SEEDS]
    return np.array([[find_optimum(each).cents, follow_advice(each, rank_actions).cents] for each in drawn])


def test_no_advice_costs_less_than_the_best_policy(costs):
    assert (costs[:, 1] >= costs[:, 0] * (1.0 - 1e-9)).all()


def test_the_advice_costs_little_more_than_the_best_policy(costs):
    ratio = costs[:, 1] / costs[:, 0]
    assert ratio.mean() <= 1.03
    assert np.percentile(ratio, 95) <= 1.15


def test_something_is_done_in_most_of_the_drawn_models():
    firsts = [find_optimum(draw_situation(seed, most_faults=6)).first for seed in SEEDS]
    ends = sum(first[0] in ("hand_back", "replace_machine") for first in firsts)
    checks = sum(first[0].startswith("check") for first in firsts)
    assert ends <= len(firsts) / 3
    assert checks >= len(firsts) / 10
