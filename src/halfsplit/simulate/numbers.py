"""Numbers that an instrument shows, drawn from where they truly lie."""

from collections.abc import Sequence
from types import MappingProxyType

from numpy.random import Generator

from halfsplit.job.findings import INSIDE
from halfsplit.job.numbers import limits_of
from halfsplit.model.bench import Measurement

_DIGITS = MappingProxyType({"volts": 2, "ohms": 1, "watts": 0, "celsius": 0, "rpm": 0})
"""Unit -> digits behind the point that the instruments of a bench show of it (common practice) ..."""

_FINE = 3
"""... and that are shown where the last digit would carry a number over its limit."""

_MARGIN = 0.15  # a number inside lies at least so far from its limits, as a share of the room there is


def number_shown(point: Measurement, state: str, *, slips: bool, rng: Generator) -> tuple[float, bool]:
    """Return what an instrument shows, and whether it is inside the limits.

    Args:
        point: what is measured.
        state: where it truly lies: absent, low, high, or "" for inside.
        slips: whether it is read on the wrong side of a limit.
        rng: the source of chance.

    Returns:
        Inside uniform between the limits; outside half-normal beyond one, by the point's spread; near 0 when absent.
    """
    low, high = limits_of(point)
    if slips:
        state = ("low" if low is not None else "high") if not state else ""
    shown = _drawn(point, state or INSIDE, low, high, rng)
    return _as_read(shown, point.unit, (low, high)), not state


def _as_read(shown: float, unit: str, limits: Sequence[float | None]) -> float:
    """Return a number to the digits that an instrument shows, still on the same side of each limit."""
    read = round(shown, _DIGITS.get(unit, _FINE))
    sides = [limit is None or (read < limit, read > limit) == (shown < limit, shown > limit) for limit in limits]
    return (read if all(sides) else round(shown, _FINE)) + 0.0  # and no minus before a naught


def _drawn(point: Measurement, state: str, low: float | None, high: float | None, rng: Generator) -> float:
    if high is not None and high <= 0.0:  # low means weak on a negative rail too
        return -_drawn(point, state, -high, None if low is None else -low, rng)
    beyond = point.spread * abs(float(rng.normal()))
    if state == "low" and low is not None:
        return max(0.0, low - beyond)
    if state == "high" and high is not None:
        return high + beyond
    if state == INSIDE:
        begin = low if low is not None else 0.0
        end = high if high is not None else begin + 4.0 * point.spread
        room = end - begin
        return float(rng.uniform(begin + _MARGIN * room, end - _MARGIN * room))
    return 0.0
