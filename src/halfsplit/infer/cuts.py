"""What of a large program is worked out: the rows and pairs that are worth most, or some drawn at random.

What is left out is added up by U, so that the bound on what is missing from P is a true one.
"""

from collections.abc import Sequence
from functools import partial

import numpy as np

from halfsplit.infer.bounds import Bounds
from halfsplit.infer.joins import Pairs, Table, count_pairs, number_pairs
from halfsplit.infer.leaves import Leaves
from halfsplit.infer.stairs import Chosen, Stairs, find_runs
from halfsplit.model.arrays import Bools, Floats

FEW_PAIRS = 3_000
"""Pairs that are made without choosing among them."""

MOST_LEAVES = 150_000
"""Rows of leaves that are kept at any time; what is beyond, worth least, is dropped whatever the budget."""

_ENOUGH_DROPPED = 0.3
"""Pairs are chosen so that at least this part of the budget is used."""

LEAF_PART = 0.25
"""The part of the budget that the leaves may drop as they grow."""

ROW_PART = 1.0
LAST_PART = 4.0
"""How the rest is divided: to the rows of each level, and to the pairs of the last level beside 1 for the first."""


def _pair_part(level: int, levels: int) -> float:
    """Return the part of the pairs that make a level: the later, the more pairs another part would cost."""
    return 1.0 + (LAST_PART - 1.0) * (level / (levels - 1)) ** 2


_MOST_TRIALS = 12

_TINY = float(np.finfo(np.float64).tiny)


class Cut:
    """Chooses the pairs and rows that are worth most, and adds up what was left out.

    Args:
        bounds: what completes a row, from above.
        budget: what may be dropped in all, as an absolute probability: half of it from the leaves as they grow,
            half from the pairs and rows of the levels.
        max_pairs: the most pairs that one level joins; more is dropped whatever the budget.

    Attributes:
        dropped: the bound on what is missing from P so far.
        excess: what of it was dropped beyond the budget, because the pairs or the leaves were too many.
    """

    def __init__(self, bounds: Bounds, *, budget: float, max_pairs: int) -> None:
        self.bounds = bounds
        self.plan = bounds.plan
        self.leaf_budget = budget * LEAF_PART / max(1, sum(field.bits > 0 for field in bounds.packing.fields))
        self.max_pairs = max_pairs
        self.dropped = 0.0
        self.excess = 0.0
        self._budget = budget
        levels = len(self.plan.nodes)
        self._parts = [
            ROW_PART,
            *(part for level in range(1, levels) for part in (_pair_part(level, levels), ROW_PART)),
        ]
        self._least = (1 - LEAF_PART) * budget / len(self._parts) / FEW_PAIRS

    def pairs(self, table: Table, level: int) -> Pairs:
        """Return the pairs of rows of a level that are worth joining."""
        budget = self._next_budget()
        pairs, nodes = self.plan.pairs[level], self.plan.nodes[level]
        if count_pairs(table.node, nodes, pairs) <= min(FEW_PAIRS, self.max_pairs):
            return Pairs(*number_pairs(table.node, nodes, pairs))
        stairs = self.stairs(table, level)
        chosen = self._choose(stairs, budget)
        self.dropped += chosen.dropped
        self.excess += max(0.0, chosen.dropped - budget)
        return stairs.make(chosen)

    def stairs(self, table: Table, level: int) -> Stairs:
        """Return all pairs of a level, not made yet."""
        runs = find_runs(table, self.bounds.met(table.node, table.codes, level))
        u_of = partial(self.bounds.beta_of_pairs, level + 1)
        return Stairs(runs, self.plan.nodes[level], self.plan.pairs[level], u_of)

    def _choose(self, stairs: Stairs, budget: float) -> Chosen:
        """Return pairs so that what is left out just keeps to the budget; fewer where they would be too many."""
        too_high = np.inf
        chosen = stairs.choose(self._least)
        for _ in range(_MOST_TRIALS):
            least = chosen.least * min(64.0, max(1 / 16, 0.7 * budget / max(chosen.dropped, budget / 100, _TINY)))
            if chosen.dropped > budget:
                too_high = chosen.least
                if chosen.pairs > self.max_pairs:
                    break
            elif chosen.dropped >= _ENOUGH_DROPPED * budget or chosen.pairs <= 3 * FEW_PAIRS or least >= too_high:
                break
            chosen = stairs.choose(least)
        while chosen.pairs > self.max_pairs and chosen.least <= stairs.most.max():
            chosen = stairs.choose(2.0 * chosen.least)
        self._least = chosen.least
        return chosen

    def rows(self, table: Table, level: int) -> Floats:
        """Return 1 for each row to keep and 0 for each to drop."""
        value = table.alpha * self.bounds.beta(table.node, table.codes, level)
        kept, dropped = _keep(value, self._next_budget())
        self.dropped += dropped
        return kept.astype(np.float64)

    def _next_budget(self) -> float:
        """Return the next part of what is left; where a level had to drop too much, the others still have some."""
        part = self._parts[0] / sum(self._parts)
        self._parts.pop(0)
        return max(0.0, self._budget - self.dropped + self.excess) * part

    def leaves(self, leaves: Leaves, done: Sequence[int]) -> Leaves:
        """Return the leaves with the rows dropped that cannot matter."""
        node = self.plan.leaf[leaves.root, leaves.given]
        value = leaves.weight * self.bounds.beta_so_far(node, leaves.codes, done)
        kept, dropped = _keep(value, self.leaf_budget)
        self.dropped += dropped
        if int(kept.sum()) > MOST_LEAVES:
            kept, whole = _keep_most(value, MOST_LEAVES)
            self.excess += whole - dropped
            self.dropped += whole - dropped
        if kept.all():
            return leaves
        return Leaves(
            leaves.root[kept], leaves.given[kept], leaves.codes[kept], leaves.state[kept], leaves.weight[kept]
        )


def _keep(value: Floats, budget: float) -> tuple[Bools, float]:
    """Drop the smallest values that together keep to a budget; return which stay, and the sum of the others."""
    order = np.argsort(value)
    total = np.cumsum(value[order])
    many = int(np.searchsorted(total, budget, side="right"))
    kept = np.ones(len(value), dtype=bool)
    kept[order[:many]] = False
    return kept, float(total[many - 1]) if many else 0.0


def _keep_most(value: Floats, most: int) -> tuple[Bools, float]:
    """Keep so many of the largest values; return which stay, and the sum of the others."""
    kept = np.zeros(len(value), dtype=bool)
    kept[np.argpartition(value, len(value) - most)[len(value) - most :]] = True
    return kept, float(value[~kept].sum())


class Thin(Cut):
    """Drops small rows and pairs by chance and makes up for it, so that P is right on average.

    A row worth less than ``stay`` stays with probability value / stay and then counts stay / value times; of the
    pairs worth less some are drawn, in proportion to their value.  The mean of several such passes estimates P without
    bias (importance sampling).
    """

    def __init__(self, bounds: Bounds, *, stay: float, max_pairs: int, rng: np.random.Generator) -> None:
        super().__init__(bounds, budget=0.0, max_pairs=max_pairs)
        self.stay = stay
        self.rng = rng

    def _factor(self, value: Floats) -> Floats:
        chance = np.minimum(1.0, value / self.stay)
        stays = self.rng.random(len(value)) < chance
        return np.where(stays, 1.0 / np.where(chance > 0, chance, 1.0), 0.0)

    def pairs(self, table: Table, level: int) -> Pairs:
        """Return pairs, those worth little by chance."""
        stairs = self.stairs(table, level)
        chosen = stairs.choose(self.stay)
        while chosen.pairs > self.max_pairs and chosen.least <= stairs.most.max():
            chosen = stairs.choose(4.0 * chosen.least)
        return stairs.draw(chosen, self.max_pairs, self.rng)

    def rows(self, table: Table, level: int) -> Floats:
        """Return the factor of each row, 0 = dropped."""
        return self._factor(table.alpha * self.bounds.beta(table.node, table.codes, level))

    def leaves(self, leaves: Leaves, done: Sequence[int]) -> Leaves:
        """Return the leaves thinned."""
        node = self.plan.leaf[leaves.root, leaves.given]
        factor = self._factor(leaves.weight * self.bounds.beta_so_far(node, leaves.codes, done))
        kept = factor > 0
        return Leaves(
            leaves.root[kept],
            leaves.given[kept],
            leaves.codes[kept],
            leaves.state[kept],
            (leaves.weight * factor)[kept],
        )
