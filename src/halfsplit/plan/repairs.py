"""What it costs from here on if nothing more is looked at: repairs one after the other, re-checked, or an end.

The repairs of a branch are ordered by faults cured for each cent, worked out anew after each one that did not help; of
all the places at which to stop the cheapest is taken.  With one fault, perfect repairs and no openings that order is
the best there is (Kadane and Simon 1977).  Where repairs share an opening, the best of them are held together against
it, as in a cost cluster (Langseth and Jensen 2003).  A row is a policy that can be followed, so its cost is never
below the best.
"""

from dataclasses import dataclass

import numpy as np

from halfsplit.model.arrays import Bools, Floats, Ints
from halfsplit.plan.tables import Branches, Tables

MOST_REPAIRS = 12
"""Repairs looked ahead in one row."""

STOP_HERE, REPLACE_HERE = -1, -2
"""What comes first in a branch when it is no repair: hand back, or replace the machine."""

_TINY = 1e-12
_BLOCK = 1 << 18  # numbers in one table of a block of branches: larger ones leave the cache


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
    for begin in range(0, max(1, len(branches)), step):
        block = branches.take(np.arange(begin, min(begin + step, len(branches))))
        row = _Rows(tables, block)
        row.go()
        found.append(row)
    return ToGo(np.concatenate([row.cents for row in found]), np.concatenate([row.first for row in found]))


class _Rows:
    """One row of repairs for each branch; those that cannot become cheaper drop out on the way.

    Attributes:
        cents, first: as in ToGo.
    """

    def __init__(self, tables: Tables, branches: Branches) -> None:
        situation, n = tables.situation, len(branches)
        self.tables = tables
        self.alive = np.arange(n)
        self.weight = tables.by_set(branches.weights)
        self.left = np.concatenate([branches.left, np.zeros((n, 1))], axis=1)
        self.seems, clean = tables.seem_clean(branches.left)
        total = branches.weights.sum(axis=1)
        self.total = np.maximum(total, 1e-300)
        p_seems, p_clean = (self.weight * self.seems).sum(axis=1), (self.weight * clean).sum(axis=1)
        p_bad = np.maximum(total - p_seems, 0.0)
        self.p_on = np.where(branches.is_bad, p_bad, total)
        self.p_on_after_one = p_bad
        self.hidden_at_one = np.where(branches.is_bad, 0.0, p_seems - p_clean)
        self.is_bad = branches.is_bad
        repairs = tables.repairs
        if tables.is_flat:
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

    def go(self) -> None:
        """Do the best repair in every branch, again and again, and take down where stopping is cheapest."""
        tables, end = self.tables, self.tables.situation.stopping
        for step in range(min(MOST_REPAIRS, len(tables.repairs))):
            gain = self._gain(step)
            goes = (gain.max(axis=1) > 0.0) & (self.p_on > _TINY * self.total) & self._may_gain(gain, step)
            if not goes.all():
                self._keep(goes)
                gain = gain[goes]
            if not len(self.alive):
                break
            self._repair(self._best(gain), step)
            here = self.spent + tables.situation.comeback * self.hidden + end * self.p_on
            better = here < self.cents[self.alive]
            self.cents[self.alive[better]] = here[better]
            self.first[self.alive[better]] = self.leading[better]

    def _gain(self, step: int) -> Floats:
        """Return how many faults that show each repair would cure, P x number, shape (alive, R); done ones none."""
        there, tables = self.there, self.tables
        if not tables.all_show:
            there = there * (tables.shows if step else np.where(self.is_bad[:, None], tables.shows, 1.0))
        return np.where(self.is_free, there @ tables.cured_by, 0.0)

    def _may_gain(self, gain: Floats, step: int) -> Bools:
        """Return whether a branch may still become cheaper.

        What cures at no more than a rate r for each cent takes P from p to q for at least (p^2 - q^2) / (2 r) cents,
        for a repair is paid by all that is still to be cured; so it is cheapest to go on to the end, or not at all.
        """
        ceiling = (gain / np.maximum(self.own, _TINY)).max(axis=1)
        p_on = self.p_on if step else self.p_on_after_one
        to_the_end = p_on**2 / (2.0 * np.maximum(ceiling, 1e-300))
        least: Bools = self.spent + self.tables.situation.comeback * self.hidden + to_the_end < self.cents[self.alive]
        return least

    def _best(self, gain: Floats) -> Ints:
        """Return the place of the repair that comes next in each branch, by faults cured for each cent."""
        tables, rows = self.tables, np.arange(len(self.alive))
        own = np.maximum(self.own, _TINY)
        cents = np.maximum(self.own + (~self.is_open * tables.opening_cents) @ tables.opened_for_repair, _TINY)
        rate = gain / cents
        chosen: Ints = rate.argmax(axis=1).astype(np.int64)
        best: Floats = np.asarray(rate[rows, chosen])
        if len(tables.opening_cents):
            surplus = np.maximum(gain - best[:, None] * own, 0.0) * tables.may_wait
            to_open = (~self.is_open * tables.opening_cents) @ tables.opened_for
            over: Floats = surplus @ tables.behind - best[:, None] * to_open
            opening = over.argmax(axis=1)
            beats = over[rows, opening] > 1e-9 * gain.sum(axis=1)
            if beats.any():
                together = (surplus > 0.0) & (tables.behind[:, opening].T > 0.0)
                first = np.where(together, gain / own, -1.0).argmax(axis=1)
                chosen = np.where(beats, first, chosen)
        return chosen

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
        self.is_free = self.is_free & ~tables.clash[chosen]
        cured = tables.cures[moves]
        self.there = self.there * (1.0 - cured)
        before = self.left if step == 0 and not tables.all_show else None
        self.left = self.left.copy()
        self.left[:, :-1] *= 1.0 - cured
        touched = [tables.touched[move] for move in moves]
        sets = np.concatenate(touched)
        owner = np.repeat(rows, [len(each) for each in touched])
        members = tables.members[sets].T
        absent = 1.0 - self.left * tables.shows_or_none
        seems = _product(absent, owner, members)
        was = self.seems[owner, sets]
        weight = self.weight[owner, sets]
        self.p_on = np.maximum(self.p_on - np.bincount(owner, weight * (seems - was), len(rows)), 0.0)
        if not tables.all_show:
            still = 1.0 - _product(1.0 - self.left, owner, members) / np.maximum(seems, 1e-300)
            newly = weight * (seems - was) * still
            if before is not None:  # the first re-check of all also passes what seemed clean before
                was_clean = _product(1.0 - before, owner, members)
                newly = np.where(self.is_bad[owner], newly, weight * (seems * still - (was - was_clean)))
            self.hidden = self.hidden + np.bincount(owner, newly, len(rows))
        self.seems[owner, sets] = seems


def _product(absent: Floats, owner: Ints, members: Ints) -> Floats:
    """Return for each of some sets the product over its members, shape (most, sets), of a number by owner and fault."""
    flat = absent.ravel()
    begin = owner * absent.shape[1]
    product: Floats = flat[begin + members[0]]
    for each in members[1:]:
        product *= flat[begin + each]
    return product
