"""Accuracy of digital multimeters as their makers state it: percentage of reading plus digits.

The first row was read in a maker's guide, the next three in second places, the rest is worked out.
"""

import math

import pytest

from halfsplit.measure import Limits, p_in_limits, parse_meter, standard_uncertainty_volts


@pytest.mark.parametrize(
    ("reading_volts", "accuracy", "resolution_volts", "half_width_volts"),
    [
        (120.0, "1%+3", 0.1, 1.5),  # read: 118.5 to 121.5
        (100.0, "1%+2", 0.1, 1.2),  # second place: 98.8 to 101.2
        (2.000, "0.08%+2", 0.001, 0.0036),  # second place: shown as 0.004
        (1.755, "0.5%+1", 0.001, 0.009775),  # second place: 1.745 to 1.765
        (12.05, "0.5%+2", 0.01, 0.08025),
        (5.02, "0.5%+2", 0.01, 0.0451),
        (3.31, "0.5%+2", 0.01, 0.03655),
        (11.42, "0.5%+2", 0.01, 0.0771),
        # One supplier's page drops a decimal here; 0.8 % of 100 V and two steps of 0.1 V are 1 V.
        (100.0, "0.8%+2", 0.1, 1.0),
    ],
)
def test_percent_of_reading_plus_digits(
    reading_volts: float, accuracy: str, resolution_volts: float, half_width_volts: float
) -> None:
    meter = parse_meter(accuracy, resolution_volts=resolution_volts)
    assert meter.half_width_volts(reading_volts) == pytest.approx(half_width_volts)


def test_11_42_volts_is_above_11_40_with_probability_0_673() -> None:
    half_width_volts = parse_meter("0.5%+2", resolution_volts=0.01).half_width_volts(11.42)
    # Rectangular, JCGM 100:2008, 4.3.7.
    assert standard_uncertainty_volts(half_width_volts) == pytest.approx(0.0771 / math.sqrt(3))
    assert standard_uncertainty_volts(half_width_volts) == pytest.approx(0.04451, abs=5e-6)
    assert p_in_limits(11.42, half_width_volts, Limits(11.40, 12.60)) == pytest.approx(0.673, abs=5e-4)


@pytest.mark.parametrize(("limit_volts", "loss_volts"), [(11.40, 0.077), (12.60, 0.083)])
def test_the_half_width_at_the_limits_of_the_12_volt_rail(limit_volts: float, loss_volts: float) -> None:
    meter = parse_meter("0.5%+2", resolution_volts=0.01)
    assert meter.half_width_volts(limit_volts) == pytest.approx(loss_volts, abs=5e-4)
