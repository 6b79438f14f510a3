"""Where in the log the suspicions turned, found with few questions.

What was believed after each of n readings is n questions, and most readings move little.  So the log is asked at
its ends, and the stretch over which most was moved is halved again and again.  What moves up and back down
within one stretch is not seen.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import isfinite, log

import numpy as np

from halfsplit.infer.conflict import log_m_after
from halfsplit.infer.retold import Retold
from halfsplit.model.evidence import Floats

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
    seen: dict[int, Floats] = {}

    def look(place: int) -> None:
        answer = retold.after(place)
        p = np.clip(answer.p_faults[rows], _SURE, 1.0 - _SURE)
        if isfinite(answer.log_p):
            seen[place] = np.array([*np.log(p / (1.0 - p)), log_m_after(retold, place)])

    for place in (0, retold.many_given, len(retold.order)):
        look(place)
    asked: set[int] = set()
    while True:
        places = sorted(seen)
        stretches = [(float(np.abs(seen[a] - seen[b]).max()), (a + b) // 2) for a, b in pairwise(places) if b - a > 1]
        open_ones = [(moved, middle) for moved, middle in stretches if moved >= NOTABLE and middle not in asked]
        affordable = [(moved, middle) for moved, middle in open_ones if sum(asked) + middle <= effort]
        if not affordable:
            return tuple(places)
        middle = max(affordable)[1]
        look(middle)
        asked.add(middle)
