"""The advice beside the best of all policies, on drawn small models that nothing was fitted to."""

from functools import partial

import numpy as np
import pytest
from drawn_situations import draw_situation

from halfsplit.plan import HAND_BACK, REPLACE, Situation, rank_actions
from halfsplit.plan.optimum import Optimum, find_optimum, follow_advice

SEEDS = range(100_000, 100_040)
"""None of those that the bench takes."""


@pytest.fixture(scope="module")
def models() -> list[tuple[Situation, Optimum]]:
    drawn = [draw_situation(seed, most_faults=6) for seed in SEEDS]
    return [(each, find_optimum(each)) for each in drawn]


@pytest.fixture(scope="module")
def ratios(models) -> np.ndarray:
    """Cost of following the advice, one step ahead, over that of the best policy."""
    return np.array([follow_advice(each, rank_actions).cents / best.cents for each, best in models])


def test_no_advice_costs_less_than_the_best_policy(ratios):
    assert (ratios >= 1.0 - 1e-9).all()


def test_the_advice_costs_little_more_than_the_best_policy(ratios):
    assert ratios.mean() <= 1.03
    assert np.percentile(ratios, 95) <= 1.15


def test_two_steps_ahead_are_nearer_to_the_best_policy(models, ratios):
    two = [follow_advice(each, partial(rank_actions, depth=2, width=6)).cents / best.cents for each, best in models]
    assert np.mean(two) <= min(ratios.mean(), 1.01)


def test_something_is_done_in_most_of_the_drawn_models(models):
    firsts = [best.first[0] for _, best in models]
    assert sum(first in (HAND_BACK, REPLACE) for first in firsts) <= len(firsts) / 3
    assert sum(first.startswith("check") for first in firsts) >= len(firsts) / 10
