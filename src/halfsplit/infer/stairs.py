"""Which pairs of rows are worth making: chosen before they are made.

Most pairs of two large tables come to nothing: their product with what may still complete it is far below what
may be dropped.  The rows of a node that meet the same requirements form a *run*, the largest alpha first.  All
pairs of two runs have the same U, so that the pairs worth ``least`` or more form a staircase: with each row on the
left go the first so many on the right.  Where a stair ends is looked up, not tried, and the sum of what lies beyond
it is a product of sums that are there already.  So what is left out costs nothing and is still counted exactly.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from halfsplit.infer.joins import Pairs, Table, number_pairs, spread_out
from halfsplit.model.arrays import Bools, Floats, Ints, Rows

_LEVEL = 1024.0
"""Room for the logs of one run on one axis for all; no float has a larger log than 745."""

_BEST = 0.999
"""Each node above keeps its best pair: the least value is at most this share of it."""

UOf = Callable[[Rows, Rows, Rows, Ints], Floats]
"""(node above, left run, right run, met by each run) -> U of such pairs, over arrays."""


@dataclass(frozen=True)
class Runs:
    """The rows of one level in runs, and a last run of one row that stands for "carried up alone".

    Args:
        row: shape (rows + 1,): the rows, run by run, the largest alpha of each run first; -1 at the end.
        alpha: shape (rows + 1,): their alphas.
        rest: shape (rows + 1,): the sum of alpha from this row to the end of its run.
        place: shape (rows + 1,): rises along all rows; run * ``_LEVEL`` - log alpha.
        rest_place: the same for ``rest``.
        run: shape (rows + 1,): the run of each.
        node, met: shape (runs,): what the rows of a run share.
        first, many: shape (runs + 1,): where the runs lie.
    """

    row: Rows
    alpha: Floats
    rest: Floats
    place: Floats
    rest_place: Floats
    run: Ints
    node: Rows
    met: Ints
    first: Ints
    many: Ints


def find_runs(table: Table, met: Ints) -> Runs:
    """Return the runs of a table.

    Args:
        table: the level.
        met: shape (rows,): the requirements that each row meets.
    """
    rows = len(met)
    order = np.lexsort((-table.alpha, met, table.node))
    node, met = table.node[order], met[order]
    new = np.ones(rows, dtype=bool)
    new[1:] = (node[1:] != node[:-1]) | (met[1:] != met[:-1])
    first = np.append(np.flatnonzero(new), rows)
    run = np.append(np.cumsum(new) - 1, len(first) - 1)
    alpha = np.append(table.alpha[order], 1.0)
    many = np.diff(first, append=rows + 1)
    rest = alpha.copy()
    step = 1
    while step < many.max():  # in rounds, so that only positive numbers are added and no digit is lost
        rest[:-step] += np.where(run[step:] == run[:-step], rest[step:], 0.0)
        step *= 2
    return Runs(
        np.append(order, -1).astype(np.int32),
        alpha,
        rest,
        run * _LEVEL - _log(alpha),
        run * _LEVEL - _log(rest),
        run,
        node[first[:-1]],
        met[first[:-1]],
        first,
        many,
    )


def _log(x: Floats) -> Floats:
    return np.log(np.maximum(x, np.finfo(np.float64).tiny))


@dataclass(frozen=True)
class Block:
    """Blocks of pairs that were left out: all from a row to the end of its run with all from another on.

    Args:
        above, u: shape (blocks,): as in ``Chosen``.
        left, right: shape (blocks,): the places of the first rows.
        is_one: whether the block has one row on the left, and not all to the end of the run.
        value: shape (blocks,): of all its pairs together.
    """

    above: Rows
    u: Floats
    left: Ints | Rows
    right: Ints | Rows
    is_one: bool
    value: Floats


@dataclass(frozen=True)
class Chosen:
    """The pairs worth at least ``least``, not made yet.

    Args:
        least: the value.
        above, u: shape (stairs,): the node above and U of the pairs of a stair.
        left: shape (stairs,): the place of the left row in ``Runs.row``.
        first, many: shape (stairs,): the places of the right rows.
        short: shape (pairs of runs,): those that were left out whole, and ``short_value`` of all their pairs.
        beyond: what else was left out.
    """

    least: float
    above: Rows
    u: Floats
    left: Rows
    first: Ints
    many: Ints
    short: Bools
    short_value: float
    beyond: tuple[Block, ...]

    @property
    def pairs(self) -> int:
        """How many pairs are chosen."""
        return int(self.many.sum())

    @property
    def dropped(self) -> float:
        """The value of all pairs that were left out."""
        return self.short_value + float(sum(block.value.sum() for block in self.beyond))


class Stairs:
    """All pairs of one level, by runs.

    Args:
        runs: the rows of the level.
        nodes: how many nodes the level has.
        pairs: the nodes that meet.
        u_of: U of pairs.
    """

    def __init__(self, runs: Runs, nodes: int, pairs: tuple[Ints, Ints], u_of: UOf) -> None:
        self.runs = runs
        above, left, right = number_pairs(runs.node, nodes, pairs)
        right[right < 0] = len(runs.node)  # the run of the row that is none
        u = u_of(above, left, right, np.append(runs.met, 0))
        top, total = runs.alpha[runs.first], runs.rest[runs.first]
        most = top[left] * top[right] * u
        possible = np.flatnonzero(most > 0.0)
        self.above, self.left, self.right = above[possible], left[possible], right[possible]
        self.u, self.most = u[possible], most[possible]
        self.all = total[self.left] * total[self.right] * self.u
        best = np.zeros(len(pairs[0]))
        start = np.flatnonzero(np.diff(self.above, prepend=-1))
        best[self.above[start]] = np.maximum.reduceat(self.most, start) if len(start) else 0.0
        self.best = _BEST * best

    def choose(self, least: float) -> Chosen:
        """Return the pairs worth at least so much; of each node above the best, whatever it is worth."""
        runs = self.runs
        tall = self.most >= np.minimum(least, self.best[self.above])
        at = np.flatnonzero(tall)
        u, above, left, right = self.u[at], self.above[at], self.left[at], self.right[at]
        floor = np.minimum(least, self.best[above])
        first_left, first_right = runs.first[left], runs.first[right]
        many = self._reach(left, floor / (u * runs.alpha[first_right]))
        part = np.flatnonzero(many < runs.many[left])
        start = first_left[part] + many[part]
        value = runs.rest[start] * runs.rest[first_right[part]] * u[part]
        lower = Block(above[part], u[part], start, first_right[part], False, value)
        stair, row = spread_out(first_left, many)
        u, above, first_right, right = u[stair], above[stair], first_right[stair], right[stair]
        alpha = runs.alpha[row] * u
        many = self._reach(right, floor[stair] / alpha)
        part = np.flatnonzero(many < runs.many[right])
        start = first_right[part] + many[part]
        lowest = Block(above[part], u[part], row[part], start, True, alpha[part] * runs.rest[start])
        short_value = float(np.where(tall, 0.0, self.all).sum())
        return Chosen(least, above, u, row, first_right, many, ~tall, short_value, (lower, lowest))

    def _reach(self, run: Rows, alpha: Floats) -> Ints:
        """Return how many rows of each run have at least so much alpha; 1 at least."""
        reach = np.ones(len(run), dtype=np.int64)
        several = np.flatnonzero(self.runs.many[run] > 1)
        run = run[several]
        place = run * _LEVEL - np.clip(_log(alpha[several]), 1.0 - _LEVEL, 1.0)
        found = np.searchsorted(self.runs.place, place, side="right") - self.runs.first[run]
        reach[several] = np.clip(found, 1, self.runs.many[run])
        return reach

    def make(self, chosen: Chosen) -> Pairs:
        """Return the pairs chosen."""
        stair, place = spread_out(chosen.first, chosen.many)
        return Pairs(chosen.above[stair], self.runs.row[chosen.left[stair]], self.runs.row[place], None)

    def draw(self, chosen: Chosen, most: int, rng: np.random.Generator) -> Pairs:
        """Return the pairs chosen, and some at random of those left out, with the factors that make up for the others.

        They are drawn in proportion to their value, so many that one stands for about ``least``, or ``most``.
        """
        each = max(chosen.least, chosen.dropped / most)
        made = self.make(chosen)
        at, first = np.flatnonzero(chosen.short), self.runs.first
        short = Block(self.above[at], self.u[at], first[self.left[at]], first[self.right[at]], False, self.all[at])
        beyond = [block for block in (short, *chosen.beyond) if len(block.value)]
        parts = [made, *(self._draw(block, each, rng) for block in beyond)]
        return Pairs(
            np.concatenate([pairs.above for pairs in parts]),
            np.concatenate([pairs.left for pairs in parts]),
            np.concatenate([pairs.right for pairs in parts]),
            np.concatenate(
                [np.ones(len(made.above)), *(pairs.factor for pairs in parts[1:] if pairs.factor is not None)]
            ),
        )

    def _draw(self, block: Block, each: float, rng: np.random.Generator) -> Pairs:
        total = np.cumsum(block.value)
        many = int(np.ceil(total[-1] / each))
        each = total[-1] / max(1, many)
        at = np.searchsorted(total, (np.arange(many) + rng.random()) * each, side="right")
        at = np.minimum(at, len(total) - 1)
        left = block.left[at] if block.is_one else self._draw_rows(block.left[at], rng)
        right = self._draw_rows(block.right[at], rng)
        factor = each / (self.runs.alpha[left] * self.runs.alpha[right] * block.u[at])
        return Pairs(block.above[at], self.runs.row[left], self.runs.row[right], factor)

    def _draw_rows(self, start: Ints | Rows, rng: np.random.Generator) -> Ints:
        """Draw from each of these rows to the end of its run one, in proportion to alpha."""
        runs = self.runs
        run = runs.run[start]
        place = run * _LEVEL - _log(runs.rest[start] * (1.0 - rng.random(len(start))))
        row = np.searchsorted(runs.rest_place, place, side="right") - 1
        found: Ints = np.clip(row, start, runs.first[run] + runs.many[run] - 1)
        return found
