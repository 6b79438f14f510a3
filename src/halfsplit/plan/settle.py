"""Repairs made good in the worlds: a check tells by what is there now, not by what was there before the repairs."""

from itertools import product

import numpy as np

from halfsplit.model.arrays import Floats, Ints
from halfsplit.plan.tables import Branches, Tables

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
        stays = np.append(left, 1.0)[tables.members]
        rows = np.flatnonzero((stays < 1.0).any(axis=1))
        members, stays = tables.members[rows], stays[rows]
        kept = np.ones(len(tables.sets))
        kept[rows] = 0.0
        sources, targets, chances = [], [], []
        for cured in product((False, True), repeat=members.shape[1]):
            p = np.where(cured, 1.0 - stays, stays).prod(axis=1)
            some = np.flatnonzero(p > _NOTHING)
            if len(some):
                rest = np.where(cured, tables.sets.shape[1], members[some])
                target = tables.find_sets(rest)
                is_left = (rest < tables.sets.shape[1]).any(axis=1)
                target = np.where((target < 0) & is_left, rows[some], target)
                stuck = target == rows[some]
                kept[rows[some[stuck]]] += p[some[stuck]]
                moves = ~stuck & (target >= 0)
                sources.append(rows[some[moves]])
                targets.append(target[moves])
                chances.append(p[some[moves]])
        none = np.zeros(0, dtype=np.int64)
        tables.moved[key] = (
            np.concatenate([none, *sources]),
            np.concatenate([none, *targets]),
            np.concatenate([np.zeros(0), *chances]),
            kept,
        )
    return tables.moved[key]
