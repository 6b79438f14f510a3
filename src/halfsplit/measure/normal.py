"""The normal curve, as logarithms, so that the far tails keep their digits.

A dead 12 V rail lies hundreds of standard uncertainties away from "inside its limits".  The
probability of that is smaller than any float, but its logarithm is an ordinary number.  All
arguments are distances in standard uncertainties; all results are natural logarithms.
"""

import math

_LOG_SQRT_2_PI = 0.5 * math.log(2 * math.pi)
# From here on erfc is about to run out of float range (it does at 38), and the asymptotic series
# below is exact to 3e-15.
_FAR_Z = 35.0


def log_density(z: float) -> float:
    """Return the log of the standard normal density at ``z``.

    Args:
        z: any float, also infinite.

    Returns:
        A float <= -0.91; minus infinity where ``z`` is infinite.

    Example:
        >>> round(log_density(0.0), 6)
        -0.918939
    """
    return -0.5 * z * z - _LOG_SQRT_2_PI


def log_p_above(z: float) -> float:
    """Return the log of the probability that a standard normal lies above ``z``.

    Args:
        z: any float, also infinite.

    Returns:
        A float <= 0.

    Notes:
        erfc up to 35; above it the asymptotic series of Abramowitz and Stegun, 26.2.12.

    Example:
        >>> round(math.exp(log_p_above(2.0)), 6), round(log_p_above(100.0), 3)
        (0.02275, -5005.524)
    """
    if z < 0:
        return math.log1p(-0.5 * math.erfc(-z / math.sqrt(2)))
    if z < _FAR_Z:
        return math.log(0.5 * math.erfc(z / math.sqrt(2)))
    w = 1 / z / z
    series = -w * (1 - 3 * w * (1 - 5 * w * (1 - 7 * w * (1 - 9 * w))))
    return log_density(z) - math.log(z) + math.log1p(series)


def log_p_between(low_z: float, high_z: float) -> float:
    """Return the log of the probability that a standard normal lies between two points.

    Args:
        low_z: lower end, may be minus infinity.
        high_z: upper end, may be infinite.

    Returns:
        A float <= 0; minus infinity where floats cannot tell the two ends apart.

    Notes:
        Phi(high_z) - Phi(low_z), taken in the tail where both are small, so that nothing cancels.

    Example:
        >>> round(math.exp(log_p_between(-2.0, 2.0)), 6)
        0.9545
    """
    if not low_z < high_z:
        return -math.inf
    if high_z <= 0:
        low_z, high_z = -high_z, -low_z
    if low_z < 0:
        return math.log(0.5 * (math.erf(high_z / math.sqrt(2)) - math.erf(low_z / math.sqrt(2))))
    log_above_low = log_p_above(low_z)
    gap = log_p_above(high_z) - log_above_low
    return log_above_low + math.log(-math.expm1(gap)) if gap < 0 else -math.inf
