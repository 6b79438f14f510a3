"""The CMOS battery: from which voltage on it is good, and from which it is replaced."""

from dataclasses import dataclass
from enum import StrEnum

from halfsplit.errors import MeasurementError, Mistake
from halfsplit.measure.meter import check_reading


class CoinCellGrade(StrEnum):
    """What to think of a coin cell."""

    GOOD = "good"
    MARGINAL = "marginal"
    REPLACE = "replace"


@dataclass(frozen=True)
class CoinCellThresholds:
    """Bench thresholds of a coin cell: a habit, not a standard, so there is no guard band.

    Args:
        good_above_volts: above this the cell is good.
        replace_below_volts: below this it is replaced; in between it is marginal.
        source: where the two are from.

    Raises:
        MeasurementError: HS511, the two are not above 0 and in order.

    Example:
        >>> str(CoinCellThresholds(good_above_volts=3.0, replace_below_volts=2.7).grade(2.95))
        'marginal'
    """

    good_above_volts: float
    replace_below_volts: float
    source: str = "set by the bench"

    def __post_init__(self) -> None:
        if not 0 < self.replace_below_volts < self.good_above_volts <= 5:
            raise MeasurementError(
                [
                    Mistake(
                        "coin cell thresholds",
                        "HS511",
                        f"good above {self.good_above_volts:g} V, replace below {self.replace_below_volts:g} V",
                        "both must lie between 0 and 5 V, and replace below good",
                        "Correct them, such as 2.9 V and 2.6 V",
                    )
                ]
            )

    def grade(self, reading_volts: float) -> CoinCellGrade:
        """Return what to think of a cell.

        Args:
            reading_volts: across the cell, out of its holder or with the lead out, in volts, >= 0.

        Returns:
            Good, marginal or replace; a reading on a threshold is marginal.

        Raises:
            MeasurementError: HS507, the reading is not one; HS512, it is below 0.

        Example:
            >>> str(CR2032.grade(3.05)), str(CR2032.grade(2.9)), str(CR2032.grade(2.4))
            ('good', 'marginal', 'replace')
        """
        check_reading(reading_volts)
        if reading_volts < 0:
            raise MeasurementError(
                [
                    Mistake(
                        "reading",
                        "HS512",
                        f"it is {reading_volts:g} V",
                        "a cell reads above 0 V with the red probe on its plus side",
                        "Swap the probes and measure again",
                    )
                ]
            )
        if reading_volts > self.good_above_volts:
            return CoinCellGrade.GOOD
        if reading_volts < self.replace_below_volts:
            return CoinCellGrade.REPLACE
        return CoinCellGrade.MARGINAL


# From memory, not confirmed: no standard says when to replace a cell.  Editable.
CR2032 = CoinCellThresholds(2.9, 2.6, "common practice, not confirmed")
