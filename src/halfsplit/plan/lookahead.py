"""Every action held against every other by the least expected cost from here on.

An action's cost is its own, that of getting to it, and what is expected to come after each of its results: repairs
only, or, one level deeper, the best of those and of one more action.  The same worlds weigh before and after, so a
check that tells nothing is worth exactly nothing, and none is worth less: nobody need heed it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.plan.repairs import REPLACE_HERE, STOP_HERE, after_repair, cost_to_go, own_cost
from halfsplit.plan.situation import HAND_BACK, REPLACE, Floats, Situation
from halfsplit.plan.tables import Branches, Tables

_TIE = 1e-9  # cents; below this two costs are one


@dataclass(frozen=True)
class Ranked:
    """One thing to do next.

    Args:
        id: the action, or HAND_BACK, or REPLACE.
        cents: what it costs by itself, getting to it included.
        total: the least expected cost from here on when it comes first, in cents.
        value: what it saves against doing without it: for a check the best that can be done without looking, for a
            repair the best end; in cents.
        parts: the actions that it is made of, in order; one for an action, none for an end.
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
        then: for each action its results with P(result) and what would come first after it.
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
    every = np.arange(len(situation.actions))
    total, then = _totals(tables, start, every, base.cents, depth=1, after=True)
    if depth > 1 and len(every):
        chosen = every[np.argsort(total[0], kind="stable")[:width]]
        deeper, _ = _totals(tables, start, chosen, base.cents, depth=depth, among=chosen)
        total[0, chosen] = np.minimum(total[0, chosen], deeper[0])
    return _ranking(tables, start, float(base.cents[0]), total[0], then)


def _ranking(
    tables: Tables, start: Branches, base: float, total: Floats, then: dict[str, tuple[tuple[float, str], ...]]
) -> Ranking:
    situation = tables.situation
    weight = tables.by_set(start.weights)
    p_bad = float((weight * (1.0 - tables.p_clean(start.left))).sum())
    ends = [(HAND_BACK, situation.comeback * p_bad)]
    if np.isfinite(situation.replacing):
        ends.append((REPLACE, situation.replacing))
    best_end = min(cents for _, cents in ends)
    found = [Ranked(name, cents if name == REPLACE else 0.0, cents, 0.0) for name, cents in ends]
    for n, action in enumerate(situation.actions):
        cents = float(own_cost(tables, start, n)[0])
        without = base if tables.is_check[n] else best_end
        found.append(
            Ranked(action.id, cents, float(total[n]), max(0.0, without - float(total[n]) + cents), (action.id,))
        )
    found.sort(key=lambda each: (round(each.total / _TIE), each.cents, each.id))
    return Ranking(tuple(found), base, then)


def _totals(
    tables: Tables,
    branches: Branches,
    actions: Sequence[int] | np.ndarray,
    base: Floats,
    *,
    depth: int,
    among: np.ndarray | None = None,
    after: bool = False,
) -> tuple[Floats, dict[str, tuple[tuple[float, str], ...]]]:
    """Return P(branch) x expected cost of doing each action first, shape (N, actions); done ones cost infinity.

    Args:
        tables: the situation.
        branches: N of them.
        actions: the actions.
        base: P(branch) x expected cost with repairs only, shape (N,).
        depth: actions looked ahead, this one included.
        among: the actions thought of deeper down.
        after: whether to tell what would come first after each result (for one branch).
    """
    n = len(branches)
    pieces: list[Branches] = []
    owners: list[tuple[int, np.ndarray]] = []
    total = np.full((n, len(actions)), np.inf)
    for column, action in enumerate(actions):
        rows = np.flatnonzero(~branches.is_done[:, action])
        if not len(rows):
            continue
        here = _take(branches, rows)
        tells = tables.situation.actions[action].tells
        if tells is None:
            child, spent, _ = after_repair(tables, here, int(action))
            total[rows, column] = spent
            pieces.append(child)
            owners.append((column, rows))
        else:
            total[rows, column] = own_cost(tables, here, int(action))
            done = here.is_done.copy()
            done[:, action] = True
            made = tables.after(here.is_open, int(action))
            for result in range(tells.shape[1]):
                told = Branches(here.weights * tells[:, result], here.left, made, done, here.is_bad)
                pieces.append(told)
                owners.append((column, rows))
    if not pieces:
        return total, {}
    children = _stack(pieces)
    to_go = cost_to_go(tables, children)
    cents = to_go.cents
    if depth > 1 and among is not None:
        deeper, _ = _totals(tables, children, among, cents, depth=depth - 1, among=among)
        cents = np.minimum(cents, deeper.min(axis=1))
    sums = np.zeros_like(total)
    firsts: dict[str, list[tuple[float, str]]] = {}
    begin = 0
    for column, rows in owners:
        span = slice(begin, begin + len(rows))
        sums[rows, column] += cents[span]
        begin += len(rows)
        if after:
            name = tables.situation.actions[actions[column]].id
            p = float(_p_on(tables, _take(children, np.arange(span.start, span.stop))).sum())
            firsts.setdefault(name, []).append((p, _name(tables, int(to_go.first[span][0]))))
    for column, action in enumerate(actions):
        if tables.is_check[action]:  # what a check tells need not be heeded
            sums[:, column] = np.minimum(sums[:, column], base)
    return total + sums, {name: tuple(each) for name, each in firsts.items()}


def _p_on(tables: Tables, branches: Branches) -> Floats:
    seems = np.where(branches.is_bad[:, None], tables.p_seems_clean(branches.left), 0.0)
    p: Floats = (tables.by_set(branches.weights) * (1.0 - seems)).sum(axis=1)
    return p


def _name(tables: Tables, first: int) -> str:
    if first == STOP_HERE:
        return HAND_BACK
    return REPLACE if first == REPLACE_HERE else tables.situation.actions[first].id


def _take(branches: Branches, rows: np.ndarray) -> Branches:
    if len(rows) == len(branches):
        return branches
    return Branches(
        branches.weights[rows],
        branches.left[rows],
        branches.is_open[rows],
        branches.is_done[rows],
        branches.is_bad[rows],
    )


def _stack(pieces: Sequence[Branches]) -> Branches:
    return Branches(
        np.concatenate([piece.weights for piece in pieces]),
        np.concatenate([piece.left for piece in pieces]),
        np.concatenate([piece.is_open for piece in pieces]),
        np.concatenate([piece.is_done for piece in pieces]),
        np.concatenate([piece.is_bad for piece in pieces]),
    )
