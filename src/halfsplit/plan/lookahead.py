"""Every action held against every other by the least expected cost from here on.

An action's cost is its own, that of getting to it, and what is expected to come after each of its results: repairs
only, or the best of those and of one more action; after the best repairs a check is thought of always, else only when
more steps are asked for.  The same worlds weigh before and after, so a check that tells nothing is worth exactly
nothing; and none is worth less, for nobody need heed it, unless it closes what is open.  All costs are those of
policies that can be followed: none is below the best.
"""

from dataclasses import dataclass

import numpy as np

from halfsplit.model.arrays import Floats, Ints
from halfsplit.plan.bundles import TIE, find_bundles
from halfsplit.plan.repairs import REPLACE_HERE, STOP_HERE, ToGo, cost_to_go
from halfsplit.plan.results import LEAST, after_check, after_repairs
from halfsplit.plan.settle import settle
from halfsplit.plan.situation import HAND_BACK, REPLACE, Situation
from halfsplit.plan.tables import Branches, Tables, stack

REPAIRS_BEFORE, CHECKS_AFTER = 4, 6
"""So many of the best repairs are held against the others with one of so many of the best checks after each."""


@dataclass(frozen=True)
class Ranked:
    """One thing to do next.

    Args:
        id: the action, or HAND_BACK, or REPLACE; the ids of a bundle's actions are joined by "+".
        cents: what it costs by itself, getting to it included; of a bundle what is expected of it.
        total: the least expected cost from here on when it comes first, in cents.
        value: what it saves against doing without it: for a check the best that can be done without looking, for a
            repair the best end; in cents.
        parts: the actions that it is made of, in order; one for an action, none for an end.  Of a bundle of checks
            the rest is left when a result makes it needless; a bundle of repairs has one re-check.
    """

    id: str
    cents: float
    total: float
    value: float
    parts: tuple[str, ...] = ()


@dataclass(frozen=True)
class Ranking:
    """What can be done next, best first.

    Args:
        ranked: by expected cost from here on; equal ones by their own cost, by how much they tell, and by id.
        without: the least expected cost without any further check, in cents.
        then: for each action or bundle its results with P(result) and what would come first after it.
    """

    ranked: tuple[Ranked, ...]
    without: float
    then: dict[str, tuple[tuple[float, str], ...]]


def rank_actions(situation: Situation, *, depth: int = 1, width: int = 12) -> Ranking:
    """Rank everything that can be done next.

    Args:
        situation: what may be, and what can be done.
        depth: how many actions are looked ahead before only repairs are thought of: 1 or more.
        width: how many of the actions, the best by one step of lookahead, are looked at more than one step deep.

    Returns:
        The ranking; the same for the same situation.
    """
    tables = Tables(situation)
    start = tables.start()
    base = cost_to_go(tables, start)
    every = np.arange(len(tables.moves))
    near = _Step(tables, start, every)
    to_go = cost_to_go(tables, near.children)
    total = near.totals(to_go.cents, base.cents)[0]
    checks, repairs = (_best(total, moves) for moves in (np.flatnonzero(tables.is_check), tables.repairs))
    ways = [(repairs[:REPAIRS_BEFORE], checks[:CHECKS_AFTER], 2)]
    if depth > 1:
        chosen = _best(total, every)[:width]
        ways.append((chosen, chosen, depth))
    for first, then, steps in ways:
        if len(first) and len(then):
            total[first] = np.minimum(total[first], _deep(tables, start, first, then, base.cents, steps)[0])
    return _Found(tables, start, near, to_go, base, total).ranking()


class _Found:
    """What a ranking is made of.

    Args:
        tables: the situation.
        start: its one branch.
        near: every move, one step ahead.
        to_go: what comes after its results, with repairs only.
        base: what comes with repairs only and no step ahead.
        total: the least expected cost of each move, as far as was looked ahead.
    """

    def __init__(self, tables: Tables, start: Branches, near: "_Step", to_go: ToGo, base: ToGo, total: Floats) -> None:
        self.tables = tables
        self.near = near
        self.to_go = to_go
        situation = tables.situation
        self.own = tables.own_costs(start, np.arange(len(tables.moves)))[0]
        self.without = min(float(base.cents[0]), float(total[tables.repairs].min(initial=np.inf)))
        # what can be done without a look can be done after it as well
        self.can_be_ignored = tables.is_check & ~near.closes
        self.total = np.where(self.can_be_ignored, np.minimum(total, self.own + self.without), total)
        p_shows = float(situation.weights @ (1.0 - tables.p_none(start.left * tables.shows)[0, tables.set_of]))
        p_hidden = float(situation.weights @ situation.faults.any(axis=1)) - p_shows
        self.ends = [(HAND_BACK, situation.left_broken * p_shows + situation.comeback * p_hidden)]
        if np.isfinite(situation.replacing):
            self.ends.append((REPLACE, situation.replacing))

    def ranking(self) -> Ranking:
        """Return the ranking."""
        tables, near = self.tables, self.near
        ids = [action.id for action in tables.situation.actions]
        told = near.tells_most()
        then = near.then(self.to_go)
        found = [Ranked(name, cents if name == REPLACE else 0.0, cents, 0.0) for name, cents in self.ends]
        for bundle in find_bundles(tables, near.children, near.column, self.to_go, self.own, told):
            parts = tuple(ids[n] for n in bundle.checks)
            value = max(0.0, self.without - bundle.total + bundle.cents)
            found.append(Ranked("+".join(parts), bundle.cents, bundle.total, value, parts))
            then["+".join(parts)] = tuple((p, name_of(tables, first)) for p, first in bundle.then)
        best_end = min(cents for _, cents in self.ends)
        best = min([float(self.total.min(initial=np.inf)), *(each.total for each in found)])
        tells: dict[str, float] = {}
        for move, actions in enumerate(tables.moves):
            own, total = float(self.own[move]), float(self.total[move])
            value = max(0.0, (self.without if tables.is_check[move] else best_end) - total + own)
            if self.can_be_ignored[move]:
                total = min(total, own + best)
            if tables.is_check[move]:
                tells[tables.name(move)] = float(told[move])
            found.append(Ranked(tables.name(move), own, total, value, tuple(ids[n] for n in actions)))
        # of equal ones the cheaper, then what tells more; what tells nothing comes last
        found.sort(
            key=lambda each: (
                round(each.total / TIE),
                tells.get(each.id, 1.0) <= LEAST,
                round(each.cents / TIE),
                -round(tells.get(each.id, 0.0) / LEAST),
                each.id,
            )
        )
        return Ranking(tuple(found), self.without, then)


def name_of(tables: Tables, first: int) -> str:
    """Return the id of what comes first in a branch."""
    if first == STOP_HERE:
        return HAND_BACK
    return REPLACE if first == REPLACE_HERE else tables.name(first)


class _Step:
    """Every one of some moves in every one of N branches, with the branches after each result.

    Attributes:
        spent: P(branch) x what each move costs until its result is there, shape (N, moves); infinity for done ones.
        closes: whether a move closes what is open in some branch, shape (moves,).
        children: the branches after.
        owner, column: the branch and the place of the move that each of them comes from.
    """

    def __init__(self, tables: Tables, branches: Branches, moves: Ints) -> None:
        self.tables = tables
        self.branches = settle(tables, branches)
        self.moves = moves
        n = len(branches)
        is_free = (branches.is_done.astype(np.float64) @ tables.parts[moves].T) == 0.0
        self.spent = np.where(is_free, tables.own_costs(self.branches, moves), np.inf)
        after = [tables.after(branches.is_open, np.full(n, move)) for move in moves]
        self.closes = np.array([(branches.is_open & ~each).any() for each in after], dtype=bool)
        pieces, owners, columns = [], [], []
        for column in np.flatnonzero(tables.is_check[moves]):
            rows = np.flatnonzero(is_free[:, column])
            told, owner, lost = after_check(tables, self.branches.take(rows), int(moves[column]))
            self.spent[rows, column] += lost
            pieces.append(told)
            owners.append(rows[owner])
            columns.append(np.full(len(owner), column))
        column_of, row_of = np.nonzero((is_free & ~tables.is_check[moves]).T)
        bad, comes_back = after_repairs(tables, self.branches.take(row_of), moves[column_of])
        self.spent[row_of, column_of] += comes_back
        self.children = stack([*pieces, bad])
        self.owner = np.concatenate([*owners, row_of])
        self.column = np.concatenate([*columns, column_of])

    def totals(self, cents: Floats, base: Floats) -> Floats:
        """Return P(branch) x expected cost of doing each move first, shape (N, moves); done ones cost infinity.

        Args:
            cents: of each branch after, P x expected cost.
            base: P(branch) x expected cost without any move.
        """
        n, many = self.spent.shape
        sums = np.bincount(self.owner * many + self.column, cents, n * many).reshape(n, many)
        for column, move in enumerate(self.moves):
            if self.tables.is_check[move] and not self.closes[column]:  # what a check tells need not be heeded
                sums[:, column] = np.minimum(sums[:, column], base)
        totals: Floats = self.spent + sums
        return totals

    def tells_most(self) -> Floats:
        """Return how far each move's results part the sets of faults, 0 to 1, for the one branch here.

        It is half the mean of |P(set | result) - P(set)| added up over the sets.
        """
        tables = self.tables
        rows = np.flatnonzero(tables.is_check[self.moves[self.column]])
        by_set = tables.by_set(self.children.weights[rows])
        apart = by_set - by_set.sum(axis=1)[:, None] * tables.by_set(self.branches.weights)
        told: Floats = np.bincount(self.column[rows], 0.5 * np.abs(apart).sum(axis=1), len(self.moves)).astype(
            np.float64
        )
        return told

    def then(self, to_go: ToGo) -> dict[str, tuple[tuple[float, str], ...]]:
        """Return for each move its results with P(result) and what would come first after it."""
        p = self.children.weights.sum(axis=1)
        rows = np.flatnonzero(self.children.is_bad)
        bad = self.children.take(rows)
        p[rows] = (self.tables.by_set(bad.weights) * self.tables.is_seen(bad)).sum(axis=1)
        found: dict[str, list[tuple[float, str]]] = {self.tables.name(int(move)): [] for move in self.moves}
        for column, each, first in zip(self.column.tolist(), p.tolist(), to_go.first.tolist(), strict=True):
            found[self.tables.name(int(self.moves[column]))].append((each, name_of(self.tables, first)))
        return {name: tuple(each) for name, each in found.items()}


def _best(total: Floats, moves: Ints) -> Ints:
    """Return moves, the cheapest first."""
    return moves[np.argsort(total[moves], kind="stable")]


def _deep(tables: Tables, branches: Branches, moves: Ints, among: Ints, base: Floats, depth: int) -> Floats:
    """Return what ``_Step.totals`` does, with so many moves looked ahead, those after the first out of ``among``."""
    step = _Step(tables, branches, moves)
    cents = cost_to_go(tables, step.children).cents
    if depth > 1 and len(step.children):
        deeper = _deep(tables, step.children, among, among, cents, depth - 1)
        cents = np.minimum(cents, deeper.min(axis=1))
    return step.totals(cents, base)
