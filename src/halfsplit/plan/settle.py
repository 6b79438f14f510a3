"""Repairs made good in the worlds: a check tells by what is there now, not by what was there before the repairs."""

from itertools import combinations

import numpy as np

from halfsplit.plan.situation import Floats
from halfsplit.plan.tables import Branches, Ints, Tables

_NOTHING = 1e-12


def settle(tables: Tables, branches: Branches) -> Branches:
    """Return branches whose worlds are those of now, with nothing left to be made good.

    The weight of a world goes to the worlds that have what is left of its faults, shared out among them as they stand
    in the branch.  Where no world has that set of faults, the weight stays, as if nothing had been cured.  Weight of
    which no fault is left stays only where some world is without faults: a re-check would have ended the job.
    """
    kinds, kind_of = np.unique(branches.left, axis=0, return_inverse=True)
    if (kinds == 1.0).all():
        return branches
    weights = branches.weights.copy()
    for n, left in enumerate(kinds):
        if (left < 1.0).any():
            rows = np.flatnonzero(kind_of.ravel() == n)
            weights[rows] = _move(tables, weights[rows], left)
    return Branches(weights, np.ones_like(branches.left), branches.is_open, branches.is_done, branches.is_bad)


def _move(tables: Tables, weights: Floats, left: Floats) -> Floats:
    source, target, p, kept = _ways(tables, left)
    by_set = tables.by_set(weights)
    incoming = np.zeros_like(by_set)
    np.add.at(incoming.T, target, p[:, None] * by_set.T[source])
    here = by_set[:, tables.set_of]
    share = np.where(here > 0.0, weights / np.where(here > 0.0, here, 1.0), tables.usual_share)
    moved: Floats = weights * kept[tables.set_of] + incoming[:, tables.set_of] * share
    return moved


def _ways(tables: Tables, left: Floats) -> tuple[Ints, Ints, Floats, Floats]:
    """Return which sets become which others with what probability, and P(set stays as it is), shape (J,)."""
    key = left.tobytes()
    if key not in tables.moved:
        place = {row.tobytes(): n for n, row in enumerate(tables.sets)}
        kept = np.ones(len(tables.sets))
        ways: list[tuple[int, int, float]] = []
        for n in np.flatnonzero(tables.sets @ (left < 1.0) > 0.0):
            kept[n] = 0.0
            at_stake = np.flatnonzero((tables.sets[n] > 0.0) & (left < 1.0))
            for k in range(len(at_stake) + 1):
                for cured in combinations(at_stake, k):
                    gone = np.isin(at_stake, cured)
                    p = float(np.where(gone, 1.0 - left[at_stake], left[at_stake]).prod())
                    rest = tables.sets[n].copy()
                    rest[list(cured)] = 0.0
                    target = place.get(rest.tobytes(), int(n) if rest.any() else -1)
                    if target == n:
                        kept[n] += p
                    elif target >= 0 and p > _NOTHING:
                        ways.append((int(n), target, p))
        source = np.array([way[0] for way in ways], dtype=np.int64)
        target_of = np.array([way[1] for way in ways], dtype=np.int64)
        tables.moved[key] = (source, target_of, np.array([way[2] for way in ways]), kept)
    return tables.moved[key]
