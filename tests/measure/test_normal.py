"""The normal curve keeps its digits where floats run out."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.measure.normal import log_density, log_p_above, log_p_between


def slow_log_p_above(z: float) -> float:
    """Laplace's continued fraction for the tail, from the inside out; for z > 2."""
    fraction = z
    for k in range(2000, 0, -1):
        fraction = z + k / fraction
    return log_density(z) - math.log(fraction)


@given(st.floats(2, 1000))
def test_tail_agrees_with_the_continued_fraction(z: float) -> None:
    assert log_p_above(z) == pytest.approx(slow_log_p_above(z), rel=1e-13)


@given(st.floats(34.9, 35.1))
def test_tail_has_no_step_where_the_series_takes_over(z: float) -> None:
    assert log_p_above(z) == pytest.approx(slow_log_p_above(z), rel=1e-15, abs=1e-12)


@given(st.floats(-30, 30))
def test_above_and_below_add_up_to_one(z: float) -> None:
    assert math.exp(log_p_above(z)) + math.exp(log_p_above(-z)) == pytest.approx(1, abs=1e-15)


@given(st.floats(-300, 300), st.floats(0.001, 10))
def test_between_is_the_same_seen_from_either_side(low_z: float, width: float) -> None:
    high_z = low_z + width
    assert log_p_between(low_z, high_z) == log_p_between(-high_z, -low_z)


@given(st.floats(-30, 30), st.floats(0.01, 5), st.floats(0.01, 5))
def test_neighbouring_stretches_add_up(low_z: float, first: float, second: float) -> None:
    middle_z = low_z + first
    high_z = middle_z + second
    parts = math.exp(log_p_between(low_z, middle_z)) + math.exp(log_p_between(middle_z, high_z))
    assert parts == pytest.approx(math.exp(log_p_between(low_z, high_z)), rel=1e-10, abs=1e-300)


def test_between_with_open_ends_is_the_tail_or_everything() -> None:
    assert log_p_between(-math.inf, math.inf) == 0
    assert log_p_between(50.0, math.inf) == log_p_above(50.0)
    assert log_p_between(-math.inf, -50.0) == log_p_above(50.0)


@pytest.mark.parametrize(
    ("low_z", "high_z"), [(1.0, 1.0), (1e200, 2e200), (math.inf, math.inf), (1.0, math.nextafter(1.0, 2))]
)
def test_ends_that_floats_cannot_tell_apart_hold_nothing_or_next_to_nothing(low_z: float, high_z: float) -> None:
    assert log_p_between(low_z, high_z) < -30
