"""What one reading of a check may come to: by world, from what each fault does in it.

A *view* is worked out from acts alone and knows no suspicion, so that it is good for the next advice as well.  What
looks and numbers come to is a product over the faults of a world; what a run comes to is kept by the set of draws that
happen in it.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence

import numpy as np

from halfsplit.job.acts import StateActs
from halfsplit.job.effects import Draw, Effects, joint_draw
from halfsplit.job.eyes import OTHER, Eyes, Finding, RunSeen
from halfsplit.job.roots import Plan
from halfsplit.job.totals import Spreader
from halfsplit.model.evidence import NOTHING, Acts, Effect, Evidence, Floats, Ints, SignAsked

MOST_RESULTS = 12
"""Results of one reading that are told apart; the least likely are one."""

LEAST_P = 1e-3
"""What the setup and fresh contacts do in a run less often than this is left out of what it may show."""


class Roots:
    """The roots of the evidence, by number.

    Args:
        evidence: the evidence.
    """

    def __init__(self, evidence: Evidence) -> None:
        self.number = {root.id: number for number, root in enumerate(evidence.roots)}
        self.names = [{name: state for state, name in enumerate(root.states)} for root in evidence.roots]
        self.states = max((len(root.states) for root in evidence.roots), default=1)
        self.cells = len(evidence.roots) * self.states

    def of(self, plan: Plan, values: Floats) -> Floats:
        """Return values by a plan's states as values by the states of its root, which may have fewer; 0 elsewhere."""
        names = self.names[self.number[plan.id]]
        found = np.zeros(self.states)
        found[0] = values[0]
        for state, value in zip(plan.states, values[1:].tolist(), strict=True):
            if state.name in names:
                found[names[state.name]] = value
        return found


class Present:
    """The faults that are there in each world.

    Args:
        states: the state of each root, shape (K, R).
        weights: P(world), shape (K,).
        roots: the roots.

    Attributes:
        cell: for each world one cell past all and then those of its faults, root x states + state, world by world.
        starts: where each world begins, shape (K,).
        p_states: P(root is in this state), shape (R, states).
    """

    def __init__(self, states: Ints, weights: Floats, roots: Roots) -> None:
        self.states = states
        self.weights = weights
        self.roots = roots
        world, root = np.nonzero(states)
        many = np.bincount(world, minlength=len(states)) + 1
        self.starts = np.cumsum(many) - many
        self.cell = np.full(int(many.sum()), roots.cells, dtype=np.int64)
        self.cell[np.arange(len(world)) + world + 1] = root * roots.states + states[world, root]
        cells = root * roots.states + states[world, root]
        found = np.bincount(cells, weights=weights[world], minlength=roots.cells)
        here: Floats = np.asarray(found, dtype=np.float64).reshape(-1, roots.states)
        here[:, 0] = weights.sum() - here[:, 1:].sum(axis=1)
        self.p_states = here


class View:
    """What one reading may come to.

    Args:
        effects: the effects of the book.
        relevant: the bits that are asked for; what else is shown or hidden is left out.
    """

    def __init__(self, effects: Effects, relevant: int) -> None:
        self._effects = effects
        self._relevant = relevant
        self._plans: object = None
        self._roots: Roots | None = None
        self._rows: dict[int, tuple[Plan, tuple[Draw, ...]]] = {}
        self._by_cell: list[tuple[int, Draw]] = []
        self._fresh: tuple[Draw, ...] = ()

    def place(
        self,
        plans: Sequence[Plan],
        roots: Roots,
        acts: Mapping[int, tuple[Plan, StateActs]],
        moved: Callable[[], Mapping[int, Floats]],
    ) -> None:
        """Set it up for the roots of a job.

        Args:
            plans: the roots of the job and of what its checks may bring in.
            roots: those that are weighed; the others are there as often as they start.
            acts: what each plan does.
            moved: asked for what the work that leads to the reading does to each plan first.
        """
        if self._plans is plans and self._roots is roots:
            return
        new = [(name, plan, own) for name, (plan, own) in acts.items() if name not in self._rows]
        matrices = moved() if new else {}
        for name, plan, own in new:
            draws = [self._cut(each) for each in own]
            if name in matrices:
                rows = enumerate(zip(matrices[name].tolist(), draws, strict=True))
                draws = [draw if row[n] == 1.0 else mixed(row, draws) for n, (row, draw) in rows]
            self._rows[name] = (plan, tuple(draws))
        self._plans, self._roots = plans, roots
        current = {id(plan) for plan in plans}
        self._by_cell = []
        fresh: list[Draw] = []
        for name, (plan, cut) in self._rows.items():
            if name not in current:
                continue
            number = roots.number.get(plan.id)
            if number is None:
                start = np.array([1.0 - plan.p, *(plan.p * state.share for state in plan.states)])
                fresh.append(mixed(start, cut))
                continue
            states = roots.names[number]
            for state, draw in zip(plan.states, cut[1:], strict=True):
                if draw and state.name in states:
                    self._by_cell.append((number * roots.states + states[state.name], draw))
            if cut[0]:
                fresh.append(cut[0])
        self._fresh = tuple(draw for draw in fresh if draw)
        self._changed()

    def touches(self) -> Floats:
        """Return P(the fault does something that is asked for | root, state), shape (R, states)."""
        assert self._roots is not None
        found = np.zeros(self._roots.cells)
        for cell, draw in self._by_cell:
            found[cell] = min(1.0, sum(p for p, _ in draw))
        return found.reshape(-1, self._roots.states)

    def _changed(self) -> None:
        """Do what is to be done when what happens has changed."""

    def _cut(self, acts: Acts | None) -> Draw:
        """Return what acts do, with what is not asked for left out."""
        if acts is None:
            return ()
        found: dict[Effect, float] = {}
        for p, effect in acts.outcomes:
            kept = self._effects.effect(effect.stop, effect.shown & self._relevant, effect.hidden & self._relevant)
            if kept != NOTHING:
                found[kept] = found.get(kept, 0.0) + p
        return tuple((p, effect) for effect, p in found.items())


class ScaleView(View):
    """What a look or a number may come to: the worst level that is there wins.

    Args:
        effects: the effects of the book.
        results: what may be told.
        says: P(result | worst level), shape (levels + 1, results); the last row is for none.
    """

    def __init__(self, effects: Effects, results: Sequence[Finding], says: Floats) -> None:
        super().__init__(effects, 0)
        self._results = tuple(results)
        self._says = says
        self._beyond = np.ones((1, len(says) - 1))
        self._always = np.ones(len(says) - 1)

    def _changed(self) -> None:
        assert self._roots is not None
        self._beyond = np.ones((self._roots.cells + 1, len(self._says) - 1))
        for cell, draw in self._by_cell:
            self._beyond[cell] = self._survives(draw)
        self._always = np.ones(len(self._says) - 1)
        for draw in self._fresh:
            self._always = self._always * self._survives(draw)

    def _survives(self, draw: Draw) -> Floats:
        """Return P(no level as bad as this one, or worse), shape (levels,)."""
        at = np.zeros(len(self._says) - 1)
        for p, effect in draw:
            if effect.stop < len(at):
                at[effect.stop] += p
        return np.maximum(0.0, 1.0 - np.cumsum(at))

    def tell(self, present: Present) -> tuple[tuple[Finding, ...], Floats]:
        """Return the results and P(result | world), shape (K, S)."""
        left = np.multiply.reduceat(self._beyond[present.cell], present.starts, axis=0) * self._always
        worst = np.empty((len(left), len(self._says)))
        worst[:, 0] = 1.0
        worst[:, 1:] = left
        worst[:, :-1] -= left
        tells = worst @ self._says
        return _told(self._results, tells, present.weights @ tells)


class RunView(View):
    """What a run may come to.

    Args:
        effects: the effects of the book.
        base: what the setup itself does.
        signs: the signs asked for.
        eyes: what is seen of it.
        relevant: the bits that are asked for.
    """

    def __init__(self, effects: Effects, base: Draw, signs: Sequence[SignAsked], eyes: Eyes, relevant: int) -> None:
        super().__init__(effects, relevant)
        self._base = base
        self._eyes = eyes
        self._spreader = Spreader(signs)
        self._draws: dict[Draw, int] = {}
        self._whole: Draw | None = None
        self._whole_number = 0
        self._numbers = np.zeros(1, dtype=np.int64)
        self._results: dict[RunSeen, int] = {}
        self._seen_as: dict[tuple[int, tuple[bool, ...]], RunSeen] = {}
        self._keys = np.zeros(0, dtype=np.int64)
        self._row = np.zeros(0, dtype=np.int64)
        self._told = np.zeros((0, 0))

    def _changed(self) -> None:
        assert self._roots is not None
        whole = self._base
        for draw in self._fresh:
            if sum(p for p, _ in draw) >= LEAST_P:
                whole = tuple((p, effect) for p, effect in joint_draw([whole, draw]) if p >= LEAST_P)
        if whole != self._whole:
            self._whole, self._whole_number = whole, self._spreader.add(whole)
            self._results = {}
            self._keys, self._row = self._keys[:0], self._row[:0]
            self._told = np.zeros((0, 0))
        self._numbers = np.full(self._roots.cells + 1, -1, dtype=np.int64)
        for cell, draw in self._by_cell:
            if draw not in self._draws:
                self._draws[draw] = self._spreader.add(draw)
            self._numbers[cell] = self._draws[draw]

    def tell(self, present: Present) -> tuple[tuple[Finding, ...], Floats]:
        """Return the results and P(result | world), shape (K, S)."""
        numbers = self._numbers[present.cell]
        marks = marks_of(numbers)
        keys, first, of = np.unique(np.add.reduceat(marks, present.starts), return_index=True, return_inverse=True)
        new = np.isin(keys, self._keys, invert=True)
        if new.any():
            ends = np.append(present.starts, len(numbers))
            self._add(keys[new], [_acting(numbers[ends[world] : ends[world + 1]]) for world in first[new]])
        p = self._told[self._row[np.searchsorted(self._keys, keys)]]
        mass = np.bincount(of.ravel(), weights=present.weights, minlength=len(keys)) @ p
        order = sorted(np.flatnonzero(p.any(axis=0)).tolist(), key=self._names().__getitem__)
        results = list(self._results)
        found, tells = _told([results[n] for n in order], p[:, order], mass[order])
        return found, tells[of.ravel()]

    def _names(self) -> list[tuple[object, ...]]:
        return [(each.ending.line, each.ending.reached, each.signs) for each in self._results]

    def _add(self, keys: Ints, members: Sequence[Sequence[int]]) -> None:
        """Work out what further sets of draws come to."""
        totals = self._spreader.spread(self._whole_number, members)
        columns = [
            self._column(stop, tuple(visible))
            for stop, visible in zip(totals.stops.tolist(), totals.visible.tolist(), strict=True)
        ]
        says = np.zeros((len(columns), len(self._results)))
        says[np.arange(len(columns)), columns] = 1.0
        told = np.zeros((len(self._told) + len(keys), len(self._results)))
        told[: len(self._told), : self._told.shape[1]] = self._told
        told[len(self._told) :] = totals.p @ says
        every = np.concatenate([self._keys, keys])
        row = np.concatenate([self._row, len(self._told) + np.arange(len(keys))])
        order = np.argsort(every)
        self._keys, self._row, self._told = every[order], row[order], told

    def _column(self, stop: int, visible: tuple[bool, ...]) -> int:
        """Return the number of the result that a total is seen as."""
        key = (stop, visible)
        if key not in self._seen_as:
            self._seen_as[key] = self._eyes.seen(stop, visible)
        return self._results.setdefault(self._seen_as[key], len(self._results))


def mixed(weights: Iterable[float], draws: Sequence[Draw]) -> Draw:
    """Return the mixture of draws by weights; what is missing to 1 does nothing."""
    found: dict[Effect, float] = {}
    for weight, draw in zip(weights, draws, strict=True):
        if weight > 0.0:
            for p, effect in draw:
                found[effect] = found.get(effect, 0.0) + float(weight) * p
    return tuple((p, effect) for effect, p in found.items())


def split(mass: Floats, most: int) -> tuple[Ints, Ints]:
    """Return which results to keep, in their order, and which to put together as the least likely."""
    if len(mass) <= most:
        return np.arange(len(mass)), np.arange(0)
    order = np.argsort(-mass, kind="stable")
    return np.sort(order[: most - 1]), np.sort(order[most - 1 :])


def _told(results: Sequence[Finding], tells: Floats, mass: Floats) -> tuple[tuple[Finding, ...], Floats]:
    """Return results and what tells them, with the least likely as one, and rows that add up to 1."""
    keep, merged = split(mass, MOST_RESULTS)
    names: tuple[Finding, ...] = tuple(results[n] for n in keep)
    if len(merged):
        tells = np.column_stack([tells[:, keep], tells[:, merged].sum(axis=1)])
        names = (*names, OTHER)
    tells = np.maximum(tells, 0.0)
    return names, tells / tells.sum(axis=1, keepdims=True)


def _acting(numbers: Ints) -> list[int]:
    return [int(n) for n in np.sort(numbers) if n >= 0]


def marks_of(numbers: Ints) -> Ints:
    """Return a mark for each number, 0 for -1: equal sums are equal sets, but for one pair in 10^19.

    The mixing steps of splitmix64 (G. L. Steele, D. Lea and C. H. Flood, Fast splittable pseudorandom number
    generators, OOPSLA 2014).
    """
    mixed_up = (numbers + 1).astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    mixed_up = (mixed_up ^ (mixed_up >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    mixed_up = (mixed_up ^ (mixed_up >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return (mixed_up ^ (mixed_up >> np.uint64(31))).view(np.int64)
