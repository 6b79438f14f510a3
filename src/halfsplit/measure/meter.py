"""A voltmeter: how far a reading may be from the truth.

The makers of meters state the accuracy as a percentage of the reading plus a count of the last
digit: 0.5 % + 2 on a range that shows hundredths of a volt means that 11.42 V stands for
anything from 11.343 to 11.497 V.
"""

import re
from dataclasses import dataclass

from halfsplit.errors import MeasurementError, Mistake

# A hand-held meter is rated to this at most.  A larger number is a slip: millivolts, or a lost point.
MOST_READING_VOLTS = 1000.0
# No meter at a bench shows finer than a nanovolt, or counts in steps of more than 100 V.
_FINEST_RESOLUTION_VOLTS = 1e-9
_COARSEST_RESOLUTION_VOLTS = 100.0
_MOST_DIGITS = 1000

_ACCURACY = re.compile(
    r"(?:±|\+/-|\+-)?\(?"
    r"(?P<percent>\d+(?:\.\d*)?|\.\d+)%(?:of)?(?:the)?(?:reading|rdg)?"
    r"\+(?P<digits>\d+)(?:d|dgts?|digits?|counts?|lsd)?\)?"
)


@dataclass(frozen=True)
class Meter:
    """One range of a digital voltmeter.

    Args:
        percent_of_reading: that part of the accuracy that grows with the reading, in percent,
            0 or more and below 100.
        digits: that part that does not, in steps of the last digit shown, 1 to 1000.  It is never
            0: the last digit itself is rounded.
        resolution_volts: one step of the last digit in this range, 1e-9 to 100 volts.
        name: what to call it on paper.

    Raises:
        MeasurementError: HS506, once for each number that makes no sense.

    Example:
        >>> Meter(0.5, 2, 0.01, "yellow meter").half_width_volts(5.02)
        0.0451
    """

    percent_of_reading: float
    digits: int
    resolution_volts: float
    name: str = "meter"

    def __post_init__(self) -> None:
        mistakes = []
        if not 0 <= self.percent_of_reading < 100:
            mistakes.append(
                Mistake(
                    "meter, percent of reading",
                    "HS506",
                    f"it is {self.percent_of_reading:g}",
                    "it must be 0 or more and below 100",
                    "Take it from the table of accuracies in the meter's manual",
                )
            )
        if not 1 <= self.digits <= _MOST_DIGITS:
            mistakes.append(
                Mistake(
                    "meter, digits",
                    "HS506",
                    f"it is {self.digits}",
                    f"it must be 1 to {_MOST_DIGITS}, because the last digit is rounded",
                    "Take it from the table of accuracies in the meter's manual",
                )
            )
        if not _FINEST_RESOLUTION_VOLTS <= self.resolution_volts <= _COARSEST_RESOLUTION_VOLTS:
            mistakes.append(
                Mistake(
                    "meter, resolution",
                    "HS506",
                    f"it is {self.resolution_volts:g} V",
                    f"it must be {_FINEST_RESOLUTION_VOLTS:g} to {_COARSEST_RESOLUTION_VOLTS:g} V",
                    "Give one step of the last digit in volts, such as 0.01",
                )
            )
        if mistakes:
            raise MeasurementError(mistakes)

    def half_width_volts(self, reading_volts: float) -> float:
        """Return how far the truth may be from a reading, to either side.

        Args:
            reading_volts: what the meter shows, in volts, at most 1000 to either side.  It may
                have more digits than the meter shows.

        Returns:
            |reading| x percent / 100 + digits x resolution, in volts, > 0.

        Raises:
            MeasurementError: HS507, a meter cannot have shown that.

        Notes:
            The way every meter's manual states it.  Exact to rounding.

        Example:
            >>> round(Meter(0.5, 2, 0.01).half_width_volts(11.42), 4)
            0.0771
        """
        check_reading(reading_volts)
        return abs(reading_volts) * self.percent_of_reading / 100 + self.digits * self.resolution_volts


# A common hand-held meter on its 20 V or 60 V range; common practice, editable.
BENCH_METER = Meter(0.5, 2, 0.01, "bench meter, 0.5 % + 2 at 0.01 V")


def parse_meter(text: str, *, resolution_volts: float, name: str = "") -> Meter:
    """Return the meter whose accuracy was written as a manual writes it.

    Args:
        text: ``0.5%+2``, ``0.5 % + 2``, ``±(0.5 % of reading + 2 digits)`` and the like.
        resolution_volts: one step of the last digit in this range, 1e-9 to 100 volts.
        name: what to call it on paper; if empty, the text.

    Returns:
        The meter.

    Raises:
        MeasurementError: HS505, the text is no accuracy; HS506, one of its numbers makes no sense.

    Example:
        >>> parse_meter("0.08% + 2", resolution_volts=0.001).half_width_volts(2.000)
        0.0036
    """
    match = _ACCURACY.fullmatch(re.sub(r"\s", "", text.lower()).replace(",", "."))
    if not match:
        raise MeasurementError(
            [
                Mistake(
                    "meter",
                    "HS505",
                    f"'{text}' is not an accuracy",
                    "it must be a percentage of the reading plus a count of digits, such as 0.5%+2",
                    "Take both from the table of accuracies in the meter's manual",
                )
            ]
        )
    return Meter(float(match["percent"]), int(match["digits"]), resolution_volts, name or text.strip())


def check_reading(reading_volts: float) -> None:
    """Refuse a number that no bench meter can have shown.

    Args:
        reading_volts: what the meter is said to show, in volts.

    Raises:
        MeasurementError: HS507, it is not a number, or beyond 1000 V.

    Example:
        >>> check_reading(11980.0)
        Traceback (most recent call last):
        ...
        halfsplit.errors.MeasurementError: HS507 reading: it is 11980 V; a meter shows at most 1000 V \
to either side. Check the decimal point, and whether it shows V or mV.
    """
    if not abs(reading_volts) <= MOST_READING_VOLTS:
        raise MeasurementError(
            [
                Mistake(
                    "reading",
                    "HS507",
                    f"it is {reading_volts:g} V",
                    f"a meter shows at most {MOST_READING_VOLTS:g} V to either side",
                    "Check the decimal point, and whether it shows V or mV",
                )
            ]
        )
