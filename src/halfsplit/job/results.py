"""The results of a reading that are told apart: the likely ones, and all others as one."""

from collections.abc import Sequence

import numpy as np

from halfsplit.job.findings import OTHER, Finding
from halfsplit.model.arrays import Floats, Ints

MOST_RESULTS = 12
"""Results of one reading that are told apart; the least likely are one."""

LEAST_RESULT = 1e-3
"""A result less likely than this is one of those that are put together."""

_NEVER = 1e-12


def kept_of(mass: Floats, most: int = MOST_RESULTS) -> Ints:
    """Return which results are told apart, in their order: the likely ones, as many of the likeliest as there may be.

    Args:
        mass: P(result), shape (S,).
        most: so many at most, with that of all others.
    """
    kept = np.flatnonzero(mass >= LEAST_RESULT)
    if not len(kept):
        return np.array([mass.argmax()])
    if len(kept) + (len(kept) < np.count_nonzero(mass)) > most:
        return np.sort(np.argsort(-mass, kind="stable")[: most - 1])
    return kept


def with_others(results: Sequence[Finding], tells: Floats) -> tuple[tuple[Finding, ...], Floats]:
    """Return results and P(result | world) with all others as one, where there are others, and rows that add up to 1.

    Args:
        results: the results that are told apart.
        tells: P(result | world) of these, shape (K, results).
    """
    others = 1.0 - tells.sum(axis=1)
    names = tuple(results)
    if others.max(initial=0.0) > _NEVER:
        tells, names = np.column_stack([tells, others]), (*names, OTHER)
    tells = np.maximum(tells, 0.0)
    return names, tells / tells.sum(axis=1, keepdims=True)
