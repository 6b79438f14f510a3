"""Why a fault is suspected: what each reading did to it, in the order of the log, and what it does now.

The states asked about are those at the end of the log, before each reading as after it: what a repair did
counts from the start, and only what was read is told apart.
"""

from collections.abc import Collection
from dataclasses import dataclass
from itertools import pairwise

from halfsplit.infer.retold import Retold


@dataclass(frozen=True)
class Shift:
    """What one reading, or a few in a row, did to one root.

    Args:
        readings: their ids.
        p_before, p_after: P(the fault is there now) before and after them, in the order of the log.
        p_without: P(there now) with these alone left out of all; None = not asked for.
    """

    readings: tuple[str, ...]
    p_before: float
    p_after: float
    p_without: float | None = None

    @property
    def odds_before(self) -> float:
        """Odds that it is there, before the readings."""
        return odds(self.p_before)

    @property
    def odds_after(self) -> float:
        """Odds that it is there, after the readings."""
        return odds(self.p_after)


def odds(p: float) -> float:
    """Return p / (1 - p); infinite for certainty."""
    return p / (1.0 - p) if p < 1.0 else float("inf")


def explain(
    retold: Retold, root_id: str, *, places: Collection[int] | None = None, without: Collection[str] | None = None
) -> tuple[Shift, ...]:
    """Return what each reading did to a root, in the order of the log, those given first.

    Args:
        retold: the evidence.
        root_id: the root.
        places: the numbers of readings after which to look; None = after each.
        without: ids of the readings that are left out in turn, to say what all others come to; None = all.

    Returns:
        One shift for the readings between each two places.  Costs one question for each place, and one for each
        shift whose readings are left out; all roots share the answers.
    """
    at = [root.id for root in retold.compiled.evidence.roots].index(root_id)
    looked_at = range(len(retold.order) + 1) if places is None else sorted({0, len(retold.order), *places})
    left_out = set(retold.order if without is None else without)
    shifts = []
    for a, b in pairwise(looked_at):
        readings = retold.order[a:b]
        p_without = float(retold.without(*readings).p_faults[at]) if left_out.issuperset(readings) else None
        before, after = (float(retold.after(place).p_faults[at]) for place in (a, b))
        shifts.append(Shift(readings, before, after, p_without))
    return tuple(shifts)
