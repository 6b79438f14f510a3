"""Limits, sorted by value, either side open."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.errors import MeasurementError
from halfsplit.measure import Limits


@pytest.mark.parametrize(
    ("low_volts", "high_volts"),
    [(-10.80, -13.20), (5.0, 5.0), (None, None), (math.nan, 5.0), (0.0, math.inf), (-math.inf, math.nan)],
)
def test_what_is_no_range_is_refused(low_volts: float | None, high_volts: float | None) -> None:
    with pytest.raises(MeasurementError) as refusal:
        Limits(low_volts, high_volts)
    assert {mistake.code for mistake in refusal.value.mistakes} == {"HS501"}


def test_both_wrong_sides_are_named_at_once() -> None:
    with pytest.raises(MeasurementError) as refusal:
        Limits(math.nan, math.inf)
    assert [mistake.place for mistake in refusal.value.mistakes] == ["limits, high", "limits, low"]


def test_an_open_side_contains_everything_on_it() -> None:
    assert Limits(None, 0.8).contains(-900.0)
    assert Limits(2.4, None).contains(900.0)
    assert not Limits(2.4, None).contains(2.39)


def test_an_open_side_stays_open_when_the_other_moves() -> None:
    assert Limits(None, 0.8).drawn_in(0.1) == Limits(None, 0.8 - 0.1, "set by the bench, each side 0.1 V in")
    assert Limits(2.4, None).pushed_out(0.1).high_volts is None


@given(st.floats(-20, 20), st.floats(0.01, 5), st.floats(0.0001, 5))
def test_drawn_in_is_inside_and_pushed_out_is_outside(
    low_volts: float, width_volts: float, guard_band_volts: float
) -> None:
    limits = Limits(low_volts, low_volts + width_volts)
    wide = limits.pushed_out(guard_band_volts)
    assert wide.contains(limits.low_end_volts)
    assert wide.contains(limits.high_end_volts)
    narrow = limits.drawn_in(guard_band_volts)
    if narrow is None:
        assert guard_band_volts == pytest.approx(width_volts / 2) or guard_band_volts > width_volts / 2
    else:
        assert limits.contains(narrow.low_end_volts)
        assert limits.contains(narrow.high_end_volts)


def test_moved_limits_say_where_they_are_from() -> None:
    narrow = Limits(4.75, 5.25, "the board's manual", "1.1").drawn_in(0.05)
    assert narrow is not None
    assert (narrow.source, narrow.revision) == ("the board's manual, each side 0.05 V in", "1.1")
