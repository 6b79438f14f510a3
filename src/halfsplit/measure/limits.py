"""Limits: between which two values a voltage is as it should be."""

import math
from dataclasses import dataclass

from halfsplit.errors import MeasurementError, Mistake


@dataclass(frozen=True)
class Limits:
    """A lower and an upper limit, with where they are from.

    The two are sorted by value.  So the limits of the -12 V rail are -13.20 (low) and -10.80
    (high), although -10.80 is the smaller magnitude.

    Args:
        low_volts: lower limit in volts, finite; None if that side is open.
        high_volts: upper limit in volts, finite, above the lower one; None if that side is open.
        source: the document and the table, or who set them.
        revision: the revision of the document that they are from; empty if it has none.

    Raises:
        MeasurementError: HS501, the two do not make limits.

    Example:
        >>> Limits(-13.20, -10.80).contains(-12.1)
        True
    """

    low_volts: float | None
    high_volts: float | None
    source: str = "set by the bench"
    revision: str = ""

    def __post_init__(self) -> None:
        mistakes = []
        if self.low_volts is None and self.high_volts is None:
            mistakes.append(
                Mistake(
                    "limits",
                    "HS501",
                    "both sides are open",
                    "at least one limit must be there",
                    "Give a low or a high limit",
                )
            )
        for side, limit_volts in (("low", self.low_volts), ("high", self.high_volts)):
            if limit_volts is not None and not math.isfinite(limit_volts):
                mistakes.append(
                    Mistake(
                        f"limits, {side}",
                        "HS501",
                        f"the limit is {limit_volts}",
                        "a limit must be a finite number of volts",
                        "Correct it, or leave this side open",
                    )
                )
        if (
            not mistakes
            and self.low_volts is not None
            and self.high_volts is not None
            and self.low_volts >= self.high_volts
        ):
            mistakes.append(
                Mistake(
                    "limits",
                    "HS501",
                    f"the low limit {self.low_volts:g} V is not below the high limit {self.high_volts:g} V",
                    "limits are sorted by value, so that -13.2 V is below -10.8 V",
                    "Swap or correct them",
                )
            )
        if mistakes:
            raise MeasurementError(mistakes)

    @property
    def low_end_volts(self) -> float:
        """The lower limit in volts, minus infinity if that side is open.

        Example:
            >>> Limits(None, 0.8).low_end_volts
            -inf
        """
        return -math.inf if self.low_volts is None else self.low_volts

    @property
    def high_end_volts(self) -> float:
        """The upper limit in volts, infinity if that side is open.

        Example:
            >>> Limits(2.4, None).high_end_volts
            inf
        """
        return math.inf if self.high_volts is None else self.high_volts

    def contains(self, voltage_volts: float) -> bool:
        """Return whether a voltage lies inside the limits; a limit itself is inside.

        Args:
            voltage_volts: any number of volts.

        Returns:
            True inside and on the limits.

        Example:
            >>> Limits(4.75, 5.25).contains(4.75), Limits(None, 0.8).contains(0.9)
            (True, False)
        """
        return self.low_end_volts <= voltage_volts <= self.high_end_volts

    def drawn_in(self, guard_band_volts: float) -> "Limits | None":
        """Return the limits with each side drawn in by a guard band.

        Args:
            guard_band_volts: by how much, in volts, finite, >= 0.

        Returns:
            The narrower limits; None if nothing is left between them.

        Notes:
            The acceptance interval of ILAC-G8 and JCGM 106: AL = TL + w and TU - w.

        Example:
            >>> narrow = Limits(11.40, 12.60).drawn_in(0.065)
            >>> round(narrow.low_volts, 3), round(narrow.high_volts, 3)
            (11.465, 12.535)
            >>> Limits(3.14, 3.47).drawn_in(0.2) is None
            True
        """
        if self.low_end_volts + guard_band_volts >= self.high_end_volts - guard_band_volts:
            return None
        return self._moved(guard_band_volts)

    def pushed_out(self, guard_band_volts: float) -> "Limits":
        """Return the limits with each side pushed out by a guard band.

        Args:
            guard_band_volts: by how much, in volts, finite, >= 0.

        Returns:
            The wider limits.  A reading beyond *them* is surely beyond the limits.

        Example:
            >>> wide = Limits(11.40, 12.60).pushed_out(0.065)
            >>> round(wide.low_volts, 3), round(wide.high_volts, 3)
            (11.335, 12.665)
        """
        return self._moved(-guard_band_volts)

    def _moved(self, inward_volts: float) -> "Limits":
        return Limits(
            None if self.low_volts is None else self.low_volts + inward_volts,
            None if self.high_volts is None else self.high_volts - inward_volts,
            f"{self.source}, each side {abs(inward_volts):.4g} V {'in' if inward_volts > 0 else 'out'}",
            self.revision,
        )
