"""Checks that are right together and wrong one by one: a bundle of them behind one opening is one thing to do.

Of each opening the checks that promise most are done one after the other; after each result the rest is left where
going on costs more than it saves.  That is a policy, so what it costs is never below the best.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.model.arrays import Floats, Ints
from halfsplit.plan.repairs import ToGo, cost_to_go
from halfsplit.plan.results import LEAST, after_check
from halfsplit.plan.tables import Branches, Tables

MOST_CHECKS = 4
"""Checks in one bundle."""

MOST_OPENINGS = 3
"""Openings for which a bundle is worked out: those that promise to be worth it, but always the best."""

MOST_BRANCHES = 8
"""Branches that are gone on with after each check, the likeliest; in the others the rest of the bundle is left."""


TIE = 1e-6
"""Of a cent; costs that differ by less are one."""


@dataclass(frozen=True)
class Bundle:
    """Checks to be done one after the other.

    Args:
        checks: the actions, in order.
        cents: what they are expected to cost, getting to them included.
        total: the expected cost from here on.
        then: P(results) and the move that comes first after them.
    """

    checks: tuple[int, ...]
    cents: float
    total: float
    then: tuple[tuple[float, int], ...]


def find_bundles(
    tables: Tables, children: Branches, move_of: Ints, to_go: ToGo, own: Floats, told: Floats
) -> list[Bundle]:
    """Return the best bundle of checks of each opening that promises something.

    Args:
        tables: the situation.
        children: the branches after each move by itself.
        move_of: of which move each of them is.
        to_go: what they cost with repairs only.
        own: what each move costs by itself, getting to it included, shape (V,).
        told: how much it tells of the faults, shape (V,).
    """
    start = tables.start()
    base = float(cost_to_go(tables, start).cents[0])
    after = np.bincount(move_of, to_go.cents, len(tables.moves))
    open_first = tables.opening_costs(start.is_open, np.arange(len(tables.moves)))[0]
    alone = own - open_first
    net = base - after - alone
    promising = []
    for checks, to_open in _clusters(tables):
        useful = [check for check in checks if told[check] > LEAST]
        useful.sort(key=lambda check: (-round(net[check] / TIE), -told[check] / max(alone[check], 1e-12), check))
        if len(useful) > 1:
            chosen = useful[:MOST_CHECKS]
            promise = sum(max(0.0, net[check]) for check in chosen) - to_open
            promising.append((-promise, chosen))
    promising.sort()
    found: dict[tuple[int, ...], Bundle] = {}
    worth = sum(minus_promise < 0.0 for minus_promise, _ in promising)
    for _, chosen in promising[: min(MOST_OPENINGS, max(1, worth))]:
        rows = np.flatnonzero(move_of == chosen[0])
        bundle = _Tree(tables, chosen).grow(
            children.take(rows), ToGo(to_go.cents[rows], to_go.first[rows]), float(own[chosen[0]])
        )
        if bundle is not None:
            found[bundle.checks] = bundle
    return list(found.values())


def _clusters(tables: Tables) -> list[tuple[list[int], float]]:
    """Return the checks that can be done behind each opening and what opening it costs; first those that are open."""
    checks = np.flatnonzero(tables.is_check)
    needs = tables.chain[checks] & ~tables.open_now
    at_hand = ~needs.any(axis=1)
    found = [(checks[at_hand].tolist(), 0.0)]
    for chain in tables.chain_of_opening:
        closed = chain & ~tables.open_now
        if closed.any():
            behind = ~at_hand & ~(needs & ~chain).any(axis=1)
            found.append((checks[behind].tolist(), float(tables.opening_cents[closed].sum())))
    return found


@dataclass(frozen=True)
class _Grown:
    """What N branches cost in a bundle, by branch.

    Args:
        total: P(branch) x expected cost from here on, shape (N,).
        spent: of that, the cost of the checks themselves, shape (N,).
        many: how many checks of the bundle are done at most, shape (N,).
        ends: the branch, P(results) and the move that comes first after them.
    """

    total: Floats
    spent: Floats
    many: Ints
    ends: list[tuple[int, float, int]]


class _Tree:
    """Some checks in order, the rest of them left wherever that is cheaper."""

    def __init__(self, tables: Tables, checks: Sequence[int]) -> None:
        self.tables = tables
        self.checks = checks

    def grow(self, branches: Branches, to_go: ToGo, cents: float) -> Bundle | None:
        """Return the bundle; none if one check is better than several.

        Args:
            branches: those after the first check.
            to_go: what they cost.
            cents: what the first check costs.
        """
        found = self._go_on(branches, to_go, 1)
        many = int(found.many.max(initial=1))
        if many == 1:
            return None
        then = tuple((p, first) for _, p, first in found.ends)
        return Bundle(
            tuple(self.checks[:many]), cents + float(found.spent.sum()), cents + float(found.total.sum()), then
        )

    def _go_on(self, branches: Branches, to_go: ToGo, place: int) -> "_Grown":
        """Return what branches cost when the rest of the checks is done where that is cheaper."""
        p = branches.weights.sum(axis=1)
        grown = _Grown(
            to_go.cents.copy(),
            np.zeros(len(p)),
            np.full(len(p), place),
            list(zip(range(len(p)), p.tolist(), to_go.first.tolist(), strict=True)),
        )
        if place == len(self.checks) or not len(p):
            return grown
        goes = np.sort(np.argsort(-p, kind="stable")[:MOST_BRANCHES])
        here = branches.take(goes)
        own = self.tables.own_costs(here, np.array([self.checks[place]]))[:, 0]
        children, owner, lost = after_check(self.tables, here, self.checks[place])
        deeper = self._go_on(children, cost_to_go(self.tables, children), place + 1)
        further = own + lost + np.bincount(owner, deeper.total, len(goes))
        better = further < grown.total[goes] - 1e-9 * p[goes]
        gone = goes[better]
        grown.total[gone] = further[better]
        grown.spent[gone] = (own + np.bincount(owner, deeper.spent, len(goes)))[better]
        np.maximum.at(grown.many, goes[owner[better[owner]]], deeper.many[better[owner]])
        kept = [end for end in grown.ends if end[0] not in set(gone.tolist())]
        further_ends = [(int(goes[owner[row]]), each, first) for row, each, first in deeper.ends if better[owner[row]]]
        return _Grown(grown.total, grown.spent, grown.many, kept + further_ends)
