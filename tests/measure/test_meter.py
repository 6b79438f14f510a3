"""Meters, and the texts that say how good they are."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.errors import MeasurementError
from halfsplit.measure import BENCH_METER, Meter, parse_meter


@pytest.mark.parametrize(
    "text",
    [
        "0.5%+2",
        "0.5 % + 2",
        "±(0.5% + 2)",
        "+/-(0,5 % of reading + 2 digits)",
        "0.5% rdg + 2 dgts",
        ".5%+2d",
        "0.50 %+2 counts",
    ],
)
def test_an_accuracy_is_read_as_manuals_write_it(text: str) -> None:
    meter = parse_meter(text, resolution_volts=0.01, name="m")
    assert meter == Meter(0.5, 2, 0.01, "m")


def test_a_meter_without_a_name_is_called_by_its_accuracy() -> None:
    assert parse_meter(" 0.5%+2 ", resolution_volts=0.01).name == "0.5%+2"


@pytest.mark.parametrize("text", ["", "0.5%", "0.5+2", "-0.5%+2", "0.5%-2", "nan%+2", "0.5%+2.5", "%+2"])
def test_what_is_no_accuracy_is_refused(text: str) -> None:
    with pytest.raises(MeasurementError, match=r"HS505 .*such as 0\.5%\+2"):
        parse_meter(text, resolution_volts=0.01)


@pytest.mark.parametrize(
    ("percent", "digits", "resolution_volts", "place"),
    [
        (-0.5, 2, 0.01, "meter, percent of reading"),
        (100.0, 2, 0.01, "meter, percent of reading"),
        (math.nan, 2, 0.01, "meter, percent of reading"),
        (0.5, -1, 0.01, "meter, digits"),
        (0.5, 0, 0.01, "meter, digits"),
        (0.5, 10**6, 0.01, "meter, digits"),
        (0.5, 2, 0.0, "meter, resolution"),
        (0.5, 2, -0.01, "meter, resolution"),
        (0.5, 2, math.nan, "meter, resolution"),
        (0.5, 2, math.inf, "meter, resolution"),
    ],
)
def test_a_meter_of_nonsense_is_refused(percent: float, digits: int, resolution_volts: float, place: str) -> None:
    with pytest.raises(MeasurementError) as refusal:
        Meter(percent, digits, resolution_volts)
    assert [(mistake.code, mistake.place) for mistake in refusal.value.mistakes] == [("HS506", place)]


def test_all_that_is_wrong_with_a_meter_is_told_at_once() -> None:
    with pytest.raises(MeasurementError) as refusal:
        Meter(-1.0, 0, 0.0)
    assert len(refusal.value.mistakes) == 3


@pytest.mark.parametrize("reading_volts", [math.nan, math.inf, -math.inf, 11980.0, -1000.1])
def test_what_no_meter_shows_is_refused(reading_volts: float) -> None:
    with pytest.raises(MeasurementError, match="HS507 reading"):
        BENCH_METER.half_width_volts(reading_volts)


def test_a_reading_may_have_more_digits_than_the_meter_shows() -> None:
    assert BENCH_METER.half_width_volts(11.98765) == pytest.approx(0.07993825)


@given(st.floats(-1000, 1000))
def test_half_width_is_positive_and_blind_to_the_sign(reading_volts: float) -> None:
    half_width_volts = BENCH_METER.half_width_volts(reading_volts)
    assert half_width_volts >= 0.02
    assert half_width_volts == BENCH_METER.half_width_volts(-reading_volts)
