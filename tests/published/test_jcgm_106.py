"""JCGM 106:2012, The role of measurement uncertainty in conformity assessment.

The formula of its clause 7 was read.  The set-ups of the two examples are recalled, not read; their
arithmetic was worked out again and agrees with the rounded results that the document is known for.
Its examples are not all in volts: the arithmetic does not mind.
"""

import math

import pytest

from halfsplit.measure import Limits, p_in_limits

ROOT_3 = math.sqrt(3)


def test_the_zener_diode_conforms_with_probability_0_92() -> None:
    # Upper limit -5.40 V, estimate -5.47 V, u = 0.05 V: Phi(1.4) = 0.919243, printed as 0.92.
    p_conforms = p_in_limits(-5.47, 0.05 * ROOT_3, Limits(None, -5.40))
    assert p_conforms == pytest.approx(0.919243, abs=5e-7)
    assert round(p_conforms, 2) == 0.92


def test_a_speed_of_107_is_beyond_100_with_99_9_percent() -> None:
    # Limit 100 km/h, u = 2 % of the reading, one-sided 99.9 %: 106.59, printed as about 107.
    reading = 100 / (1 - 0.02 * 3.09023)
    assert reading == pytest.approx(106.59, abs=0.005)
    assert p_in_limits(reading, 0.02 * reading * ROOT_3, Limits(100.0, None)) == pytest.approx(0.999, abs=1e-7)


def test_a_guard_band_of_1_645_u_risks_5_percent() -> None:
    # The default of ISO 14253-1:2017, recalled: 0.049985.
    assert p_in_limits(1.645, ROOT_3, Limits(None, 0.0)) == pytest.approx(0.049985, abs=5e-7)
