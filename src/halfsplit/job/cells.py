"""Numbers for the states of roots: a cell for each state of each plan, for good, whatever job it is met in."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.job.roots import Plan
from halfsplit.model.arrays import Floats, Ints
from halfsplit.model.evidence import Evidence


class Roots:
    """The roots of the evidence, by number.

    Args:
        evidence: the evidence.
    """

    def __init__(self, evidence: Evidence) -> None:
        self.number = {root.id: number for number, root in enumerate(evidence.roots)}
        self.ids = tuple(root.id for root in evidence.roots)
        self.names = [{name: state for state, name in enumerate(root.states)} for root in evidence.roots]
        self.states = max((len(root.states) for root in evidence.roots), default=1)

    def of(self, plan: Plan, values: Floats) -> Floats:
        """Return values by a plan's states as values by the states of its root, which may have fewer; 0 elsewhere."""
        names = self.names[self.number[plan.id]]
        found = np.zeros(self.states)
        found[0] = values[0]
        for state, value in zip(plan.states, values[1:].tolist(), strict=True):
            if state.name in names:
                found[names[state.name]] = value
        return found


@dataclass(frozen=True)
class Placed:
    """Where the roots of one job have their cells.

    Args:
        roots: the roots that are weighed.
        cell: the cell of each root in each state, shape (R, states); 0 = it has none there.
        fresh: P(this cell | nothing was done yet) of what no reading weighs, and 1 for a weighed root that is absent:
            what happens there may happen in every world; shape (cells,).
    """

    roots: Roots
    cell: Ints
    fresh: Floats

    def p_fresh(self, cells: Ints) -> Floats:
        """Return ``fresh`` of some cells, 0 for those that are younger."""
        return _at(self.fresh, cells)


class Cells:
    """The cells of all plans that were ever met; each has one where it is absent, then one for each of its states.

    Attributes:
        total: how many cells there are; cell 0 is nobody's.
    """

    def __init__(self) -> None:
        self._first: dict[int, int] = {}
        self._firsts = np.zeros(0, dtype=np.int64)
        self.total = 1

    def add(self, plan: Plan) -> None:
        """Give a plan its cells; it must stay the same object from now on."""
        self._first[id(plan)] = self.total
        self.total += len(plan.states) + 1

    def first(self, plan: int) -> int:
        """Return the first cell of a plan, by its identity: the one where it is absent."""
        return self._first[plan]

    def owners(self, cells: Ints) -> Ints:
        """Return the first cells of the plans that some cells are of."""
        if len(self._firsts) < len(self._first):
            self._firsts = np.fromiter(self._first.values(), dtype=np.int64)
        owners: Ints = self._firsts[np.searchsorted(self._firsts, cells, side="right") - 1]
        return owners

    def place(self, plans: Sequence[Plan], roots: Roots) -> Placed:
        """Return where the roots of a job have their cells."""
        cell = np.zeros((len(roots.names), roots.states), dtype=np.int64)
        fresh = np.zeros(self.total)
        for plan in plans:
            first = self._first[id(plan)]
            number = roots.number.get(plan.id)
            if number is None:
                fresh[first] = 1.0 - plan.p
                fresh[first + 1 : first + 1 + len(plan.states)] = [plan.p * state.share for state in plan.states]
                continue
            fresh[first] = 1.0
            names = roots.names[number]
            for place, state in enumerate(plan.states, 1):
                if state.name in names:
                    cell[number, names[state.name]] = first + place
        return Placed(roots, cell, fresh)


class Present:
    """The faults that are there in each world.

    Args:
        states: the state of each root, shape (K, R).
        weights: P(world), shape (K,).
        placed: where the roots have their cells.

    Attributes:
        cell: for each world cell 0 and then those of its faults, world by world.
        starts: where each world begins, shape (K,).
        p_states: P(root is in this state), shape (R, states).
    """

    def __init__(self, states: Ints, weights: Floats, placed: Placed) -> None:
        self.states = states
        self.weights = weights
        self.placed = placed
        roots = placed.roots
        world, root = np.nonzero(states)
        many = np.bincount(world, minlength=len(states)) + 1
        self.starts = np.cumsum(many) - many
        self.cell = np.zeros(int(many.sum()), dtype=np.int64)
        self.cell[np.arange(len(world)) + world + 1] = placed.cell[root, states[world, root]]
        order = np.argsort(self.cell, kind="stable")
        self._world = np.repeat(np.arange(len(states)), many)[order]
        counts = np.bincount(self.cell, minlength=len(placed.fresh))
        self._begin = np.concatenate([[0], np.cumsum(counts)])  # where the worlds of each cell begin
        place = root * roots.states + states[world, root]
        found = np.bincount(place, weights=weights[world], minlength=len(roots.names) * roots.states)
        here: Floats = np.asarray(found, dtype=np.float64).reshape(-1, roots.states)
        here[:, 0] = weights.sum() - here[:, 1:].sum(axis=1)
        self.p_states = here
        self._p_cell = np.bincount(placed.cell.ravel(), here.ravel(), len(placed.fresh)).astype(np.float64)
        self._p_cell[0] = 0.0

    def lines_of(self, cells: Ints, of: Ints | None = None) -> tuple[Ints, Ints]:
        """Return where some cells are there: world by world, the place of the cell among them, and the world.

        Args:
            cells: the cells, shape (N,).
            of: what each is for, shape (N,); then one after another the worlds for each of these.
        """
        last = len(self._begin) - 1
        begin, end = self._begin[np.minimum(cells, last)], self._begin[np.minimum(cells + 1, last)]
        here = np.flatnonzero(end > begin)
        begin, many = begin[here], (end - begin)[here]
        place, line = lines_in(begin, many)
        which, world = here[place], self._world[line]
        order = np.argsort(world if of is None else of[which] * len(self.starts) + world, kind="stable")
        return which[order], world[order]

    def p_cell_of(self, cells: Ints) -> Floats:
        """Return P(a root is in this state now), shape (N,); 0 for cells that are younger than the job's."""
        return _at(self._p_cell, cells)


def _at(values: Floats, cells: Ints) -> Floats:
    """Return the values of some cells, 0 for those that are younger than the values."""
    found: Floats = np.where(cells < len(values), values[np.minimum(cells, len(values) - 1)], 0.0)
    return found


def lines_in(starts: Ints, sizes: Ints) -> tuple[Ints, Ints]:
    """Return for each of several spans of lines, one span after the other, which span it is and which line."""
    span = np.repeat(np.arange(len(sizes)), sizes)
    return span, np.arange(len(span)) + np.repeat(starts - (np.cumsum(sizes) - sizes), sizes)


def begins(*columns: Ints) -> Ints:
    """Return where sorted lines differ from the line before."""
    new = np.zeros(len(columns[0]), dtype=bool)
    new[:1] = True
    for column in columns:
        new[1:] |= column[1:] != column[:-1]
    return np.flatnonzero(new)
