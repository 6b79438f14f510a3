"""What may still complete a row, from above: so that a large table can be cut where it does not matter.

A bit of a code that every code with a weight has set is a *requirement* of its reading: without it nothing
is explained.  Where a reading has no such bit (a look that may be wrong), the bit without which it weighs least is
one: without it the reading weighs at most ``unmet``.  Codes cut down to requirements still join by OR, nothing is
dead, and whatever completes a row must bring all the requirements that the row lacks.  P(the rest brings them)
bounds beta from above, over all readings at once, and needs no tables: for every set s of requirements

    Z(s) = P(nothing outside s is brought) = product over the roots of the same for one root,

and the mean of the product of 1 for each requirement outside c that is brought, and of ``unmet`` for each that is
not, = sum over t outside c of Z(all but t) times the product over t of -(1 - unmet).  That sum alternates and
loses digits; here they do not matter, as this is only a bound, and what rounding may have taken is put on top.

A row adds at most alpha * U to P.  Rows are dropped from the smallest of these products upwards, and what was
dropped is added up: a true bound on what is missing from P.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from halfsplit.infer.fields import Field
from halfsplit.infer.joins import Closing, Pairs, Plan, Table, add_up, count_pairs, number_pairs
from halfsplit.infer.leaves import Leaves, Packing, Step, Walk
from halfsplit.infer.stairs import Chosen, Stairs, find_runs
from halfsplit.model.evidence import Floats, Ints

MAX_REQUIREMENTS = 10
"""Requirements looked at together; time and memory double with each."""

SOFT = 0.5
"""A bit without which a reading still weighs this much is no requirement."""

ENOUGH = 0.03
"""Where P is not this many times what rounding may have taken, the sums are done again with more digits."""

_ROUNDINGS = 100
"""Roundings that one product of Z may have gone through and that did not cancel; generous for the tree's depth."""

Reals = NDArray[np.floating]


@dataclass(frozen=True)
class Requirements:
    """The requirements of one field that are looked at.

    Args:
        field: the field.
        first: the place of its first requirement among all; they lie side by side.
        bits: how many.
        unmet: the most that the reading weighs, over its largest weight, without one of them; mostly 0.
        of_code: shape (codes of the field,): the requirements met by a code, as a small mask.
        within: shape (states, 2 ** bits): P(one state is not dead and brings nothing outside a mask).
    """

    field: int
    first: int
    bits: int
    unmet: float
    of_code: Ints
    within: Floats


def _required(field: Field) -> tuple[list[int], float]:
    """Return the places of the requirements of one run, and what the reading weighs at most without one.

    Hard ones, if there are any, else the single bit without which it weighs least.
    """
    codes, weights = _of_one_run(field)
    weights = weights / field.most
    possible = codes[weights > 0]
    required = int(np.bitwise_and.reduce(possible)) if len(possible) else -1
    hard = [place for place in range(field.bits) if required >> place & 1] if required > 0 else []
    if hard or field.join is not None:
        return hard, 0.0
    without = [float(weights[codes >> place & 1 == 0].max()) for place in range(field.bits)]
    best = min(range(field.bits), key=lambda place: without[place])
    return ([best], without[best]) if without[best] < SOFT else ([], 0.0)


def _of_one_run(field: Field) -> tuple[Ints, Floats]:
    """Return the codes that one run may have, and the most that each weighs."""
    if field.join is None:
        return np.arange(1 << field.bits), field.weights.max(axis=1)
    codes = sorted({code for members in field.multisets for code in members})
    rows = [field.multisets[(code,) * field.runs] for code in codes]
    return np.array(codes, dtype=np.int64), field.weights[rows].max(axis=1)


class Bounds:
    """U for every row: what the requirements leave possible.

    Args:
        walk, steps, packing, plan: the program.
        closings: the fields that are weighed before the top; those that close in one root are not looked at.
        p_given: the probability of each joint context value.

    Attributes:
        p: a bound on P(all readings), over the program's scale.
    """

    def __init__(
        self,
        walk: Walk,
        steps: Sequence[Step],
        packing: Packing,
        plan: Plan,
        closings: Mapping[int, Sequence[Closing]],
    ) -> None:
        self.packing = packing
        self.plan = plan
        self.asked = _choose(walk, steps, packing, frozenset(closing.field for closing in closings.get(0, ())))
        self.bits = sum(item.bits for item in self.asked)
        self.weighed = self._weighed(closings)
        self._closes = [
            [
                (((1 << item.bits) - 1) << item.first, item.unmet, closing.at)
                for closing in closings.get(level, ())
                for item in self.asked
                if item.field == closing.field
            ]
            for level in range(len(plan.nodes))
        ]
        lots = [item for item in self.asked if packing.fields[item.field].join is not None]
        self._lots = sum(((1 << item.bits) - 1) << item.first for item in lots)
        self._meetings = [(item.first, item.bits, _meet_lots(item)) for item in lots]
        self._signs = np.ones(1)
        for item in self.asked:
            for _ in range(item.bits):
                self._signs = np.concatenate([self._signs, self._signs * -(1.0 - item.unmet)])
        lost = self._bound(walk, steps, np.dtype(np.float64))
        if self.p < ENOUGH * lost:
            self._bound(walk, steps, np.dtype(np.longdouble))

    def _bound(self, walk: Walk, steps: Sequence[Step], digits: np.dtype[np.floating]) -> float:
        """Work out ``p`` and all betas; return how much of ``p`` is there only because of rounding."""
        plan = self.plan
        inside = [self._leaves(walk, steps, digits)]
        for left, right in plan.pairs:
            both = inside[-1][left]
            two = np.flatnonzero(right >= 0)
            both[two] *= inside[-1][right[two]]
            inside.append(both)
        top = np.where(plan.top_given < 0, 1.0, walk.p_given[plan.top_given])
        outside = np.broadcast_to(top[:, None], inside[-1].shape).astype(digits)
        self.p = float((top * _all_met(inside[-1], self._signs)[:, 0]).sum())
        betas = [_all_met(outside, self._signs)]
        for (left, right), below in zip(reversed(plan.pairs), reversed(inside[:-1]), strict=True):
            two = np.flatnonzero(right >= 0)
            alone = np.flatnonzero(right < 0)
            child = np.concatenate([left[alone], left[two], right[two]])
            beside = [outside[alone], outside[two] * below[right[two]], outside[two] * below[left[two]]]
            outside = add_up(child, np.concatenate(beside), len(below))
            betas.append(_all_met(outside, self._signs))
        self.betas = tuple(reversed(betas))
        return float((top * _lost(inside[-1])[:, 0]).sum())

    def beta(self, node: Ints, codes: Ints, level: int) -> Floats:
        """Return U for rows of a level."""
        beta: Floats = self.betas[level][node, self.met(node, codes, level)]
        return beta

    def met(self, node: Ints, codes: Ints, level: int) -> Ints:
        """Return the requirements that rows of a level meet, as a mask."""
        met = self.weighed[level][node]
        for item in self.asked:
            met |= item.of_code[self.packing.code_of(codes, item.field)] << item.first
        return met

    def beta_of_pairs(self, level: int, above: Ints, left: Ints, right: Ints, met: Ints) -> Floats:
        """Return U for pairs of rows that go into nodes of a level.

        Args:
            level: the level of the nodes.
            above: shape (pairs,): the nodes.
            left, right: shape (pairs,): places in ``met``.
            met: the requirements that are met by rows.
        """
        plain = met & ~self._lots
        both = plain[left] | plain[right]
        for first, bits, meet in self._meetings:  # any run of the one may be any run of the other
            code = met >> first & ((1 << bits) - 1)
            both |= meet[(code << bits)[left] | code[right]]
        beta: Floats = self.betas[level][above, both | self.weighed[level][above]]
        for mask, unmet, at in self._closes[level]:
            beta[at[above] & (both & mask != mask)] *= unmet
        return beta

    def _weighed(self, closings: Mapping[int, Sequence[Closing]]) -> tuple[Ints, ...]:
        """Return for each node of each level the requirements of fields that have been weighed and summed out."""
        weighed = [np.zeros(self.plan.nodes[0], dtype=np.int64)]
        for level, (left, right) in enumerate(self.plan.pairs):
            below = weighed[-1]
            mask = below[left] | np.where(right < 0, 0, below[right])
            for closing in closings.get(level + 1, ()):
                for item in self.asked:
                    if item.field == closing.field:
                        mask[closing.at] |= ((1 << item.bits) - 1) << item.first
            weighed.append(mask)
        return tuple(weighed)

    def beta_so_far(self, node: Ints, codes: Ints, done: Sequence[int]) -> Floats:
        """Return U for rows of leaves that have been walked through some fields only.

        What the other fields will bring is not known yet: they count as met.
        """
        met = np.zeros(len(node), dtype=np.int64)
        for item in self.asked:
            if item.field in done:
                met |= item.of_code[self.packing.code_of(codes, item.field)] << item.first
            else:
                met |= ((1 << item.bits) - 1) << item.first
        beta: Floats = self.betas[0][node, met]
        return beta

    def _leaves(self, walk: Walk, steps: Sequence[Step], digits: np.dtype[np.floating]) -> Reals:
        """Return Z for each node of level 0; shape (nodes, sets of requirements)."""
        joint = np.where(walk.is_bound, walk.joint, 1)  # blocks of states that each root has
        many = np.array([len(root.states) for root in walk.roots])
        first = np.cumsum(joint * many) - joint * many
        root = np.repeat(np.arange(len(many)), joint * many)
        local = np.arange(len(root)) - first[root]
        place = walk.offset[root] + local % many[root]
        start = walk.as_written
        z = np.zeros((len(root), 1), dtype=digits)
        z[first[start.root] + start.given * many[start.root] + start.state] = start.weight[:, None]
        by_field = {item.field: item for item in self.asked}
        scale = np.ones(len(root), dtype=digits)

        def move(i: int, n: int) -> None:
            for g in range(joint[i]):
                block = slice(first[i] + g * many[i], first[i] + (g + 1) * many[i])
                z[block] = walk.matrices[i][n][g].T @ (z[block] * scale[block, None])
                scale[block] = 1.0

        pending = walk.moves()
        for step in steps:
            while pending and pending[0][0] <= step.time:
                move(*pending.pop(0)[1:])
            item = by_field.get(step.field) if step.field is not None else None
            if item is None:
                scale *= (step.draws.living * step.norm)[place]
            else:  # the requirements asked about come in this order: each makes the sets so many times more
                table = (item.within * step.norm[:, None])[place]
                z = (table[:, :, None] * z[:, None, :]).reshape(len(z), -1)
        for _, i, n in pending:
            move(i, n)
        block = np.concatenate([first[i] + many[i] * np.arange(joint[i]) for i in range(len(many))])
        of_node = np.add.reduceat(z * scale[:, None], block, axis=0)
        return add_up(self.plan.leaf[root[block], local[block] // many[root[block]]], of_node, self.plan.nodes[0])


def _meet_lots(item: Requirements) -> Ints:
    """Return the most that two lots of equal runs meet together, in its place, for (mask of one << bits | other)."""
    masks = range(1 << item.bits)
    counts = [min(item.bits, a.bit_count() + b.bit_count()) for a in masks for b in masks]
    return np.array([((1 << count) - 1) << item.first for count in counts], dtype=np.int64)


def _all_met(z: Reals, signs: Floats) -> Floats:
    """From Z(s) return for every set c the bound on what the rest makes of everything outside c; shape as given."""
    bits = z.shape[1].bit_length() - 1
    signed = z[:, ::-1] * signs  # Z(all but t), with its sign
    for bit in range(bits):
        halves = signed.reshape(len(z), -1, 2, 1 << bit)
        halves[:, :, 1] += halves[:, :, 0]
    met: Floats = (np.maximum(signed[:, ::-1], 0.0) + _lost(z)).astype(np.float64)
    return met


def _lost(z: Reals) -> Reals:
    """Return the most that rounding may have taken from the signed sums of Z; shape (nodes, 1)."""
    bits = z.shape[1].bit_length() - 1
    lost: Reals = z.shape[1] * (_ROUNDINGS + bits) * np.finfo(z.dtype).eps * z[:, -1:]
    return lost


def _choose(walk: Walk, steps: Sequence[Step], packing: Packing, lone: frozenset[int]) -> list[Requirements]:
    """Choose the requirements to look at: the hard ones first, one of each field, then a second of each; then
    the soft ones.

    The requirements of one run are those bits; a lot of equal runs has one requirement for each run, its first.
    """
    required: dict[int, tuple[list[int], float]] = {}
    wanted: list[tuple[float, int, int]] = []
    for step in steps:
        f = step.field
        if f is None or f in lone:
            continue
        field = packing.fields[f]
        places, unmet = required[f] = _required(field)
        many = min(len(places), 1) * field.runs if field.join is not None else len(places)
        wanted += [(unmet, n, f) for n in range(many)]
    chosen = sorted(wanted)[:MAX_REQUIREMENTS]
    asked: list[Requirements] = []
    first = 0
    for step in steps:
        many = sum(f == step.field for _, _, f in chosen)
        if step.field is None or not many:
            continue
        field = packing.fields[step.field]
        compile_one = _of_run if field.join is None else _of_lot
        places, unmet = required[step.field]
        of_code, within = compile_one(walk, step, field, places, many)
        asked.append(Requirements(step.field, first, many, unmet, of_code, within))
        first += many
    return asked


def _of_run(walk: Walk, step: Step, field: Field, places: Sequence[int], many: int) -> tuple[Ints, Floats]:
    """Return the requirements met by each code, and P(within a mask) for each state, for a single run."""
    of_code = np.array(
        [sum((code >> place & 1) << n for n, place in enumerate(places[:many])) for code in range(1 << field.bits)],
        dtype=np.int64,
    )
    state, code, chance = step.draws.listed()
    within = np.empty((walk.states, 1 << many))
    for mask in range(1 << many):
        fits = (of_code[code] & ~mask) == 0
        within[:, mask] = np.bincount(state[fits], weights=chance[fits], minlength=walk.states)
    return of_code, within


def _of_lot(walk: Walk, step: Step, field: Field, places: Sequence[int], many: int) -> tuple[Ints, Floats]:
    """The same for a lot of equal runs, each with one requirement.

    By symmetry any run may be called the first, so those that meet it come first.  Given the state the runs are
    drawn apart: P(within) is a product over the runs.
    """
    met = np.array([sum(code >> places[0] & 1 for code in members) for members in field.multisets], dtype=np.int64)
    of_code = (1 << np.minimum(met, many)) - 1
    state, code, chance = step.draws.listed()
    lives = np.bincount(state, weights=chance, minlength=walk.states) ** (1 / field.runs)
    none = met[code] == 0
    brings_none = np.bincount(state[none], weights=chance[none], minlength=walk.states) ** (1 / field.runs)
    within = np.empty((walk.states, 1 << many))
    for mask in range(1 << many):
        inside = mask.bit_count()
        within[:, mask] = lives ** (inside + field.runs - many) * brings_none ** (many - inside)
    return of_code, within


FEW_PAIRS = 3_000
"""Pairs that are made without choosing among them."""

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
        excess: what of it was dropped beyond the budget, because the pairs were too many.
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
        if kept.all():
            return leaves
        return Leaves(
            leaves.root[kept], leaves.given[kept], leaves.codes[kept], leaves.state[kept], leaves.weight[kept]
        )


def _keep(value: Floats, budget: float) -> tuple[NDArray[np.bool_], float]:
    """Drop the smallest values that together keep to a budget; return which stay, and the sum of the others."""
    order = np.argsort(value)
    total = np.cumsum(value[order])
    many = int(np.searchsorted(total, budget, side="right"))
    kept = np.ones(len(value), dtype=bool)
    kept[order[:many]] = False
    return kept, float(total[many - 1]) if many else 0.0


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
