"""Every action held against every other by the least expected cost from here on.

An action's cost is its own, that of getting to it, and what is expected to come after each of its results: repairs
only, or, one level deeper, the best of those and of one more action.  The same worlds weigh before and after, so a
check that tells nothing is worth exactly nothing; and none is worth less, for nobody need heed it, unless it closes
what is open.  All costs are those of policies that can be followed: none is below the best.
"""

from dataclasses import dataclass

import numpy as np

from halfsplit.plan.bundles import find_bundles
from halfsplit.plan.repairs import REPLACE_HERE, STOP_HERE, ToGo, after_repair, cost_to_go, own_cost
from halfsplit.plan.settle import settle
from halfsplit.plan.situation import HAND_BACK, REPLACE, Floats, Situation
from halfsplit.plan.tables import Branches, Ints, Tables, stack

_TIE = 1e-9
"""Of a cent; costs that differ by less are one."""

_LEAST = 1e-9
"""P(branch) below which it is not followed: the job ends there at once."""


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
        ranked: by expected cost from here on, equal ones by cost and id.
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
    to_go = near.follow()
    total = near.totals(to_go.cents, base.cents)[0]
    if depth > 1 and len(every):
        chosen = every[np.argsort(total, kind="stable")[:width]]
        total[chosen] = np.minimum(total[chosen], _deep(tables, start, chosen, base.cents, depth)[0])
    # what can be done without looking can be done after a look as well
    repairs = tables.repairs
    without = min(float(base.cents[0]), float(total[repairs].min(initial=np.inf)))
    own = np.array([own_cost(tables, start, int(move))[0] for move in every])
    heedless = tables.is_check & np.array([not near.closes[move] for move in every], dtype=bool)
    total = np.where(heedless, np.minimum(total, own + without), total)
    return _Ranked(tables, start, without).ranking(near, to_go, total, own)


class _Ranked:
    """What a ranking is made of."""

    def __init__(self, tables: Tables, start: Branches, without: float) -> None:
        self.tables = tables
        self.start = start
        self.without = without
        situation = tables.situation
        p_shows = float(situation.weights @ (1.0 - tables.p_none(start.left * tables.shows)[0, tables.set_of]))
        p_hidden = float(situation.weights @ situation.faults.any(axis=1)) - p_shows
        self.ends = [(HAND_BACK, situation.left_broken * p_shows + situation.comeback * p_hidden)]
        if np.isfinite(situation.replacing):
            self.ends.append((REPLACE, situation.replacing))

    def ranking(self, near: "_Step", to_go: ToGo, total: Floats, own: Floats) -> Ranking:
        tables = self.tables
        ids = [action.id for action in tables.situation.actions]
        found = [(Ranked(name, cents if name == REPLACE else 0.0, cents, 0.0), True) for name, cents in self.ends]
        best_end = min(cents for _, cents in self.ends)
        told = near.tells_most()
        for move, actions in enumerate(tables.moves):
            without = self.without if tables.is_check[move] else best_end
            value = max(0.0, without - float(total[move]) + float(own[move]))
            parts = tuple(ids[n] for n in actions)
            ranked = Ranked(tables.name(move), float(own[move]), float(total[move]), value, parts)
            found.append((ranked, bool(tables.is_check[move]) and told[move] <= _LEAST))
        then = near.then(to_go)
        for bundle in find_bundles(tables, near.children, near.first_of, to_go, own, told):
            parts = tuple(ids[n] for n in bundle.checks)
            name = "+".join(parts)
            value = max(0.0, self.without - bundle.total + bundle.cents)
            found.append((Ranked(name, bundle.cents, bundle.total, value, parts), False))
            then[name] = tuple((p, name_of(tables, first)) for p, first in bundle.then)
        # of equal ones what is free and tells something comes before an end, and what tells nothing after it
        found.sort(key=lambda each: (round(each[0].total / _TIE), each[0].cents, each[1], each[0].id))
        return Ranking(tuple(ranked for ranked, _ in found), self.without, then)


def name_of(tables: Tables, first: int) -> str:
    """Return the id of what comes first in a branch."""
    if first == STOP_HERE:
        return HAND_BACK
    return REPLACE if first == REPLACE_HERE else tables.name(first)


class _Step:
    """Every one of some moves in every one of N branches, with the branches after each result.

    Attributes:
        children: the branches after, one row for each move, result and branch.
        first_of: where the rows of a move begin.
        closes: whether a move closes what is open in some branch.
        dropped: P(branch) x cost of an end, of the branches that are not followed, shape (N, moves).
    """

    def __init__(self, tables: Tables, branches: Branches, moves: Ints) -> None:
        self.tables = tables
        self.branches = settle(tables, branches)
        self.moves = moves
        n = len(branches)
        self.total = np.full((n, len(moves)), np.inf)
        self.closes: list[bool] = []
        self.first_of: list[int] = []
        pieces: list[Branches] = []
        columns: list[Ints] = []
        owners: list[Ints] = []
        count = 0
        self.end = tables.situation.stopping
        for column, move in enumerate(moves):
            self.first_of.append(count)
            rows = np.flatnonzero(~(branches.is_done & tables.parts[move]).any(axis=1))
            self.closes.append(bool((branches.is_open[rows] & ~tables.after(branches.is_open[rows], move)).any()))
            for piece, of in self._after(int(move), column, rows):
                pieces.append(piece)
                owners.append(of)
                columns.append(np.full(len(of), column))
                count += len(of)
        self.first_of.append(count)
        self.children = stack(pieces) if pieces else branches.take(np.zeros(0, dtype=np.int64))
        self.owner = np.concatenate(owners) if owners else np.zeros(0, dtype=np.int64)
        self.column = np.concatenate(columns) if columns else np.zeros(0, dtype=np.int64)

    def _after(self, move: int, column: int, rows: Ints) -> list[tuple[Branches, Ints]]:
        tables = self.tables
        here = self.branches.take(rows)
        tells = None if len(tables.moves[move]) > 1 else tables.situation.actions[move].tells
        if not len(rows):
            return []
        if tells is None:
            then, spent = after_repair(tables, here, move)
            self.total[rows, column] = spent
            return [(then, rows)]
        self.total[rows, column] = own_cost(tables, here, move)
        done, made = here.is_done | tables.parts[move], tables.after(here.is_open, move)
        found = []
        for result in tells.T:
            weights = here.weights * result
            told = Branches(weights, here.left, made, done, here.is_bad)
            p = weights.sum(axis=1)
            follows = p > _LEAST
            self.total[rows[~follows], column] += self.end * p[~follows]
            if follows.any():
                found.append((told.take(np.flatnonzero(follows)), rows[follows]))
        return found

    def follow(self) -> ToGo:
        """Return what the branches after cost with repairs only."""
        if not len(self.children):
            return ToGo(np.zeros(0), np.zeros(0, dtype=np.int64))
        return cost_to_go(self.tables, self.children)

    def totals(self, cents: Floats, base: Floats) -> Floats:
        """Return P(branch) x expected cost of doing each move first, shape (N, moves); done ones cost infinity.

        Args:
            cents: of each branch after, P x expected cost.
            base: P(branch) x expected cost without any move.
        """
        sums = np.zeros_like(self.total)
        np.add.at(sums, (self.owner, self.column), cents)
        for column, move in enumerate(self.moves):
            if self.tables.is_check[move] and not self.closes[column]:  # what a check tells need not be heeded
                sums[:, column] = np.minimum(sums[:, column], base)
        return self.total + sums

    def tells_most(self) -> Floats:
        """Return how much each move tells of the faults, in nats of mutual information, for the one branch here."""
        tables = self.tables
        by_set = tables.by_set(self.children.weights)
        before = tables.by_set(self.branches.weights)[0]
        p = by_set.sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            each = by_set * np.log(by_set / (p[:, None] * before))
        return np.bincount(self.column, np.nan_to_num(each).sum(axis=1), len(self.moves))

    def then(self, to_go: ToGo) -> dict[str, tuple[tuple[float, str], ...]]:
        """Return for each move its results with P(result) and what would come first after it."""
        p = (self.tables.by_set(self.children.weights) * self.tables.is_seen(self.children)).sum(axis=1)
        found: dict[str, tuple[tuple[float, str], ...]] = {}
        for column, move in enumerate(self.moves):
            rows = range(self.first_of[column], self.first_of[column + 1])
            found[self.tables.name(int(move))] = tuple(
                (float(p[row]), name_of(self.tables, int(to_go.first[row]))) for row in rows
            )
        return found


def _deep(tables: Tables, branches: Branches, moves: Ints, base: Floats, depth: int) -> Floats:
    """Return what ``_Step.totals`` does, with more than one move looked ahead."""
    step = _Step(tables, branches, moves)
    if not len(step.children):
        return step.total
    cents = step.follow().cents
    if depth > 1:
        cents = np.minimum(cents, _deep(tables, step.children, moves, cents, depth - 1).min(axis=1))
    return step.totals(cents, base)
