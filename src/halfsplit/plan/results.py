"""The branches after a move, with what is charged on the way to them."""

import numpy as np

from halfsplit.model.arrays import Floats, Ints
from halfsplit.plan.tables import Branches, Tables

LEAST = 1e-9
"""P(branch) below which it is not followed: the job ends there at once."""


def after_check(tables: Tables, branches: Branches, check: int) -> tuple[Branches, Ints, Floats]:
    """Return the branches after each result of a check.

    Args:
        tables: the situation.
        branches: N of them, settled.
        check: the move.

    Returns:
        The branches; the row of the branch that each comes from; and P(branch) x cost of an end, shape (N,), for
        results too unlikely to be followed.
    """
    tells = tables.situation.actions[check].tells
    assert tells is not None
    n = len(branches)
    weights = (branches.weights * tells.T[:, None, :]).reshape(-1, branches.weights.shape[1])
    owner: Ints = np.tile(np.arange(n, dtype=np.int64), tells.shape[1])
    p = weights.sum(axis=1)
    follows = p > LEAST
    lost: Floats = np.bincount(owner[~follows], tables.situation.stopping * p[~follows], n).astype(np.float64)
    if not follows.all():
        weights, owner = weights[follows], owner[follows]
    is_open = tables.after(branches.is_open, np.full(n, check))
    is_done = branches.is_done | tables.parts[check]
    return Branches(weights, branches.left[owner], is_open[owner], is_done[owner], branches.is_bad[owner]), owner, lost


def after_repairs(tables: Tables, branches: Branches, moves: Ints) -> tuple[Branches, Floats]:
    """Return branches after one repair in each, where its re-check shows that something is still wrong.

    Args:
        tables: the situation.
        branches: N of them.
        moves: the repair in each, shape (N,).

    Returns:
        The branches; and P(branch) x what comes back of the faults that the re-check did not show, in cents,
        shape (N,).
    """
    left = branches.left * (1.0 - tables.cures[moves])
    comes_back = np.zeros(len(branches))
    if not tables.all_show:
        before = np.where(branches.is_bad[:, None], tables.seem_clean(branches.left)[0], 0.0)
        after, clean = tables.seem_clean(left)
        newly = tables.by_set(branches.weights) * np.maximum(after - before, 0.0)
        comes_back = tables.situation.comeback * (newly * (1.0 - clean / np.maximum(after, 1e-300))).sum(axis=1)
    done = branches.is_done | tables.parts[moves]
    is_bad = np.ones(len(branches), dtype=bool)
    return Branches(branches.weights, left, tables.after(branches.is_open, moves), done, is_bad), comes_back
