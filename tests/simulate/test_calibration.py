"""Scores of claims, against published examples and tables, and against claims that are true by making."""

import numpy as np
import pytest

from halfsplit.simulate.calibration import (
    Claim,
    brier,
    calibration_error,
    curve,
    error_by_chance,
    excess,
    interval,
    parts_of_brier,
    worth,
)

RAIN = ((0.7, 0), (0.9, 1), (0.8, 1), (0.4, 1), (0.2, 0), (0.0, 0), (0.0, 0), (0.0, 0), (0.0, 0), (0.1, 0))
"""Brier, Verification of forecasts expressed in terms of probability, Monthly Weather Review 78 (1950), table 1."""


def claims(pairs, per_job=1):
    return [Claim(number // per_job, p, bool(so)) for number, (p, so) in enumerate(pairs)]


def true_claims(rng, many, per_job=1):
    p = rng.beta(0.3, 2.0, many)
    return claims(zip(p.tolist(), (rng.random(many) < p).tolist(), strict=True), per_job)


def test_the_score_is_that_of_briers_own_example():
    assert 2.0 * brier(claims(RAIN)).score == pytest.approx(0.19)  # he adds up both classes, rain and no rain


def test_what_the_claims_expect_of_the_score_and_how_far_it_is_off_is_worked_by_hand():
    got = brier(claims([(0.8, 1), (0.8, 0), (0.4, 0)]))
    assert got.score == pytest.approx((0.04 + 0.64 + 0.16) / 3.0)
    assert got.expected == pytest.approx((0.16 + 0.16 + 0.24) / 3.0)
    off = (0.04 - 0.16, 0.64 - 0.16, 0.16 - 0.24)
    assert got.z == pytest.approx(sum(off) / sum(each * each for each in off) ** 0.5)


def test_claims_about_one_job_count_as_one():
    alike = [(0.3, 1), (0.3, 1), (0.3, 0), (0.3, 0)]
    assert excess(claims(alike))[2] == pytest.approx(0.8 / (2 * 0.49 + 2 * 0.09) ** 0.5)
    assert excess(claims(alike, per_job=2))[2] == pytest.approx(0.8 / (1.4**2 + 0.6**2) ** 0.5)


def test_the_parts_of_a_score_add_up_to_it():
    # Murphy, A new vector partition of the probability score, Journal of Applied Meteorology 12 (1973).
    for seed in range(5):
        rng = np.random.default_rng(seed)
        drawn = [Claim(claim.job, round(claim.p, 1), claim.is_so) for claim in true_claims(rng, 300)]
        parts = parts_of_brier(drawn)
        assert parts.reliability - parts.resolution + parts.uncertainty == pytest.approx(brier(drawn).score)
        assert min(parts.reliability, parts.resolution, parts.uncertainty) >= 0.0


@pytest.mark.parametrize(
    ("so", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_the_interval_of_a_share_is_that_of_the_table(so, of, low, high):
    # Newcombe, Two-sided confidence intervals for the single proportion, Statistics in Medicine 17 (1998), table I,
    # method 3 (Wilson's score without a correction).
    assert interval(so / of, of) == pytest.approx((low, high), abs=6e-5)


def test_claims_are_worth_fewer_where_a_job_brings_several_alike_and_never_more_than_they_are():
    so = np.repeat([1.0, 0.0, 1.0, 0.0, 0.0, 1.0], 4)
    job = np.repeat(np.arange(6), 4)
    # Kish, Survey Sampling (1965): the design effect of clusters of m, all alike, is m; 5/6 is for few clusters.
    assert worth(so, job) == pytest.approx(24.0 / 4.0 * 5.0 / 6.0)
    assert worth(np.array([1.0, 0.0] * 12), job) == 24.0
    assert worth(np.ones(24), job) == 6.0
    assert worth(np.array([1.0, 0.0]), np.array([3, 3])) == 1.0


def test_claims_lie_in_their_bins_and_the_error_is_how_far_these_are_off():
    bins = curve(claims([(0.02, 0), (0.68, 1), (0.72, 1), (0.70, 0), (0.75, 1), (1.0, 1)]))
    assert [(one.many, round(one.claimed, 3), round(one.right, 3)) for one in bins] == [
        (1, 0.02, 0.0),
        (3, 0.7, 0.667),
        (1, 0.75, 1.0),
        (1, 1.0, 1.0),
    ]
    assert calibration_error(bins) == pytest.approx((0.02 + 3 * (0.7 - 2 / 3) + 0.25) / 6.0)
    assert all(one.low <= one.right <= one.high for one in bins)


def test_true_claims_hold_and_claims_that_say_too_much_do_not():
    rng = np.random.default_rng(8)
    drawn = true_claims(rng, 4000, per_job=10)
    bins = curve(drawn)
    assert sum(one.holds for one in bins) >= len(bins) - 2
    assert abs(brier(drawn).z) < 3.0
    assert abs(excess(drawn)[2]) < 3.0
    assert calibration_error(bins) < 2.5 * error_by_chance(drawn, rng)
    boasted = [Claim(claim.job, claim.p**0.5, claim.is_so) for claim in drawn]
    assert excess(boasted)[2] < -10.0
    assert sum(one.holds for one in curve(boasted)) < len(bins) / 2
    assert calibration_error(curve(boasted)) > 5.0 * error_by_chance(boasted, rng)
