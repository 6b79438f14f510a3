"""The verdict on a reading: pass, fail, or cannot tell.

A reading of 11.42 V is inside 11.40 to 12.60 V, but the meter may be off by 0.077 V, so the truth
may well be outside.  The verdict therefore keeps a guard band: only what is inside by more than
the meter's expanded uncertainty passes, only what is outside by more than it fails.  Between the
two the honest answer is "cannot tell", and a better meter is the next step, not another supply.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from halfsplit.errors import MeasurementError, Mistake
from halfsplit.measure.limits import Limits
from halfsplit.measure.meter import Meter, check_reading
from halfsplit.measure.normal import log_p_between
from halfsplit.measure.rails import rail_limits, rail_name


class Verdict(StrEnum):
    """What a reading says about its limits."""

    PASS = "pass"
    FAIL = "fail"
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True)
class RailVerdict:
    """A reading on a rail, judged, with everything that the verdict rests on.

    Args:
        rail: the rail's one name.
        reading_volts: what the meter showed.
        limits: the limits that it was judged by, with their source.
        half_width_volts: the meter's accuracy at this reading.
        standard_uncertainty_volts: the same as a standard uncertainty u.
        guard_band_volts: w = 2 u.
        acceptance: the limits drawn in by w: readings inside pass.  None where the meter is too
            coarse for these limits, so that nothing can pass.
        fail_beyond: the limits pushed out by w: readings outside fail.
        p_in_limits: the probability that the true voltage is inside its limits.
        verdict: the verdict.

    Example:
        >>> verdict = judge_rail("5VSB", 5.08, Meter(0.5, 2, 0.01))
        >>> print(verdict.rail, verdict.verdict, verdict.limits.source)
        +5VSB pass ATX12V Power Supply Design Guide 2.0, table 2
    """

    rail: str
    reading_volts: float
    limits: Limits
    half_width_volts: float
    standard_uncertainty_volts: float
    guard_band_volts: float
    acceptance: Limits | None
    fail_beyond: Limits
    p_in_limits: float
    verdict: Verdict


def standard_uncertainty_volts(half_width_volts: float) -> float:
    """Return the standard uncertainty of a reading from the meter's accuracy.

    Args:
        half_width_volts: the meter's accuracy at this reading, in volts, > 0.

    Returns:
        half width / sqrt(3), in volts.

    Raises:
        MeasurementError: HS508, the half width is not a positive finite number.

    Notes:
        A stated accuracy says only that the error is no larger, so the error is taken as evenly
        spread: JCGM 100:2008, 4.3.7.

    Example:
        >>> round(standard_uncertainty_volts(0.0771), 5)
        0.04451
    """
    if not (0 < half_width_volts < math.inf):
        raise MeasurementError(
            [
                Mistake(
                    "half width",
                    "HS508",
                    f"it is {half_width_volts:g} V",
                    "it must be a finite number of volts above 0",
                    "Work it out from the meter's accuracy: percent of reading plus digits",
                )
            ]
        )
    return half_width_volts / math.sqrt(3)


def guard_band_volts(half_width_volts: float) -> float:
    """Return the guard band that keeps the risk of a wrong verdict below 2.5 %.

    Args:
        half_width_volts: the meter's accuracy at this reading, in volts, > 0.

    Returns:
        w = U = 2 u, in volts.

    Raises:
        MeasurementError: HS508, the half width is not a positive finite number.

    Notes:
        ILAC-G8, guard band equal to the expanded uncertainty with k = 2.

    Example:
        >>> round(guard_band_volts(0.0771), 4)
        0.089
    """
    return 2 * standard_uncertainty_volts(half_width_volts)


def p_in_limits(reading_volts: float, half_width_volts: float, limits: Limits) -> float:
    """Return the probability that the true voltage lies inside its limits.

    Args:
        reading_volts: what the meter shows, in volts, at most 1000 to either side.
        half_width_volts: the meter's accuracy at this reading, in volts, > 0
            (percentage of reading plus digits x resolution).
        limits: lower and upper limit in volts, either side may be open.

    Returns:
        A probability in [0, 1]; 0.5 when the reading sits on a limit and the other is far.

    Raises:
        MeasurementError: HS507, the reading is not one; HS508, the half width is not a positive
            finite number.

    Notes:
        Phi((TU - y) / u) - Phi((TL - y) / u), JCGM 106:2012, 7, with u = half width / sqrt(3).
        Exact to rounding, in the tails too; O(1).

    Example:
        >>> round(p_in_limits(11.42, 0.0771, Limits(11.40, 12.60)), 3)
        0.673
    """
    check_reading(reading_volts)
    u_volts = standard_uncertainty_volts(half_width_volts)
    return math.exp(
        log_p_between(
            (limits.low_end_volts - reading_volts) / u_volts,
            (limits.high_end_volts - reading_volts) / u_volts,
        )
    )


def judge_reading(rail: str, reading_volts: float, limits: Limits, meter: Meter) -> RailVerdict:
    """Judge a reading by limits of your own, such as those of a board maker's manual.

    Args:
        rail: what was measured, in words.
        reading_volts: what the meter shows, in volts, at most 1000 to either side.
        limits: lower and upper limit in volts, either side may be open.
        meter: the meter, on the range that was used.

    Returns:
        The verdict: ``pass`` from low + w to high - w, ``fail`` beyond low - w or high + w, else
        ``cannot_tell``; w is the guard band.

    Raises:
        MeasurementError: HS507, the reading is not one.

    Notes:
        Guard band as in ILAC-G8.  ``pass`` means a probability in limits of at least 0.954,
        ``fail`` one of at most 0.023.

    Example:
        >>> meter = Meter(0.5, 2, 0.01)
        >>> str(judge_reading("DDR4 VDD", 1.22, Limits(1.14, 1.26), meter).verdict)
        'pass'
    """
    half_width_volts = meter.half_width_volts(reading_volts)
    guard_volts = guard_band_volts(half_width_volts)
    acceptance = limits.drawn_in(guard_volts)
    fail_beyond = limits.pushed_out(guard_volts)
    if acceptance is not None and acceptance.contains(reading_volts):
        verdict = Verdict.PASS
    elif fail_beyond.contains(reading_volts):
        verdict = Verdict.CANNOT_TELL
    else:
        verdict = Verdict.FAIL
    return RailVerdict(
        rail=rail,
        reading_volts=reading_volts,
        limits=limits,
        half_width_volts=half_width_volts,
        standard_uncertainty_volts=standard_uncertainty_volts(half_width_volts),
        guard_band_volts=guard_volts,
        acceptance=acceptance,
        fail_beyond=fail_beyond,
        p_in_limits=p_in_limits(reading_volts, half_width_volts, limits),
        verdict=verdict,
    )


def judge_rail(name: str, reading_volts: float, meter: Meter, revision: str = "2.x") -> RailVerdict:
    """Judge a reading on a rail of a desktop supply by its published limits.

    Args:
        name: the rail, as people write it; see ``rail_name``.
        reading_volts: what the meter shows, in volts, at most 1000 to either side.  Measure at the
            load end of the connector, under load.
        meter: the meter, on the range that was used.
        revision: the revision that the supply was built to; see ``rail_revision``.

    Returns:
        The verdict with its limits, intervals and probability; see ``judge_reading``.

    Raises:
        MeasurementError: HS502, HS503, HS504: no such rail or revision; HS507: no such reading.

    Example:
        >>> verdict = judge_rail("12v", 11.42, Meter(0.5, 2, 0.01))
        >>> str(verdict.verdict), round(verdict.p_in_limits, 3)
        ('cannot_tell', 0.673)
    """
    limits = rail_limits(name, revision)
    return judge_reading(rail_name(name), reading_volts, limits, meter)
