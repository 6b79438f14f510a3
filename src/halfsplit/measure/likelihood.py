"""How well a reading fits each thing that may be true of a rail.

The truth is one of four states: inside the limits, low, high, or absent.  Each state spreads the
true voltage in its own way, the meter adds its error, and the weight of a state is how dense the
reading is under it.  The engine wants only the ratios, so the largest weight is 1.

"Low" means weak: nearer to 0 V than the limits allow.  On the -12 V rail a reading of -10.2 V is
low and -13.9 V is high.  So a supply that sags pulls every one of its rails the same way.
"""

import math
from dataclasses import dataclass

from halfsplit.errors import MeasurementError, Mistake
from halfsplit.measure.limits import Limits
from halfsplit.measure.meter import Meter
from halfsplit.measure.normal import log_density, log_p_above, log_p_between
from halfsplit.measure.verdict import standard_uncertainty_volts

# A probe on the wrong pin or a slip of the pen is likelier than this.  So no reading, however odd,
# makes a state impossible.
LEAST_WEIGHT = 1e-12

_LEAST_SCALE_VOLTS = 1e-6
_MOST_SCALE_VOLTS = 1000.0


@dataclass(frozen=True)
class Spread:
    """How far the true voltage strays in each faulty state.

    Args:
        low_scale_volts: scale of the distance below the limits when the rail is low, in volts,
            1e-6 to 1000: about two in three are nearer than that.
        high_scale_volts: the same above the limits when the rail is high.
        absent_scale_volts: standard deviation around 0 V when the rail is absent.

    Raises:
        MeasurementError: HS509, once for each scale that makes no sense.

    Example:
        >>> Spread(low_scale_volts=0.5, high_scale_volts=0.5).absent_scale_volts
        0.1
    """

    low_scale_volts: float
    high_scale_volts: float
    absent_scale_volts: float = 0.1

    def __post_init__(self) -> None:
        scales = (
            ("low", self.low_scale_volts),
            ("high", self.high_scale_volts),
            ("absent", self.absent_scale_volts),
        )
        mistakes = [
            Mistake(
                f"spread, {state}",
                "HS509",
                f"the scale is {scale_volts:g} V",
                f"it must be {_LEAST_SCALE_VOLTS:g} to {_MOST_SCALE_VOLTS:g} V",
                "Give a typical distance from the limit in volts",
            )
            for state, scale_volts in scales
            if not _LEAST_SCALE_VOLTS <= scale_volts <= _MOST_SCALE_VOLTS
        ]
        if mistakes:
            raise MeasurementError(mistakes)


@dataclass(frozen=True)
class StateWeights:
    """P(this reading | state) for each state, over the largest of them.

    Args:
        low: weight of "nearer to 0 V than the limits allow", in (0, 1].
        inside: weight of "inside the limits", in (0, 1].
        high: weight of "further from 0 V than the limits allow", in (0, 1].
        absent: weight of "0 V or nearly", in (0, 1].

    Example:
        >>> state_weights(0.02, Limits(11.40, 12.60), Meter(0.5, 2, 0.01), Spread(0.5, 0.5))
        StateWeights(low=1e-12, inside=1e-12, high=1e-12, absent=1.0)
    """

    low: float
    inside: float
    high: float
    absent: float


def state_weights(reading_volts: float, limits: Limits, meter: Meter, spread: Spread) -> StateWeights:
    """Return how well a reading fits each state of the rail.

    Args:
        reading_volts: what the meter shows, in volts, at most 1000 to either side.
        limits: lower and upper limit in volts; both must be there.
        meter: the meter, on the range that was used.
        spread: how far the true voltage strays in each faulty state.

    Returns:
        One weight in [1e-12, 1] for each state; the largest is 1.

    Raises:
        MeasurementError: HS507, the reading is not one; HS510, one side of the limits is open.

    Notes:
        The true voltage is uniform between the limits (inside); half-normal beyond a limit (low,
        high); normal around 0 (absent).  The error is normal with the meter's standard
        uncertainty u at this reading.  With d the distance of the reading beyond the limit, s the
        scale and r = sqrt(s^2 + u^2), the densities are

            inside: [Phi((y - low) / u) - Phi((y - high) / u)] / (high - low)
            low, high: 2 / r phi(d / r) Phi((s / u) d / r)
            absent: normal(0, sqrt(scale^2 + u^2))

        The second is the skew-normal density of Azzalini (1985): a half-normal plus a normal.
        Closed forms, exact to rounding down to ``LEAST_WEIGHT``, which is the floor; O(1).

    Example:
        >>> weights = state_weights(11.38, Limits(11.40, 12.60), Meter(0.5, 2, 0.01), Spread(0.5, 0.5))
        >>> round(weights.low, 3), round(weights.inside, 3), weights.absent
        (1.0, 0.254, 1e-12)
    """
    u_volts = standard_uncertainty_volts(meter.half_width_volts(reading_volts))
    if limits.low_volts is None or limits.high_volts is None:
        side = "low" if limits.low_volts is None else "high"
        raise MeasurementError(
            [
                Mistake(
                    f"limits, {side}",
                    "HS510",
                    "this side is open",
                    "weighing a reading needs both limits, because the truth is spread between them",
                    "Give the natural end of this side, such as 0 V for a ripple",
                )
            ]
        )
    low_volts, high_volts = limits.low_volts, limits.high_volts
    if high_volts <= 0:
        # A negative rail is weighed as its mirror image, so that low means weak there too.
        reading_volts, low_volts, high_volts = -reading_volts, -high_volts, -low_volts
    log_weights = (
        log_density_beyond(low_volts - reading_volts, spread.low_scale_volts, u_volts),
        log_p_between((low_volts - reading_volts) / u_volts, (high_volts - reading_volts) / u_volts)
        - math.log(high_volts - low_volts),
        log_density_beyond(reading_volts - high_volts, spread.high_scale_volts, u_volts),
        log_density_around(reading_volts, math.hypot(spread.absent_scale_volts, u_volts)),
    )
    log_largest = max(log_weights)
    return StateWeights(*(max(math.exp(log_weight - log_largest), LEAST_WEIGHT) for log_weight in log_weights))


def log_density_beyond(distance_volts: float, scale_volts: float, u_volts: float) -> float:
    """Half-normal distance beyond a limit plus normal meter error, at a distance beyond it."""
    spread_volts = math.hypot(scale_volts, u_volts)
    z = distance_volts / spread_volts
    return math.log(2 / spread_volts) + log_density(z) + log_p_above(-scale_volts / u_volts * z)


def log_density_around(distance_volts: float, spread_volts: float) -> float:
    """Normal with the given standard deviation, at a distance from its middle."""
    return log_density(distance_volts / spread_volts) - math.log(spread_volts)
