"""The CMOS battery is graded by the bench's own thresholds."""

import math

import pytest

from halfsplit.errors import MeasurementError
from halfsplit.measure import CR2032, CoinCellGrade, CoinCellThresholds


@pytest.mark.parametrize(
    ("reading_volts", "grade"),
    [
        (3.2, CoinCellGrade.GOOD),
        (2.91, CoinCellGrade.GOOD),
        (2.90, CoinCellGrade.MARGINAL),
        (2.60, CoinCellGrade.MARGINAL),
        (2.59, CoinCellGrade.REPLACE),
        (0.0, CoinCellGrade.REPLACE),
    ],
)
def test_a_cell_is_graded_by_its_voltage(reading_volts: float, grade: CoinCellGrade) -> None:
    assert CR2032.grade(reading_volts) is grade


def test_swapped_probes_do_not_condemn_a_good_cell() -> None:
    with pytest.raises(MeasurementError, match=r"HS512 .*Swap the probes"):
        CR2032.grade(-3.05)


def test_a_reading_of_nonsense_is_refused() -> None:
    with pytest.raises(MeasurementError, match="HS507"):
        CR2032.grade(3050.0)


@pytest.mark.parametrize(("good", "replace"), [(2.6, 2.9), (2.9, 2.9), (2.9, 0.0), (9.0, 2.0), (math.nan, 2.6)])
def test_thresholds_out_of_order_are_refused(good: float, replace: float) -> None:
    with pytest.raises(MeasurementError, match="HS511"):
        CoinCellThresholds(good, replace)
