"""Numbers with one limit or two."""

import math

import pytest

from halfsplit.errors import MeasurementError
from halfsplit.measure import LEAST_WEIGHT, quantity_weights
from halfsplit.measure.likelihood import log_density_beyond


def test_a_number_far_inside_one_limit_rules_out_what_lies_outside():
    weights = quantity_weights(850.0, 42.0, 10.0, None, spread=6.0)
    assert (weights.inside, weights.low) == (1.0, LEAST_WEIGHT)


def test_a_number_on_a_lone_limit_says_about_as_much_for_either_side():
    weights = quantity_weights(2.6, 0.01, 2.6, None, spread=0.6)
    assert 0.4 < weights.inside / weights.low < 1.0


def test_a_number_beyond_an_upper_limit_is_high():
    weights = quantity_weights(99.0, 2.0, None, 95.0, spread=6.0)
    assert weights.high == 1.0
    assert weights.inside < 0.01


def test_a_side_without_a_limit_weighs_as_inside():
    weights = quantity_weights(99.0, 2.0, None, 95.0, spread=6.0)
    assert weights.low == weights.inside


def test_nothing_at_all_is_absent_where_something_should_be():
    weights = quantity_weights(0.0, 0.01, 400.0, None, spread=300.0)
    assert weights.absent == 1.0


@pytest.mark.parametrize("ohms", [1e3, 1e5, 1e6, 4e7, 1e9])
def test_an_open_circuit_is_high_however_it_was_entered(ohms):
    # A handheld meter shows "OL" above 40 or 60 megohms (common practice, no source); it is entered as a large number.
    weights = quantity_weights(ohms, 0.05 * ohms, None, 1.0, spread=50.0)
    assert (weights.high, weights.inside) == (1.0, LEAST_WEIGHT)


@pytest.mark.parametrize("beyond", [-2.0, 0.5, 3.0, 6.0])
def test_near_its_limit_a_number_weighs_as_the_half_normal_alone_within_a_fifth(beyond):
    weights = quantity_weights(95.0 + beyond, 2.0, None, 95.0, spread=6.0)
    half_normal = log_density_beyond(beyond, 6.0, 2.0 / math.sqrt(3))
    uniform = math.log(normal_p_below(-beyond / (2.0 / math.sqrt(3)))) - math.log(95.0)
    assert math.log(weights.high / weights.inside) == pytest.approx(half_normal - uniform, abs=0.2)


def normal_p_below(z):
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


@pytest.mark.parametrize(
    ("reading", "half_width", "low", "high", "spread"),
    [
        (math.nan, 1.0, 0.0, 1.0, 1.0),
        (1.0, 0.0, 0.0, 1.0, 1.0),
        (1.0, 1.0, None, None, 1.0),
        (1.0, 1.0, 0.0, 1.0, -1.0),
        (1.0, 1.0, 0.0, math.inf, 1.0),
    ],
)
def test_what_is_no_number_is_refused(reading, half_width, low, high, spread):
    with pytest.raises(MeasurementError) as caught:
        quantity_weights(reading, half_width, low, high, spread=spread)
    assert [mistake.code for mistake in caught.value.mistakes] == ["HS513"]
