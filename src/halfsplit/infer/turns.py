"""Where in the log the suspicions turned, found with few questions.

What was believed after each of n readings is n questions, and most readings move little.  So the log is asked at
its ends, then before and after the readings that alone, beside the complaint, move the suspicions most; then the
stretch over which most was moved is halved, again and again.  What moves up and back down within one stretch is
not seen.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import isfinite, log

import numpy as np

from halfsplit.infer.conflict import log_m_after
from halfsplit.infer.retold import Answer, Retold
from halfsplit.model.arrays import Floats

NOTABLE = log(1.25)
"""What moves log odds, or log M, by less than this is no turn."""

_SURE = 1e-9  # beyond this, and 1 - this, moves of the odds are no longer told apart


def find_turns(retold: Retold, root_ids: Sequence[str], *, effort: int) -> tuple[int, ...]:
    """Return the places of the log worth looking at: between them the suspicions, or the conflict, moved.

    Args:
        retold: the evidence.
        root_ids: the suspicions.
        effort: how many readings may be weighed again in all, besides those of the ends and the complaint; a
            question costs the more the more readings it is of.

    Returns:
        Ascending numbers of readings, from 0 to all of them, with the number of those given among them.
        Neighbours that lie further apart than one reading differ little, or the effort was used up.
    """
    at = [root.id for root in retold.compiled.evidence.roots]
    rows = [at.index(root_id) for root_id in root_ids]
    last = len(retold.order)
    seen: dict[int, Floats] = {}
    spent: dict[int, int] = {}

    def look(place: int) -> None:
        answer = retold.after(place)
        if isfinite(answer.log_p):
            seen[place] = np.array([*_log_odds(answer, rows), log_m_after(retold, place)])

    def look_if_affordable(place: int) -> bool:
        if place in seen or place in spent or sum(spent.values()) + place > effort:
            return False
        spent[place] = place
        look(place)
        return True

    promising = _promising(retold, rows)
    for place in (0, retold.many_given, last):
        look(place)
    for place in promising:
        look_if_affordable(place)
    while True:
        stretches = [
            (float(np.abs(seen[a] - seen[b]).max()), (a + b) // 2) for a, b in pairwise(sorted(seen)) if b > a + 1
        ]
        moved = sorted((stretch for stretch in stretches if stretch[0] >= NOTABLE), reverse=True)
        if not any(look_if_affordable(middle) for _, middle in moved):
            return tuple(sorted(seen))


def _promising(retold: Retold, rows: Sequence[int]) -> list[int]:
    """Return the places before and after the readings that move the suspicions alone, the strongest first."""
    base = _log_odds(retold.after(retold.many_given), rows)
    lifts = []
    for n, reading in enumerate(retold.asked):
        lift = float(np.abs(_log_odds(retold.answer([*retold.given, reading]), rows) - base).max(initial=0.0))
        if lift >= NOTABLE:
            lifts.append((-lift, retold.many_given + n))
    return [place for _, before in sorted(lifts) for place in (before, before + 1)]


def _log_odds(answer: Answer, rows: Sequence[int]) -> Floats:
    p = np.clip(answer.p_faults[rows], _SURE, 1.0 - _SURE)
    return np.log(p / (1.0 - p))
