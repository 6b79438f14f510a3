"""The verdict never claims more than the meter can carry."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.errors import MeasurementError
from halfsplit.measure import (
    BENCH_METER,
    Limits,
    Meter,
    Verdict,
    guard_band_volts,
    judge_rail,
    judge_reading,
    p_in_limits,
    standard_uncertainty_volts,
)

METERS = st.builds(Meter, st.floats(0, 5), st.integers(1, 20), st.sampled_from([0.001, 0.01, 0.1]))
LIMITS = st.one_of(
    st.builds(lambda low, width: Limits(low, low + width), st.floats(-15, 15), st.floats(0.01, 3)),
    st.builds(lambda low: Limits(low, None), st.floats(-15, 15)),
    st.builds(lambda high: Limits(None, high), st.floats(-15, 15)),
)
READINGS = st.floats(-20, 20)


def test_the_three_verdicts_on_a_12_volt_rail() -> None:
    said = [str(judge_rail("12v", reading, BENCH_METER).verdict) for reading in (12.0, 11.42, 11.2, 12.9)]
    assert said == ["pass", "cannot_tell", "fail", "fail"]


def test_the_same_reading_is_judged_by_the_revision() -> None:
    assert judge_rail("+12V", 11.30, BENCH_METER, "2.31").verdict is Verdict.FAIL
    assert judge_rail("+12V", 11.30, BENCH_METER, "3.1").verdict is Verdict.PASS


def test_the_negative_rail_is_judged_by_its_sorted_limits() -> None:
    assert judge_rail("-12V", -12.0, BENCH_METER).verdict is Verdict.PASS
    assert judge_rail("-12V", -10.5, BENCH_METER).verdict is Verdict.FAIL
    assert judge_rail("-12V", -10.8, BENCH_METER).verdict is Verdict.CANNOT_TELL
    assert judge_rail("-12V", -13.5, BENCH_METER).verdict is Verdict.FAIL
    assert judge_rail("-12V", 12.0, BENCH_METER).verdict is Verdict.FAIL


def test_a_verdict_carries_what_it_rests_on() -> None:
    verdict = judge_rail("12 V", 11.42, BENCH_METER)
    assert verdict.rail == "+12V"
    assert verdict.limits.low_volts == 11.40
    assert verdict.half_width_volts == pytest.approx(0.0771)
    assert verdict.standard_uncertainty_volts == pytest.approx(0.0771 / math.sqrt(3))
    assert verdict.guard_band_volts == pytest.approx(2 * 0.0771 / math.sqrt(3))
    assert verdict.acceptance is not None
    assert verdict.acceptance.low_volts == pytest.approx(11.40 + verdict.guard_band_volts)
    assert verdict.acceptance.high_volts == pytest.approx(12.60 - verdict.guard_band_volts)
    assert verdict.fail_beyond.low_volts == pytest.approx(11.40 - verdict.guard_band_volts)
    assert verdict.fail_beyond.high_volts == pytest.approx(12.60 + verdict.guard_band_volts)


def test_a_meter_too_coarse_for_the_limits_can_pass_nothing() -> None:
    coarse = Meter(2.0, 5, 0.1)
    verdict = judge_rail("3.3V", 3.30, coarse)
    assert verdict.acceptance is None
    assert verdict.verdict is Verdict.CANNOT_TELL


@given(READINGS, LIMITS, METERS)
def test_pass_and_fail_are_never_guesses(reading_volts: float, limits: Limits, meter: Meter) -> None:
    verdict = judge_reading("a rail", reading_volts, limits, meter)
    if verdict.verdict is Verdict.PASS:
        assert verdict.p_in_limits >= 0.9544
    if verdict.verdict is Verdict.FAIL:
        assert verdict.p_in_limits <= 0.0228


@given(READINGS, LIMITS, METERS)
def test_a_reading_inside_its_limits_never_fails(reading_volts: float, limits: Limits, meter: Meter) -> None:
    verdict = judge_reading("a rail", reading_volts, limits, meter).verdict
    if limits.contains(reading_volts):
        assert verdict is not Verdict.FAIL
    else:
        assert verdict is not Verdict.PASS


@given(READINGS, st.floats(-15, 15), st.floats(0.01, 3), METERS)
def test_a_rail_and_its_mirror_image_are_judged_alike(
    reading_volts: float, low_volts: float, width_volts: float, meter: Meter
) -> None:
    high_volts = low_volts + width_volts
    one = judge_reading("a rail", reading_volts, Limits(low_volts, high_volts), meter)
    other = judge_reading("a rail", -reading_volts, Limits(-high_volts, -low_volts), meter)
    assert (one.verdict, one.p_in_limits) == (other.verdict, other.p_in_limits)


@given(READINGS, st.floats(-15, 15), st.floats(0.01, 3), st.floats(0.001, 1))
def test_below_inside_and_above_add_up_to_one(
    reading_volts: float, low_volts: float, width_volts: float, half_width_volts: float
) -> None:
    high_volts = low_volts + width_volts
    parts = [
        p_in_limits(reading_volts, half_width_volts, limits)
        for limits in (Limits(None, low_volts), Limits(low_volts, high_volts), Limits(high_volts, None))
    ]
    assert sum(parts) == pytest.approx(1, abs=1e-14)


@given(READINGS, st.floats(-15, 15), st.floats(0.01, 3), st.floats(0.01, 1), st.sampled_from([0.25, 2.0, 8.0]))
def test_the_unit_of_volts_does_not_matter(
    reading_volts: float, low_volts: float, width_volts: float, half_width_volts: float, factor: float
) -> None:
    high_volts = low_volts + width_volts
    one = p_in_limits(reading_volts, half_width_volts, Limits(low_volts, high_volts))
    other = p_in_limits(
        reading_volts * factor, half_width_volts * factor, Limits(low_volts * factor, high_volts * factor)
    )
    assert other == pytest.approx(one, rel=1e-12, abs=1e-300)


def test_the_tails_keep_their_digits() -> None:
    # 20 standard uncertainties out: Q(20) by Laplace's continued fraction, as in test_normal.
    half_width_volts = 0.01 * math.sqrt(3)
    above = p_in_limits(12.80, half_width_volts, Limits(None, 12.60))
    below = p_in_limits(11.20, half_width_volts, Limits(11.40, None))
    assert above == pytest.approx(2.7536241e-89, rel=1e-6)
    assert below == pytest.approx(above, rel=1e-10)


@pytest.mark.parametrize("half_width_volts", [0.0, -0.1, math.nan, math.inf])
def test_a_half_width_of_nonsense_is_refused(half_width_volts: float) -> None:
    with pytest.raises(MeasurementError, match="HS508 half width"):
        standard_uncertainty_volts(half_width_volts)
    with pytest.raises(MeasurementError, match="HS508 half width"):
        guard_band_volts(half_width_volts)
    with pytest.raises(MeasurementError, match="HS508 half width"):
        p_in_limits(12.0, half_width_volts, Limits(11.40, 12.60))


def test_a_reading_of_nonsense_is_refused() -> None:
    with pytest.raises(MeasurementError, match="HS507 reading"):
        judge_rail("12v", math.nan, BENCH_METER)
    with pytest.raises(MeasurementError, match="HS507 reading"):
        p_in_limits(math.inf, 0.1, Limits(11.40, 12.60))
