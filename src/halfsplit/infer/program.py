"""One group solved: its program built, cut down if it must be, run up and down."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from halfsplit.errors import TooLargeError
from halfsplit.infer.bounds import Bounds
from halfsplit.infer.components import Group
from halfsplit.infer.cuts import Cut, Thin
from halfsplit.infer.draws import AS_WRITTEN, Numbers, draw_states
from halfsplit.infer.fields import Field
from halfsplit.infer.joins import (
    Joined,
    Keep,
    Plan,
    Table,
    TooManyPairsError,
    Up,
    add_up,
    find_closings,
    merge_rows,
    pass_down,
    pass_up,
    plan_joins,
    replay,
)
from halfsplit.infer.leaves import (
    KeepLeaves,
    Leaves,
    Packing,
    Step,
    Walk,
    merged,
    pack,
    scaled,
    walk_log,
)
from halfsplit.model.arrays import Bools, Floats, Ints, Rows
from halfsplit.model.evidence import Acts, Root

WHOLE_PAIRS = 20_000
"""Pairs on one level up to which a program is run whole, without a thought of cutting."""

MAX_PAIRS = 120_000
"""Pairs that one level may join in a cut program; with more, the largest jobs take more than 200 MB."""

FITTING_PAIRS = 10_000_000
"""Pairs that one level may join, and rows of leaves, where nothing may be left out; some 2 GB."""

FIRST_PART_OF_P = 0.3
"""The part of the bound on P that the first pass may drop: it is quick, and only to find what P is about."""

NEARLY = 0.97
"""What is taken for P, over the P found: the next pass may find a little less."""

MOST_PASSES = 20

SMALL_PAIRS = 5_000
"""Where a pass joined fewer pairs in all or found something, and missed more, the budget falls in large steps."""

HOPELESS_PAIRS = 150_000
"""Where a pass joined more pairs in all, or had to drop some for their number, and missed more than it found, the next
would cost far more and hardly miss less."""

NO_LIMIT = 2**62

STAY_SHARE = 1e-4
"""Rows and pairs worth this share of the answer or more stay in every pass of an estimate; of the others some do."""

ESTIMATE_PAIRS = 10_000
"""Pairs that one level of a pass of an estimate joins, and as many more that are drawn."""

SLIM_SHARE = 1e-10
"""Joins of a cut program with less than this share of the answer are passed over by sets, samples and parts."""


VARIANTS_AT_ONCE = 32
"""Exclusions that are replayed side by side: what that takes in its midst is so many times the rows of the tables."""


@dataclass(frozen=True)
class Estimate:
    """What a cut program misses, by importance sampling.

    Args:
        share: P(readings) over the P that the cut program found: mean over passes, 1 = nothing is missing.
        standard_error: of that mean.
    """

    share: float
    standard_error: float
    passes: int


class Program:
    """The program of one group, before it is run.

    Attributes:
        log_scale: natural log of what was taken out of all its probabilities.
        lone: the fields that only one root can explain; they never meet another.
        closed: the fields that are weighed before the top.
    """

    def __init__(self, group: Group) -> None:
        self.group = group
        self.walk = Walk(group.roots, group.contexts)
        self.packing: Packing = pack(
            [item.compiled.field if item.is_own else _mute(item.compiled.field) for item in group.fields]
        )
        self.steps: tuple[Step, ...] = self.make_steps(AS_WRITTEN)
        self.plan: Plan = plan_joins(self.walk, self.walk.likeness(self.steps, self.packing))
        explains = []
        for step in self.steps:
            state, code, _ = step.draws.listed()
            explains.append(np.unique(self.walk.root_of[state[code > 0]]))
        self.closings = find_closings(self.plan, self.walk, self.packing, explains)
        self.lone = frozenset(closing.field for closing in self.closings.get(0, ()))
        self.closed = frozenset(closing.field for level in self.closings.values() for closing in level)
        self._weights: list[Floats] = []
        self.log_scale = sum(step.log_norm for step in self.steps)
        for item in group.fields:
            field = item.compiled.field
            weights = field.weights / field.most if item.is_own else np.ones((1, 1))
            given = field.given if item.is_own else ()
            self._weights.append(self.walk.over_contexts(_by_context(weights, given, self.walk), given))
            self.log_scale += float(np.log(field.most)) if item.is_own else 0.0

    def make_steps(self, numbers: Numbers) -> tuple[Step, ...]:
        """Return what each reading does to each state, with the book's numbers as written or moved."""
        steps = []
        for n, item in enumerate(self.group.fields):
            field = item.compiled.field
            draws = item.compiled.draws.take(item.places)
            if numbers.draws:
                acts = [act for root in self.walk.roots for act in _acts(root, field.reading)]
                draws = draw_states(field, acts, numbers)
            steps.append(self.walk.step(item.time, n if field.bits and item.is_own else None, draws))
        return tuple(steps)

    def walk_roots(
        self,
        steps: Sequence[Step],
        *,
        inside: frozenset[int] | None = None,
        numbers: Numbers = AS_WRITTEN,
        keep: KeepLeaves | None = None,
    ) -> Leaves:
        """Walk all roots through the log; what only one root can explain is weighed there and then."""
        within = None if inside is None else inside | self.lone
        leaves = walk_log(self.walk, steps, self.packing, inside=within, numbers=numbers, keep=keep)
        node = self.plan.leaf[leaves.root, leaves.given]
        codes, weight = leaves.codes.copy(), leaves.weight
        for closing in self.closings.get(0, ()):
            closes = closing.at[node]
            factor = np.where(closes, closing.weights[self.packing.place_of(codes, closing.field)], 1.0)
            weight = scaled(weight, factor)
            self.packing.clear(codes, closing.field, closes)
        return merged(Leaves(leaves.root, leaves.given, codes, leaves.state, weight))

    def join_up(
        self, table: Table, *, inside: frozenset[int] | None = None, max_pairs: int, keep: Keep | None = None
    ) -> Up:
        """Join a table of level 0 up the tree."""
        closings = {
            level: [c for c in found if inside is None or c.field in inside] for level, found in self.closings.items()
        }
        return pass_up(self.plan, table, self.packing, closings, max_pairs=max_pairs, keep=keep)

    def given_weights(self, codes: Ints, inside: frozenset[int] | None = None) -> Floats:
        """Return P(context value g) x weights of all readings inside, for packed codes; shape (rows, g)."""
        weight = np.broadcast_to(self.walk.p_given, (len(codes), self.walk.joint)).copy()
        for f, by_given in enumerate(self._weights):
            if f not in self.closed and (inside is None or f in inside):
                weight *= by_given[:, self.packing.place_of(codes, f)].T
        return weight

    def top_weights(self, table: Table, inside: frozenset[int] | None = None) -> Floats:
        """Return the weight of each row at the top: its own context value's, or the sum over all."""
        weight = self.given_weights(table.codes, inside)
        own = self.plan.top_given[table.node]
        return np.where(own < 0, weight.sum(axis=1), weight[np.arange(len(own)), np.maximum(own, 0)])


def _mute(field: Field) -> Field:
    """Return a field that leaves no codes: its reading can only rule out roots of this group."""
    return replace(field, bits=0, has_dead=False, codes=np.zeros(1, dtype=np.int64), join=None)


def _acts(root: Root, reading: str) -> tuple[Acts | None, ...]:
    return root.acts.get(reading) or (None,) * len(root.states)


def _by_context(weights: Floats, given: tuple[str, ...], walk: Walk) -> Floats:
    """Return weights (codes, joint of given) as (given ..., codes)."""
    sizes = [walk.sizes[name] for name in given]
    return np.moveaxis(weights.reshape(len(weights), *sizes), 0, -1)


class Solved:
    """One group with its program run.

    Attributes:
        p: P(readings of the group) over exp(log_scale); a lower bound when something was dropped.
        dropped: a bound on what is missing from ``p``.
        bounds: by what it was cut; None where it was run whole.
    """

    def __init__(
        self, program: Program, leaves: Leaves, up: Up, row: Rows, *, dropped: float, bounds: Bounds | None
    ) -> None:
        self.program = program
        self.leaves = leaves
        self.up = up
        self.row = row  # for each row of the leaves its row in the table of level 0
        self.dropped = dropped
        self.bounds = bounds
        self.top = program.top_weights(up.tables[-1])
        self.p = float((up.tables[-1].alpha * self.top).sum())

    @property
    def missing_share(self) -> float:
        """A bound on the share of P that is missing."""
        return self.dropped / (self.p + self.dropped) if self.dropped else 0.0

    @cached_property
    def betas(self) -> tuple[Floats, ...]:
        """The probability that everything else completes each row, for each level."""
        return pass_down(self.up, [level.alpha for level in self.up.tables], self.top)

    @cached_property
    def likely(self) -> Up:
        """The joins that matter: of a cut program without those that hold less than ``SLIM_SHARE`` of the answer."""
        if not self.dropped:
            return self.up
        joined = []
        for table, records, beta in zip(self.up.tables[:-1], self.up.joined, self.betas[1:], strict=True):
            right = np.append(table.alpha, 1.0).take(records.right)  # row -1: carried up alone
            share = table.alpha[records.left] * right * records.chance * beta[records.into] / self.p
            kept = np.flatnonzero(share >= SLIM_SHARE)
            joined.append(Joined(records.left[kept], records.right[kept], records.chance[kept], records.into[kept]))
        return Up(self.up.plan, self.up.tables, tuple(joined))

    @cached_property
    def is_silent(self) -> tuple[Bools, ...]:
        """For each row of each level whether it can only have come from leaves that left no code."""
        silent: list[Bools] = [np.logical_not(self.up.tables[0].codes.any(axis=1))]
        for table, joined in zip(self.up.tables[1:], self.likely.joined, strict=True):
            below = silent[-1]
            quiet = below[joined.left] & ((joined.right < 0) | below[joined.right])
            came = np.bincount(joined.into, minlength=len(table.node))
            loud = np.bincount(joined.into, weights=~quiet, minlength=len(table.node))
            silent.append((came == 1) & (loud == 0))
        return tuple(silent)

    @cached_property
    def row_share(self) -> Floats:
        """P(the root went through the log this way | all readings) for each row of the leaves."""
        return self.leaves.weight * self.betas[0][self.row] / self.p

    def p_states(self, root: int) -> Floats:
        """Return P(state now | all readings) of one root; shape (states,)."""
        rows = self.leaves.root == root
        many = len(self.program.group.roots[root].states)
        return add_up(self.leaves.state[rows], self.row_share[rows], many)

    def p_without(self, excluded: Sequence[frozenset[int]]) -> Floats:
        """Return P(no root is in an excluded state, readings) for several exclusions at once.

        Args:
            excluded: for each variant the (global) states that must not be.

        Returns:
            Shape (variants,).
        """
        state = self.program.walk.offset[self.leaves.root] + self.leaves.state
        found = []
        for begin in range(0, len(excluded), VARIANTS_AT_ONCE):
            few = excluded[begin : begin + VARIANTS_AT_ONCE]
            allowed = np.stack([~np.isin(state, np.array(sorted(states), dtype=np.int64)) for states in few], axis=1)
            alpha = add_up(self.row, self.leaves.weight[:, None] * allowed, len(self.up.tables[0].node))
            found.append((replay(self.likely, alpha)[-1] * self.top[:, None]).sum(axis=0))
        return np.concatenate(found)

    def p_contexts(self) -> Floats:
        """Return P(joint context value g | all readings); shape (g,)."""
        table = self.up.tables[-1]
        weight = self.program.given_weights(table.codes) * table.alpha[:, None]
        own = self.program.plan.top_given[table.node]
        mine = (own[:, None] < 0) | (own[:, None] == np.arange(self.program.walk.joint)[None, :])
        p: Floats = np.where(mine, weight, 0.0).sum(axis=0) / self.p
        return p


def solve_whole(program: Program, *, limit: int | None) -> Solved | None:
    """Run a program whole; None where it is too large for that.

    Args:
        program: the program.
        limit: the most pairs of rows on one level; None = as many as are quick; 0 = as many as fit into memory.

    Raises:
        TooLargeError: the limit is 0 and they do not fit.
    """
    whole = FITTING_PAIRS if limit == 0 else min(limit or WHOLE_PAIRS, WHOLE_PAIRS)
    try:
        leaves = program.walk_roots(program.steps, keep=_RowLimit(whole))
        return _run(program, leaves, whole, None)
    except TooManyPairsError as error:
        if limit == 0:
            raise TooLargeError(error.pairs, whole) from None
        return None


def solve_cut(program: Program, *, limit: int | None, target: float, log_p_least: float = np.inf) -> Solved:
    """Run a program cut so that the bound share is at most ``target``, or as near to it as the pairs allow.

    Args:
        program: the program.
        limit: the most pairs of rows on one level; None = ``MAX_PAIRS``.
        target: the bound share to aim at.
        log_p_least: natural log of a P that these readings are known to reach; spares the search for it.
    """
    bounds = Bounds(program.walk, program.steps, program.packing, program.plan, program.closings)
    enough = target * float(np.exp(min(log_p_least - program.log_scale, 0.0))) if log_p_least < np.inf else 0.0
    budget = FIRST_PART_OF_P * bounds.p
    passes = 0
    while True:
        passes += 1
        cut = Cut(bounds, budget=budget, max_pairs=limit or MAX_PAIRS)
        solved = _run(program, program.walk_roots(program.steps, keep=cut.leaves), NO_LIMIT, cut)
        pairs = sum(len(joined.into) for joined in solved.up.joined)
        is_hopeless = solved.dropped > solved.p and (cut.excess > 0 or pairs > HOPELESS_PAIRS)
        is_right = budget <= max(enough, target * solved.p)  # the budget was right: the pairs were too few
        if solved.dropped <= target * solved.p or is_hopeless or is_right or passes == MOST_PASSES:
            return solved
        less = 0.0 if solved.dropped <= solved.p else budget / (64 if pairs < SMALL_PAIRS or solved.p > 0 else 8)
        budget = max(NEARLY * target * solved.p, enough, less)
        del solved  # the next pass takes as much room again


def estimate(solved: Solved, *, passes: int, seed: int) -> Estimate:
    """Return P(readings) by importance sampling over rows and pairs; one that was run whole misses nothing."""
    program, bounds = solved.program, solved.bounds
    if bounds is None:
        return Estimate(1.0, 0.0, passes)
    stay = min(bounds.p, solved.p + solved.dropped) * STAY_SHARE
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(passes):
        thin = Thin(bounds, stay=stay, max_pairs=ESTIMATE_PAIRS, rng=rng)
        leaves = program.walk_roots(program.steps, keep=thin.leaves)
        found.append(_run(program, leaves, NO_LIMIT, thin).p)
    share = np.array(found) / solved.p
    return Estimate(float(share.mean()), float(share.std(ddof=1) / np.sqrt(passes)), passes)


def _run(program: Program, leaves: Leaves, max_pairs: int, cut: Cut | None) -> Solved:
    table, row = merge_rows(program.plan.leaf[leaves.root, leaves.given], leaves.codes, leaves.weight)
    if cut is not None:
        factor = cut.rows(table, 0)
        kept = factor > 0
        number = np.cumsum(kept, dtype=np.int32) - 1
        stays = kept[row]
        leaves = Leaves(
            leaves.root[stays],
            leaves.given[stays],
            leaves.codes[stays],
            leaves.state[stays],
            leaves.weight[stays] * factor[row[stays]],
        )
        row = number[row[stays]]
        table = Table(table.node[kept], table.codes[kept], (table.alpha * factor)[kept])
    up = program.join_up(table, max_pairs=max_pairs, keep=cut)
    return Solved(program, leaves, up, row, dropped=cut.dropped if cut else 0.0, bounds=cut.bounds if cut else None)


@dataclass(frozen=True)
class _RowLimit:
    """Lets leaves grow to so many rows and no further."""

    rows: int

    def __call__(self, leaves: Leaves, done: Sequence[int]) -> Leaves:
        if len(leaves.root) > self.rows:
            raise TooManyPairsError(len(leaves.root))
        return leaves
