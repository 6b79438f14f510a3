"""ILAC-G8, Guidelines on Decision Rules and Statements of Conformity, beside this project's verdict.

The rule (guard band w = U with k = 2, acceptance from TL + w to TU - w) and its "< 2.5 %" were read
in the document.  The exact 2.275 % and the 12 V figures are worked out from it.
"""

import math

import pytest

from halfsplit.measure import BENCH_METER, Limits, guard_band_volts, judge_rail, p_in_limits

U_065_HALF_WIDTH_VOLTS = 0.065 / 2 * math.sqrt(3)
ROOT_3 = math.sqrt(3)


def test_the_guard_band_is_the_expanded_uncertainty() -> None:
    assert guard_band_volts(U_065_HALF_WIDTH_VOLTS) == pytest.approx(0.065)


def test_u_of_65_millivolts_accepts_12_volts_from_11_465_to_12_535() -> None:
    acceptance = Limits(11.40, 12.60).drawn_in(guard_band_volts(U_065_HALF_WIDTH_VOLTS))
    assert acceptance is not None
    assert (acceptance.low_volts, acceptance.high_volts) == pytest.approx((11.465, 12.535))


def test_the_risk_of_a_false_pass_at_the_edge_is_2_275_percent() -> None:
    p_beyond = p_in_limits(12.535, U_065_HALF_WIDTH_VOLTS, Limits(12.60, None))
    assert p_beyond == pytest.approx(0.02275, abs=5e-6)
    assert p_beyond < 0.025


def test_the_risk_is_2_5_percent_at_1_96_u() -> None:
    assert p_in_limits(-1.96, ROOT_3, Limits(0.0, None)) == pytest.approx(0.025, abs=5e-6)


def test_simple_acceptance_risks_half() -> None:
    assert p_in_limits(12.60, U_065_HALF_WIDTH_VOLTS, Limits(12.60, None)) == pytest.approx(0.5)


def test_a_standard_uncertainty_of_0_8_gives_a_guard_band_of_1_6_and_a_ratio_of_2_5() -> None:
    # An on-line illustration of the rule, read: T = 4.00, u = 0.800, U = 1.600, TUR = 2.50.
    guard_volts = guard_band_volts(0.800 * ROOT_3)
    assert guard_volts == pytest.approx(1.600)
    assert 4.00 / guard_volts == pytest.approx(2.50)


def test_the_default_meter_cannot_tell_at_11_42_volts() -> None:
    # Worked out: the reading is inside 11.40 but not by the guard band.
    verdict = judge_rail("+12V", 11.42, BENCH_METER)
    assert (verdict.verdict, round(verdict.guard_band_volts, 3)) == ("cannot_tell", 0.089)
