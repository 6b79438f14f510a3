"""What may still complete a row, from above: so that a large table can be cut where it does not matter.

A *requirement* is what a reading needs (``requirements``): without it nothing is explained, or the reading weighs at
most ``unmet``.  Codes cut down to requirements still join by OR, nothing is dead, and whatever completes a row must
bring all the requirements that the row lacks.  P(the rest brings them) bounds beta from above, over all readings at
once, and needs no tables of codes.

Along one requirement a node has two numbers.  *Exactly*: P(brings it) and P(does not), which three products join.  Or
*by what is left*: P(does not) and P(either), which two products join; P(brings it) is then a difference, which loses
digits.  As this is only a bound, what rounding may have taken is put on top, and so that it stays small the
requirements that say most are kept exactly, as many as need be.

A row adds at most alpha * U to P.  Rows are dropped from the smallest of these products upwards, and what was
dropped is added up: a true bound on what is missing from P.
"""

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

import numpy as np

from halfsplit.infer.joins import Closing, Plan, add_up
from halfsplit.infer.leaves import Packing, Step, Walk
from halfsplit.infer.requirements import Requirements, choose_requirements, walk_sets
from halfsplit.model.arrays import Floats, Ints, Rows

_ABOVE = 1.0 + 1e-11  # more than rounding can take from sums and products of positive numbers here

_ROUNDINGS = 100
"""Roundings that one product may have gone through and that did not cancel; generous for the tree's depth."""

_LOST = 0.1
"""What rounding may have taken should be no more than this part of P."""

_MOST_EXACT = 4
"""Requirements that are kept exactly, at most."""


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
        lone = frozenset(closing.field for closing in closings.get(0, ()))
        self.asked = choose_requirements(walk, steps, packing, lone)
        self.bits = sum(item.bits for item in self.asked)
        self.weighed = self._weighed(closings)
        self._closes = [
            [
                (mask, unmet, closing.at)
                for closing in closings.get(level, ())
                for item in self.asked
                if item.field == closing.field
                for mask, unmet in _by_hardness(item)
            ]
            for level in range(len(plan.nodes))
        ]
        lots = [item for item in self.asked if packing.fields[item.field].join is not None]
        self._lots = sum(((1 << item.bits) - 1) << item.first for item in lots)
        self._meetings = [(item.first, item.bits, _meet_lots(item)) for item in lots]
        self._unmet = [unmet for item in self.asked for unmet in item.unmets]
        self._exact = self._choose_exact()
        inside = [self._leaves(walk, steps)]
        for left, right in plan.pairs:
            both = inside[-1][left]
            two = np.flatnonzero(right >= 0)
            both[two] = self._join(both[two], inside[-1][right[two]])
            inside.append(both)
        top = np.where(plan.top_given < 0, 1.0, walk.p_given[plan.top_given])
        self.p = float((top * self._complete(inside[-1])[:, 0]).sum())
        outside = top[:, None] * self._brings_nothing()
        betas = [self._complete(outside)]
        for (left, right), below in zip(reversed(plan.pairs), reversed(inside[:-1]), strict=True):
            two = np.flatnonzero(right >= 0)
            alone = np.flatnonzero(right < 0)
            child = np.concatenate([left[alone], left[two], right[two]])
            above = np.concatenate([two, two])
            beside = self._join(outside[above], below[np.concatenate([right[two], left[two]])])
            outside = add_up(child, np.concatenate([outside[alone], beside]), len(below))
            betas.append(self._complete(outside))
        self.betas = tuple(reversed(betas))

    def _choose_exact(self) -> list[bool]:
        """Return for each requirement whether it is kept exactly: those that say most, so that little is lost."""
        says = [log for item in self.asked for log in item.says]
        order = sorted(range(len(says)), key=lambda bit: -says[bit])
        many = 0
        while many < min(_MOST_EXACT, len(says)):
            p = np.exp(-sum(says[bit] for bit in order[many:]))
            if self._lost(len(says) - many) <= _LOST * p:
                break
            many += 1
        return [bit in order[:many] for bit in range(len(says))]

    def _lost(self, bits: int) -> float:
        """Return the most that rounding may take from P over so many requirements, over P(either)."""
        return float((1 << bits) * (_ROUNDINGS + bits) * np.finfo(np.float64).eps) if bits else 0.0

    def _brings_nothing(self) -> Floats:
        """Return the numbers of a node that brings nothing; shape (sets of requirements,)."""
        numbers = np.ones(1)
        for is_exact in self._exact:
            numbers = np.concatenate([numbers, 0.0 * numbers if is_exact else numbers])
        return numbers

    def _join(self, one: Floats, other: Floats) -> Floats:
        """Return what two nodes bring together, for several couples; shapes (couples, sets of requirements).

        Along a requirement that is kept exactly: neither brings it, or the one does, or only the other does.
        """
        couples, sets = one.shape
        exact = [bit for bit, is_exact in enumerate(self._exact) if is_exact]
        for bit in reversed(exact):
            x, y = (z.reshape(couples, -1, 2, 1 << bit) for z in (one, other))
            one = np.stack([x[:, :, 0], x[:, :, 1], x[:, :, 0]], axis=2)
            other = np.stack([y[:, :, 0], y[:, :, 0] + y[:, :, 1], y[:, :, 1]], axis=2)
        met = one.reshape(couples, -1) * other.reshape(couples, -1)
        for bit in exact:
            ways = met.reshape(couples, -1, 3, 1 << bit)
            met = np.stack([ways[:, :, 0], ways[:, :, 1] + ways[:, :, 2]], axis=2)
        return met.reshape(couples, sets)

    def _complete(self, brought: Floats) -> Floats:
        """From what the rest brings return for every set the bound on what it makes of a row that meets this set."""
        met = brought * _ABOVE
        rest = 0
        for bit, (is_exact, unmet) in enumerate(zip(self._exact, self._unmet, strict=True)):
            halves = met.reshape(len(met), -1, 2, 1 << bit)
            if is_exact:
                either = halves[:, :, 0] + halves[:, :, 1]
                halves[:, :, 0] = unmet * halves[:, :, 0] + halves[:, :, 1]
                halves[:, :, 1] = either
            else:
                halves[:, :, 0] = halves[:, :, 1] - (1.0 - unmet) * halves[:, :, 0]
                rest |= 1 << bit
        if rest:
            # where all of the others are met, nothing was lost
            whole = met[:, np.arange(met.shape[1]) | rest]
            met = np.maximum(met, 0.0) + self._lost(rest.bit_count()) * whole
        return met

    def beta(self, node: Rows, codes: Ints, level: int) -> Floats:
        """Return U for rows of a level."""
        beta: Floats = self.betas[level][node, self.met(node, codes, level)]
        return beta

    def met(self, node: Rows, codes: Ints, level: int) -> Ints:
        """Return the requirements that rows of a level meet, as a mask."""
        met = self.weighed[level][node]
        for item in self.asked:
            met |= item.of_code[self.packing.place_of(codes, item.field)] << item.first
        return met

    def beta_of_pairs(self, level: int, above: Rows, left: Rows, right: Rows, met: Ints) -> Floats:
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

    def beta_so_far(self, node: Rows, codes: Ints, done: Sequence[int]) -> Floats:
        """Return U for rows of leaves that have been walked through some fields only.

        What the other fields will bring is not known yet: they count as met.
        """
        met = np.zeros(len(node), dtype=np.int64)
        for item in self.asked:
            if item.field in done:
                met |= item.of_code[self.packing.place_of(codes, item.field)] << item.first
            else:
                met |= ((1 << item.bits) - 1) << item.first
        beta: Floats = self.betas[0][node, met]
        return beta

    def _leaves(self, walk: Walk, steps: Sequence[Step]) -> Floats:
        """Return the numbers of each node of level 0; shape (nodes, sets of requirements)."""

        def narrow(item: Requirements, norm: Floats) -> Callable[[Floats, Ints], Floats]:
            # the requirements asked about come in this order: each makes the sets so many times more
            table = item.brings * norm[:, None]
            for n in range(item.bits):
                if not self._exact[item.first + n]:
                    halves = table.reshape(len(table), -1, 2, 1 << n)
                    halves[:, :, 1] += halves[:, :, 0]
            return lambda z, place: (table[place][:, :, None] * z[:, None, :]).reshape(len(z), -1)

        norms = {step.field: step.norm for step in steps}
        by_field = {item.field: narrow(item, norms[item.field]) for item in self.asked}
        root, given, z = walk_sets(walk, steps, by_field)
        return add_up(self.plan.leaf[root, given], z, self.plan.nodes[0])


def _by_hardness(item: Requirements) -> list[tuple[int, float]]:
    """Return the masks of the hard requirements of a field and of the other, and what it weighs at most without."""
    ends = (0, item.hard, item.bits)
    return [
        (((1 << end) - (1 << begin)) << item.first, max(item.unmets[begin:end]))
        for begin, end in pairwise(ends)
        if end > begin
    ]


def _meet_lots(item: Requirements) -> Ints:
    """Return the most that two lots of equal runs meet together, in its place, for (mask of one << bits | other)."""
    masks = range(1 << item.bits)
    counts = [min(item.bits, a.bit_count() + b.bit_count()) for a in masks for b in masks]
    return np.array([((1 << count) - 1) << item.first for count in counts], dtype=np.int64)
