"""What it costs from here on if nothing more is looked at: repairs one after the other, re-checked, or an end.

The repairs of a branch are ordered by faults cured for each cent, worked out anew after each one that did not help; of
all the places at which to stop the cheapest is taken.  With one fault, perfect repairs and no openings that order is
the best there is (Kadane and Simon 1977); else it is a good policy, and its cost an upper bound on the best.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfsplit.plan.situation import Bools, Floats
from halfsplit.plan.tables import Branches, Tables

MOST_REPAIRS = 10
"""Repairs looked ahead in one row."""

STOP_HERE, REPLACE_HERE = -1, -2
"""What comes first in a branch when it is no repair: hand back, or replace the machine."""

_TINY = 1e-12


@dataclass(frozen=True)
class ToGo:
    """What N branches cost from here on.

    Args:
        cents: P(branch) x expected cost, shape (N,).
        first: the action that comes first, or STOP_HERE, or REPLACE_HERE; shape (N,).
        left_in: P(branch, handed back with a fault that matters), shape (N,).
    """

    cents: Floats
    first: NDArray[np.int64]
    left_in: Floats


def cost_to_go(tables: Tables, branches: Branches, *, most: int = MOST_REPAIRS) -> ToGo:
    """Return what branches cost from here on with repairs only.

    Args:
        tables: the situation.
        branches: N of them.
        most: repairs looked ahead in one row.

    Returns:
        For each branch the cheapest of stopping after 0, 1, ... repairs.  A branch ends when a re-check shows no
        fault; a fault that it did not show comes back.
    """
    situation = tables.situation
    n = len(branches)
    rows = np.arange(n)
    weight = tables.by_set(branches.weights)
    total = np.maximum(branches.weights.sum(axis=1), _TINY * 1e-200)
    own = branches.weights @ tables.cents.T / total[:, None]
    has = weight @ tables.sets.astype(np.float64)
    left, is_open, done = branches.left.copy(), branches.is_open, branches.is_done | tables.is_check
    seems = np.where(branches.is_bad[:, None], tables.p_seems_clean(left), 0.0)
    p_on = (weight * (1.0 - seems)).sum(axis=1)
    is_seen = branches.is_bad.copy()
    spent, hidden = np.zeros(n), np.zeros(n)
    # stopping at once: everything that is left comes back
    at_once = (weight * np.where(is_seen[:, None], 1.0 - seems, 1.0 - tables.p_clean(left))).sum(axis=1)
    best_cents, left_in = situation.comeback * at_once, at_once
    first = np.full(n, STOP_HERE, dtype=np.int64)
    if np.isfinite(situation.replacing):
        replaces = situation.replacing * p_on < best_cents
        best_cents = np.where(replaces, situation.replacing * p_on, best_cents)
        left_in = np.where(replaces, 0.0, left_in)
        first[replaces] = REPLACE_HERE
    leading = np.full(n, STOP_HERE, dtype=np.int64)
    for step in range(min(most, int((~tables.is_check).sum()))):
        gain = (has * left * np.where(is_seen[:, None], tables.shows, 1.0)) @ tables.cures.T
        cents = own + tables.opening_costs(is_open)
        rate = np.where(done, -1.0, gain / np.maximum(cents, _TINY))
        action = rate.argmax(axis=1)
        goes = (rate[rows, action] > 0.0) & (p_on > _TINY * total)
        if not goes.any():
            break
        action = np.where(goes, action, 0)
        spent = spent + np.where(goes, p_on * cents[rows, action], 0.0)
        if step == 0:
            leading = np.where(goes, action, STOP_HERE)
        left = np.where(goes[:, None], left * (1.0 - tables.cures[action]), left)
        made = is_open | tables.chain[action]
        is_open = np.where(goes[:, None], made & (tables.stays | ~tables.powers[action][:, None]), is_open)
        done = done | (goes[:, None] & (np.arange(done.shape[1]) == action[:, None]))
        after = tables.p_seems_clean(left)
        newly = weight * np.maximum(after - seems, 0.0)
        hidden = hidden + np.where(goes, (newly * (1.0 - tables.p_clean(left) / after)).sum(axis=1), 0.0)
        seems = np.where(goes[:, None], after, seems)
        is_seen = is_seen | goes
        p_on = np.where(goes, (weight * (1.0 - seems)).sum(axis=1), p_on)
        end = np.minimum(situation.comeback, situation.replacing)
        here = spent + situation.comeback * hidden + end * p_on
        better = goes & (here < best_cents)
        best_cents = np.where(better, here, best_cents)
        left_in = np.where(better, hidden + (p_on if situation.comeback <= situation.replacing else 0.0), left_in)
        first = np.where(better, leading, first)
    return ToGo(best_cents, first, left_in)


def after_repair(tables: Tables, branches: Branches, action: int) -> tuple[Branches, Floats, Floats]:
    """Return the branches in which a repair was done and its re-check shows that something is still wrong.

    Args:
        tables: the situation.
        branches: N of them.
        action: the repair.

    Returns:
        The branches; what getting there cost, P(branch) x cents, shape (N,), with what comes back of the faults that
        the re-check did not show; and P(branch, handed back with such a fault), shape (N,).
    """
    situation = tables.situation
    weight = tables.by_set(branches.weights)
    seems = np.where(branches.is_bad[:, None], tables.p_seems_clean(branches.left), 0.0)
    left = branches.left * (1.0 - tables.cures[action])
    after = tables.p_seems_clean(left)
    hidden = (weight * np.maximum(after - seems, 0.0) * (1.0 - tables.p_clean(left) / after)).sum(axis=1)
    spent = own_cost(tables, branches, action)
    done = branches.is_done.copy()
    done[:, action] = True
    is_bad: Bools = np.ones(len(branches), dtype=bool)
    then = Branches(branches.weights, left, tables.after(branches.is_open, action), done, is_bad)
    return then, spent + situation.comeback * hidden, hidden


def own_cost(tables: Tables, branches: Branches, action: int) -> Floats:
    """Return what an action costs in branches, with getting to it: P(branch, still wrong) x cents, shape (N,)."""
    on = branches.weights
    if branches.is_bad.any():
        seems = tables.p_seems_clean(branches.left)[:, tables.set_of]
        on = on * np.where(branches.is_bad[:, None], 1.0 - seems, 1.0)
    to_get_there = (~branches.is_open * tables.opening_cents) @ tables.chain[action].astype(np.float64)
    cost: Floats = on @ tables.cents[action] + on.sum(axis=1) * to_get_there
    return cost
