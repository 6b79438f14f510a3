"""How well any number from an instrument fits each thing that may be true of it, with one limit or two."""

import math

from halfsplit.errors import MeasurementError, Mistake
from halfsplit.measure.likelihood import LEAST_WEIGHT, StateWeights, log_density_around, log_density_beyond
from halfsplit.measure.normal import log_p_above, log_p_between

ABSENT_SHARE = 0.05
"""How near to nothing a number is that is absent: its standard deviation as a share of the lower limit (estimate)."""

FAR_SHARE = 0.1
"""How many of the bad values may lie far outside, as where a lead is broken and the meter shows "open" (estimate)."""


def quantity_weights(
    reading: float, half_width: float, low: float | None, high: float | None, *, spread: float
) -> StateWeights:
    """Return how well a reading fits each state of a quantity that is not below 0 when it is as it should be.

    Args:
        reading: what the instrument shows, in its unit.
        half_width: how far the truth may be from it to either side, in the same unit, > 0.
        low, high: limits in the same unit; one of them may be open.
        spread: how far a bad value typically lies outside its limits, in the same unit, > 0.

    Returns:
        One weight in [1e-12, 1] for each state; the largest is 1.  A side without a limit has no such state,
        and its weight is that of "inside".

    Raises:
        MeasurementError: HS513, a number is not finite, or the spread or the half width is not above 0.

    Notes:
        As ``state_weights``: half-normal beyond a limit, normal around 0 when absent, and a normal error with
        u = half_width / sqrt(3).  A share of the bad values is half-Cauchy with the same scale,
        2 / (pi s (1 + (d / s)^2)), so that an open circuit, which is entered as millions of ohms, is still high.
        Inside is uniform between the limits; below an upper limit alone it begins at 0.  Above a lower limit alone
        it goes on without end, as dense as if it were spread over twice ``spread``: then a reading on the limit
        says about as much for either side.

    Example:
        >>> quantity_weights(99.0, 5.0, None, 95.0, spread=6.0).high
        1.0
        >>> weights = quantity_weights(850.0, 42.0, 10.0, None, spread=6.0)
        >>> weights.inside, weights.low
        (1.0, 1e-12)
    """
    ends = [end for end in (low, high) if end is not None]
    finite = all(math.isfinite(number) for number in (reading, half_width, spread, *ends))
    if not (finite and ends and half_width > 0 and spread > 0):
        so = f"reading {reading:g}, half width {half_width:g}, spread {spread:g}, limits {ends}"
        should = "all are finite, there is a limit, and half width and spread are above 0"
        raise MeasurementError([Mistake("quantity", "HS513", so, should, "Correct the number that is not")])
    u = half_width / math.sqrt(3)
    log_inside = _log_inside(reading, u, low, high, spread)
    log_weights = (
        log_inside if low is None else _log_outside(low - reading, spread, u),
        log_inside,
        log_inside if high is None else _log_outside(reading - high, spread, u),
        log_density_around(reading, math.hypot(ABSENT_SHARE * abs(low if low is not None else spread), u)),
    )
    log_largest = max(log_weights)
    return StateWeights(*(max(math.exp(log_weight - log_largest), LEAST_WEIGHT) for log_weight in log_weights))


def _log_outside(distance: float, spread: float, u: float) -> float:
    """Return the log density at a distance beyond a limit; the far share is smooth beside the meter's error."""
    far = math.log(2 / (math.pi * spread)) - math.log1p((distance / spread) ** 2) + log_p_above(-distance / u)
    logs = (math.log(1 - FAR_SHARE) + log_density_beyond(distance, spread, u), math.log(FAR_SHARE) + far)
    return max(logs) + math.log1p(math.exp(min(logs) - max(logs)))


def _log_inside(reading: float, u: float, low: float | None, high: float | None, spread: float) -> float:
    if high is None:
        return (log_p_above((low - reading) / u) if low is not None else 0.0) - math.log(2 * spread)
    begin = low if low is not None else min(0.0, high - 2 * spread)
    return log_p_between((begin - reading) / u, (high - reading) / u) - math.log(high - begin)
