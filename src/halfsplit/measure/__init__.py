"""Numbers from instruments: what a reading says, and how sure it is.

A meter does not show the truth.  It shows a number, and its manual says how far the truth may be
from it.  Three questions follow, and this room answers them:

- How far?  ``Meter`` turns "0.5 % + 2" into volts at a reading.
- Is the rail as it should be?  ``judge_rail`` compares the reading with the published limits and
  says pass, fail, or cannot tell, with a guard band so that neither of the first two is a guess.
- What does it tell the engine?  ``state_weights`` says how well the reading fits each state that
  the rail may be in.  Near a limit two states fit about as well, and then the reading, rightly,
  moves the suspicion very little.

>>> verdict = judge_rail("+12V", 11.42, BENCH_METER)
>>> print(verdict.verdict, f"{verdict.p_in_limits:.3f}")
cannot_tell 0.673
>>> weights = state_weights(11.42, verdict.limits, BENCH_METER, Spread(0.5, 0.5))
>>> print(f"{weights.low:.2f} {weights.inside:.2f}")
0.93 1.00

References: JCGM 100:2008 (uncertainty), JCGM 106:2012 (conformity), ILAC-G8 (guard bands).
"""

from halfsplit.measure.coin_cell import CR2032, CoinCellGrade, CoinCellThresholds
from halfsplit.measure.likelihood import LEAST_WEIGHT, Spread, StateWeights, state_weights
from halfsplit.measure.limits import Limits
from halfsplit.measure.meter import BENCH_METER, Meter, parse_meter
from halfsplit.measure.quantity import quantity_weights
from halfsplit.measure.rails import (
    PUBLISHED_RAIL_LIMITS,
    RAIL_NAMES,
    REVISIONS,
    rail_limits,
    rail_name,
    rail_revision,
)
from halfsplit.measure.verdict import (
    RailVerdict,
    Verdict,
    guard_band_volts,
    judge_rail,
    judge_reading,
    p_in_limits,
    standard_uncertainty_volts,
)

__all__ = [
    "BENCH_METER",
    "CR2032",
    "LEAST_WEIGHT",
    "PUBLISHED_RAIL_LIMITS",
    "RAIL_NAMES",
    "REVISIONS",
    "CoinCellGrade",
    "CoinCellThresholds",
    "Limits",
    "Meter",
    "RailVerdict",
    "Spread",
    "StateWeights",
    "Verdict",
    "guard_band_volts",
    "judge_rail",
    "judge_reading",
    "p_in_limits",
    "parse_meter",
    "quantity_weights",
    "rail_limits",
    "rail_name",
    "rail_revision",
    "standard_uncertainty_volts",
    "state_weights",
]
