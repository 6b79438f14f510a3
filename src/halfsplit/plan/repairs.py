"""What it costs from here on if nothing more is looked at: repairs one after the other, re-checked, or an end.

The repairs of a branch are ordered by faults cured for each cent, worked out anew after each one that did not help; of
all the places at which to stop the cheapest is taken.  With one fault, perfect repairs and no openings that order is
the best there is (Kadane and Simon 1977).  Where repairs share an opening, the best of them are held together against
it, as in a cost cluster (Langseth and Jensen 2003), and the cheaper of the two rows is taken.  Either is a policy that
can be followed, so its cost is never below the best.
"""

from dataclasses import dataclass

import numpy as np

from halfsplit.plan.situation import Bools, Floats
from halfsplit.plan.tables import Branches, Ints, Tables

MOST_REPAIRS = 12
"""Repairs looked ahead in one row."""

STOP_HERE, REPLACE_HERE = -1, -2
"""What comes first in a branch when it is no repair: hand back, or replace the machine."""

_TINY = 1e-12
_BLOCK = 1 << 16  # numbers in one table of a block: it fits the cache


@dataclass(frozen=True)
class ToGo:
    """What N branches cost from here on.

    Args:
        cents: P(branch) x expected cost, shape (N,).
        first: the move that comes first, or STOP_HERE, or REPLACE_HERE; shape (N,).
    """

    cents: Floats
    first: Ints


def cost_to_go(tables: Tables, branches: Branches) -> ToGo:
    """Return what branches cost from here on with repairs only.

    Args:
        tables: the situation.
        branches: N of them.

    Returns:
        For each branch the cheapest of stopping after 0, 1, ... repairs.  A branch ends when a re-check shows no
        fault; a fault that it did not show comes back.
    """
    step = max(1, _BLOCK // len(tables.sets))
    found = []
    for begin in range(0, len(branches), step):
        block = branches.take(np.arange(begin, min(begin + step, len(branches))))
        row = _Rows(tables, block)
        row.go()
        if row.is_clustered.any():
            clustered = np.flatnonzero(row.is_clustered)
            other = _Rows(tables, block.take(clustered))
            other.go(in_clusters=True)
            better = other.cents < row.cents[clustered]
            row.cents[clustered[better]] = other.cents[better]
            row.first[clustered[better]] = other.first[better]
        found.append(row)
    return ToGo(np.concatenate([row.cents for row in found]), np.concatenate([row.first for row in found]))


class _Rows:
    """One row of repairs for each branch; those that cannot become cheaper drop out on the way.

    Attributes:
        cents, first: as in ToGo.
        is_clustered: whether repairs held together against their opening would have come earlier.
    """

    def __init__(self, tables: Tables, branches: Branches) -> None:
        situation, n = tables.situation, len(branches)
        self.tables = tables
        self.alive = np.arange(n)
        self.weight = tables.by_set(branches.weights)
        self.left = np.concatenate([branches.left, np.zeros((n, 1))], axis=1)
        self.seems = tables.p_none(branches.left * tables.shows)
        clean = self.seems if tables.all_show else tables.p_none(branches.left)
        total = branches.weights.sum(axis=1)
        self.total = np.maximum(total, 1e-300)
        p_bad = (self.weight * (1.0 - self.seems)).sum(axis=1)
        self.p_on = np.where(branches.is_bad, p_bad, total)
        self.p_on_after_one = p_bad
        self.hidden_at_one = np.where(branches.is_bad, 0.0, (self.weight * (self.seems - clean)).sum(axis=1))
        self.is_bad = branches.is_bad
        repairs = tables.repairs
        if tables.cents.shape[1] == 1:
            self.own = np.broadcast_to(tables.cents[repairs, 0], (n, len(repairs)))
        else:
            self.own = branches.weights @ tables.cents[repairs].T / self.total[:, None]
        self.there = (self.weight @ tables.sets) * branches.left
        self.is_open = branches.is_open
        clash = tables.parts[repairs].astype(np.float64)
        self.is_free = (branches.is_done.astype(np.float64) @ clash.T) == 0.0
        self.spent, self.hidden = np.zeros(n), np.zeros(n)
        self.leading = np.full(n, STOP_HERE, dtype=np.int64)
        self.cents = situation.left_broken * p_bad + situation.comeback * self.hidden_at_one
        self.first = np.full(n, STOP_HERE, dtype=np.int64)
        if np.isfinite(situation.replacing):
            replaces = situation.replacing * self.p_on < self.cents
            self.cents = np.where(replaces, situation.replacing * self.p_on, self.cents)
            self.first[replaces] = REPLACE_HERE
        self.is_clustered = np.zeros(n, dtype=bool)

    def go(self, *, in_clusters: bool = False) -> None:
        """Do the best repair in every branch, again and again, and take down where stopping is cheapest."""
        tables, end = self.tables, self.tables.situation.stopping
        for step in range(min(MOST_REPAIRS, len(tables.repairs))):
            rate, chosen = self._best(step, in_clusters=in_clusters)
            goes = (rate > 0.0) & (self.p_on > _TINY * self.total) & (self.spent < self.cents[self.alive])
            if not goes.all():
                self._keep(goes)
                chosen = chosen[goes]
            if not len(self.alive):
                break
            self._repair(chosen, step)
            here = self.spent + tables.situation.comeback * self.hidden + end * self.p_on
            better = here < self.cents[self.alive]
            self.cents[self.alive[better]] = here[better]
            self.first[self.alive[better]] = self.leading[better]

    def _best(self, step: int, *, in_clusters: bool) -> tuple[Floats, Ints]:
        """Return the best faults cured for each cent in each branch, and the place of that repair."""
        tables = self.tables
        rows = np.arange(len(self.alive))
        if not len(rows):
            return np.zeros(0), np.zeros(0, dtype=np.int64)
        there = self.there
        if not tables.all_show:
            there = there * (tables.shows if step else np.where(self.is_bad[:, None], tables.shows, 1.0))
        gain = np.where(self.is_free, there @ tables.cures[tables.repairs].T, 0.0)
        cents = np.maximum(self.own + tables.opening_costs(self.is_open, tables.repairs), _TINY)
        rate = gain / cents
        chosen = rate.argmax(axis=1)
        best: Floats = rate[rows, chosen]
        if len(tables.opening_cents):
            own = np.maximum(self.own, _TINY)
            surplus = np.maximum(gain - best[:, None] * own, 0.0) * tables.may_wait
            to_open = (~self.is_open * tables.opening_cents) @ tables.chain_of_opening.T.astype(np.float64)
            over = surplus @ tables.behind - best[:, None] * to_open
            opening = over.argmax(axis=1)
            beats = over[rows, opening] > 1e-9 * gain.sum(axis=1)
            self.is_clustered[self.alive[beats]] = True
            if in_clusters and beats.any():
                together = (surplus > 0.0) & (tables.behind.T[opening] > 0.0)
                first = np.where(together, gain / own, -1.0).argmax(axis=1)
                chosen = np.where(beats, first, chosen)
        return best, chosen

    def _keep(self, goes: Bools) -> None:
        for name in (
            "alive", "weight", "left", "seems", "total", "p_on", "p_on_after_one", "hidden_at_one", "is_bad", "own",
            "there", "is_open", "is_free", "spent", "hidden", "leading",
        ):  # fmt: skip
            setattr(self, name, getattr(self, name)[goes])

    def _repair(self, chosen: Ints, step: int) -> None:
        """Do a repair in each branch, by its place among the repairs, and its re-check."""
        tables = self.tables
        rows, moves = np.arange(len(chosen)), tables.repairs[chosen]
        to_open = ((~self.is_open * tables.opening_cents) * tables.chain[moves]).sum(axis=1)
        self.spent = self.spent + self.p_on * (self.own[rows, chosen] + to_open)
        if step == 0:
            self.leading = moves
            self.p_on, self.hidden = self.p_on_after_one.copy(), self.hidden_at_one.copy()
        made = self.is_open | tables.chain[moves]
        self.is_open = made & (tables.stays | ~tables.powers[moves][:, None])
        self.is_free = self.is_free & ~tables.clash[np.ix_(tables.repairs, tables.repairs)][chosen]
        cured = tables.cures[moves]
        self.there = self.there * (1.0 - cured)
        before = self.left if step == 0 and not tables.all_show else None
        self.left = self.left.copy()
        self.left[:, :-1] *= 1.0 - cured
        touched = [tables.touched[move] for move in moves]
        sets = np.concatenate(touched)
        owner = np.repeat(rows, [len(each) for each in touched])
        members = tables.members[sets]
        left = self.left[owner[:, None], members]
        shows = tables.shows_or_none[members]
        seems = (1.0 - left * shows).prod(axis=1)
        was = self.seems[owner, sets]
        weight = self.weight[owner, sets]
        self.p_on = np.maximum(self.p_on - np.bincount(owner, weight * (seems - was), len(rows)), 0.0)
        if not tables.all_show:
            still = 1.0 - (1.0 - left).prod(axis=1) / seems
            newly = weight * (seems - was) * still
            if before is not None:  # the first re-check of all also passes what seemed clean before
                was_clean = (1.0 - before[owner[:, None], members]).prod(axis=1)
                newly = np.where(self.is_bad[owner], newly, weight * (seems * still - (was - was_clean)))
            self.hidden = self.hidden + np.bincount(owner, newly, len(rows))
        self.seems[owner, sets] = seems


def after_repair(tables: Tables, branches: Branches, move: int) -> tuple[Branches, Floats]:
    """Return the branches in which a repair was done and its re-check shows that something is still wrong.

    Args:
        tables: the situation.
        branches: N of them.
        move: the repair.

    Returns:
        The branches; and what getting there cost, P(branch) x cents, shape (N,), with what comes back of the faults
        that the re-check did not show.
    """
    spent = own_cost(tables, branches, move)
    left = branches.left * (1.0 - tables.cures[move])
    if not tables.all_show:
        before = np.where(branches.is_bad[:, None], tables.p_none(branches.left * tables.shows), 0.0)
        after = tables.p_none(left * tables.shows)
        newly = tables.by_set(branches.weights) * np.maximum(after - before, 0.0)
        hidden = (newly * (1.0 - tables.p_none(left) / np.maximum(after, 1e-300))).sum(axis=1)
        spent = spent + tables.situation.comeback * hidden
    is_bad: Bools = np.ones(len(branches), dtype=bool)
    done = branches.is_done | tables.parts[move]
    return Branches(branches.weights, left, tables.after(branches.is_open, move), done, is_bad), spent


def own_cost(tables: Tables, branches: Branches, move: int) -> Floats:
    """Return what a move costs in branches, with getting to it: P(branch, still wrong) x cents, shape (N,)."""
    on = branches.weights
    if branches.is_bad.any():
        on = on * tables.is_seen(branches)[:, tables.set_of]
    to_get_there = (~branches.is_open * tables.opening_cents) @ tables.chain[move].astype(np.float64)
    cents = tables.cents[move]
    own = on @ cents if len(cents) > 1 else on.sum(axis=1) * cents[0]
    cost: Floats = own + on.sum(axis=1) * to_get_there
    return cost
