"""What may still complete a row, from above: so that a large table can be cut where it does not matter.

Every weight is at most 1, so P(everything outside a node completes this row) is at most the same for a few
readings only.  A *window* is a few readings side by side whose classes are so few that the whole program
runs on them exactly, up and down.  Its beta, looked up by a row's own code in the window, bounds the row's
beta; the least over all (overlapping) windows is the bound U.

A row adds at most alpha * U to P.  Rows are dropped from the smallest of these products upwards, and what was
dropped is added up: a true bound on what is missing from P.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from halfsplit.infer.joins import Plan, Table, Up, merge_rows, pass_down
from halfsplit.infer.leaves import WORD_BITS, Leaves, Packing, Step
from halfsplit.model.evidence import Floats, Ints

WINDOW_CLASSES = 150
"""Joint classes that one window may have."""


@dataclass(frozen=True)
class Window:
    """One window: for each level the sorted keys (node, code in the window) and their beta.

    Args:
        fields: the fields in it.
        word, mask: where their codes lie.
        p: P(the readings in the window).
    """

    fields: frozenset[int]
    word: int
    mask: int
    keys: tuple[Ints, ...]
    betas: tuple[Floats, ...]
    p: float

    def beta(self, node: Ints, codes: Ints, level: int) -> Floats:
        """Return the window's beta for rows of a level, 0 where the window knows no such row."""
        keys = self.keys[level]
        if not len(keys):
            return np.zeros(len(node))
        key = (node << WORD_BITS) | (codes[:, self.word] & self.mask)
        at = np.minimum(np.searchsorted(keys, key), len(keys) - 1)
        return np.where(keys[at] == key, self.betas[level][at], 0.0)


class Question(Protocol):
    """What a window needs of a program; see ``program.Program``."""

    steps: tuple[Step, ...]
    packing: Packing
    plan: Plan
    lone: frozenset[int]

    def walk_roots(self, steps: Sequence[Step], *, inside: frozenset[int] | None = None) -> Leaves:
        """Walk all roots through the log."""
        ...

    def join_up(self, table: Table, *, inside: frozenset[int] | None = None, max_pairs: int) -> Up:
        """Join a table of level 0 up the tree."""
        ...

    def top_weights(self, table: Table, inside: frozenset[int] | None = None) -> Floats:
        """Return the weight of each row at the top."""
        ...


def make_windows(program: Question, max_pairs: int) -> tuple[Window, ...]:
    """Run the program on every window of readings, both ways."""
    windows = []
    for inside in _spans(program.packing, program.lone):
        leaves = program.walk_roots(program.steps, inside=inside)
        table, _ = merge_rows(program.plan.leaf[leaves.root, leaves.given], leaves.codes, leaves.weight)
        up = program.join_up(table, inside=inside, max_pairs=max_pairs)
        top = program.top_weights(up.tables[-1], inside)
        betas = pass_down(up, [level.alpha for level in up.tables], top)
        word = program.packing.word[min(inside)]
        mask = 0
        for f in inside:
            mask |= ((1 << program.packing.fields[f].bits) - 1) << program.packing.shift[f]
        keys = tuple((level.node << WORD_BITS) | (level.codes[:, word] & mask) for level in up.tables)
        windows.append(Window(inside, word, mask, keys, betas, float((up.tables[-1].alpha * top).sum())))
    return tuple(windows)


def _spans(packing: Packing, lone: frozenset[int]) -> list[frozenset[int]]:
    """Return overlapping runs of neighbouring fields, each in one word, with few joint classes each."""
    classes = [field.join.size if field.join else field.classes for field in packing.fields]
    open_fields = [f for f, field in enumerate(packing.fields) if field.bits and f not in lone]
    spans: list[frozenset[int]] = []
    last_end = -1
    for a in range(len(open_fields)):
        joint, b = 1, a
        while b < len(open_fields) and packing.word[open_fields[b]] == packing.word[open_fields[a]]:
            if b > a and joint * classes[open_fields[b]] > WINDOW_CLASSES:
                break
            joint *= classes[open_fields[b]]
            b += 1
        if b > last_end:
            spans.append(frozenset(open_fields[a:b]))
            last_end = b
    return spans


class Cut:
    """Cuts tables down, and adds up what was dropped.

    Args:
        windows: the windows.
        plan: the tree, to know how many pairs the next level would join.
        budget: what may be dropped at one cut, as an absolute probability.
        max_pairs: the most pairs that the next level may join; more is dropped whatever the budget.

    Attributes:
        dropped: the bound on what is missing from P so far.
    """

    def __init__(self, windows: Sequence[Window], plan: Plan, *, budget: float, max_pairs: int) -> None:
        self.windows = tuple(windows)
        self.plan = plan
        self.budget = budget
        self.max_pairs = max_pairs
        self.dropped = 0.0

    def bound(self, node: Ints, codes: Ints, level: int, done: frozenset[int] | None = None) -> Floats:
        """Return U for rows of a level; with ``done`` only by windows whose fields have all been walked."""
        least = np.ones(len(node))
        for window in self.windows:
            if done is None or window.fields <= done:
                least = np.minimum(least, window.beta(node, codes, level))
        return least

    def __call__(self, table: Table, level: int) -> Floats:
        """Return 1 for each row to keep and 0 for each to drop."""
        value = table.alpha * self.bound(table.node, table.codes, level)
        kept = self._keep(value)
        if level < len(self.plan.pairs):
            kept = self._within_pairs(table, level, value, kept)
        return kept.astype(np.float64)

    def leaves(self, leaves: Leaves, done: Sequence[int]) -> Leaves:
        """Return the leaves with the rows dropped that cannot matter."""
        node = self.plan.leaf[leaves.root, leaves.given]
        kept = self._keep(leaves.weight * self.bound(node, leaves.codes, 0, frozenset(done)))
        if kept.all():
            return leaves
        return Leaves(
            leaves.root[kept], leaves.given[kept], leaves.codes[kept], leaves.state[kept], leaves.weight[kept]
        )

    def _keep(self, value: Floats) -> NDArray[np.bool_]:
        order = np.argsort(value)
        total = np.cumsum(value[order])
        many = int(np.searchsorted(total, self.budget, side="right"))
        kept = np.ones(len(value), dtype=bool)
        if many:
            kept[order[:many]] = False
            self.dropped += float(total[many - 1])
        return kept

    def _within_pairs(self, table: Table, level: int, value: Floats, kept: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Drop more rows, smallest first, until the next level is small enough; each node keeps its best."""
        left, right = self.plan.pairs[level]
        falling = np.lexsort((-value, table.node))
        best = np.ones(len(falling), dtype=bool)
        best[1:] = table.node[falling[1:]] != table.node[falling[:-1]]
        must = np.zeros(len(kept), dtype=bool)
        must[falling[best]] = True
        kept = kept | must
        while True:
            many = np.bincount(table.node[kept], minlength=self.plan.nodes[level])
            if (many[left] * np.where(right < 0, 1, many[right])).sum() <= self.max_pairs:
                return kept
            spare = np.flatnonzero(kept & ~must)
            if not len(spare):
                return kept
            smallest = spare[np.argsort(value[spare], kind="stable")[: max(1, len(spare) // 5)]]
            self.dropped += float(value[smallest].sum())
            kept[smallest] = False


class Thin(Cut):
    """Drops small rows by chance and makes up for it, so that P is right on average.

    A row whose product is below ``level_of`` stays with probability product / level and then counts level /
    product times.  The mean of several such passes estimates P without bias (importance sampling over
    the rows).
    """

    def __init__(
        self, windows: Sequence[Window], plan: Plan, *, stay: float, max_pairs: int, rng: np.random.Generator
    ) -> None:
        super().__init__(windows, plan, budget=0.0, max_pairs=max_pairs)
        self.stay = stay
        self.rng = rng

    def _factor(self, value: Floats) -> Floats:
        chance = np.minimum(1.0, value / self.stay)
        stays = self.rng.random(len(value)) < chance
        return np.where(stays, 1.0 / np.where(chance > 0, chance, 1.0), 0.0)

    def __call__(self, table: Table, level: int) -> Floats:
        """Return the factor of each row, 0 = dropped."""
        return self._factor(table.alpha * self.bound(table.node, table.codes, level))

    def leaves(self, leaves: Leaves, done: Sequence[int]) -> Leaves:
        """Return the leaves thinned."""
        node = self.plan.leaf[leaves.root, leaves.given]
        factor = self._factor(leaves.weight * self.bound(node, leaves.codes, 0, frozenset(done)))
        kept = factor > 0
        return Leaves(
            leaves.root[kept],
            leaves.given[kept],
            leaves.codes[kept],
            leaves.state[kept],
            (leaves.weight * factor)[kept],
        )
