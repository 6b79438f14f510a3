"""What the readings say: suspicions of faults and parts, fault sets, samples."""

import heapq
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import prod

import numpy as np
from numpy.typing import NDArray

from halfsplit.infer.components import Compiled, split_evidence
from halfsplit.infer.leaves import Walk
from halfsplit.infer.program import Estimate, Program, Solved, estimate, solve_cut, solve_whole
from halfsplit.infer.sampling import sample_group
from halfsplit.infer.sets import MAX_ROWS, group_sets
from halfsplit.model.arrays import Floats
from halfsplit.model.evidence import Evidence

NAMED_P = 0.02
"""Faults at least this likely are told apart in fault sets; all others are summed out."""

WORRYING_SHARE = 0.02
"""A bound share above this is said aloud, with an estimate of what is really missing."""

STRATUM_P = 1e-4
"""Faults above this get samples of their own."""


@dataclass(frozen=True)
class Samples:
    """Weighted samples of the state of every root now.

    Args:
        states: shape (K, R): the state of each root, in the order of ``evidence.roots``.
        weights: shape (K,), adding up to 1.
    """

    states: NDArray[np.int16]
    weights: Floats


@dataclass(frozen=True)
class Missing:
    """What of the answer was left out, as estimated; ``low`` and ``high`` are the ends of a 95 % interval."""

    share: float
    low: float
    high: float


class Posterior:
    """The answer of the engine, for one evidence.

    Attributes:
        evidence: what was weighed.
        is_whole: nothing may be left out of any answer, however long it takes.
        log_p: natural log of P(all readings); minus infinity when they cannot all be true.
        log_p_most: a true bound on it from above.
        bound_share: a true bound on the share of P that was dropped; 0 when nothing was.
        left_out: the probability of context values that were not looked at (above 64 joint ones).
    """

    def __init__(self, evidence: Evidence, solved: Sequence[Solved], *, is_whole: bool = False) -> None:
        self.evidence = evidence
        self.groups = tuple(solved)
        self.is_whole = is_whole
        with np.errstate(divide="ignore"):
            log_p = float(sum(np.log(group.p) + group.program.log_scale for group in solved))
        self.log_p = min(log_p, 0.0)
        looked_at = complete = 1.0
        self.log_p_most = 0.0
        for group in solved:
            left_out = _left_out(group.program.walk)
            looked_at *= 1.0 - left_out
            # over the program's scale no P is above 1, so a value that was not looked at hides no more than its own
            missing = group.dropped + left_out
            complete *= group.p / (group.p + missing) if missing else 1.0
            with np.errstate(divide="ignore"):
                self.log_p_most += float(np.log(group.p + missing)) + group.program.log_scale
        self.left_out = 1.0 - looked_at
        self.bound_share = 1.0 - complete
        self._place = {
            root.id: (g, i) for g, group in enumerate(self.groups) for i, root in enumerate(group.program.group.roots)
        }

    @property
    def is_impossible(self) -> bool:
        """Whether the readings cannot all be true: the P of some group is 0, and nothing of it was left out."""
        return any(group.p == 0.0 and not group.dropped and not _left_out(group.program.walk) for group in self.groups)

    @property
    def p_readings(self) -> float:
        """P(all readings)."""
        return float(np.exp(self.log_p))

    def p_states(self, root_id: str) -> Floats:
        """Return P(state at the end of the log | all readings) of a root; shape (states,)."""
        g, i = self._place[root_id]
        return _clipped(self.groups[g].p_states(i))

    def p_now(self, root_id: str) -> float:
        """Return P(the fault is there now | all readings)."""
        return min(1.0, float(self.p_states(root_id)[1:].sum()))

    @cached_property
    def p_faults(self) -> Floats:
        """P(there now) of every root, in the order of ``evidence.roots``; shape (R,)."""
        found = {}
        for group, p in zip(self.groups, self._p_by_state, strict=True):
            walk = group.program.walk
            for i, root in enumerate(group.program.group.roots):
                found[root.id] = float(p[walk.offset[i] + 1 : walk.offset[i + 1]].sum())
        return _clipped(np.array([found[root.id] for root in self.evidence.roots]))

    @cached_property
    def _p_by_state(self) -> tuple[Floats, ...]:
        """P(root is in this state now) of all states of each group."""
        found: list[Floats] = []
        for group in self.groups:
            walk = group.program.walk
            state = walk.offset[group.leaves.root] + group.leaves.state
            found.append(np.bincount(state, weights=group.row_share, minlength=walk.states).astype(np.float64))
        return tuple(found)

    def p_held(self, thing: str) -> float:
        """Return P(at least one fault has a foothold on this part or joint now | all readings)."""
        return self.p_all_held([thing])[thing]

    def p_all_held(self, things: Sequence[str], *, least: float = 0.0) -> dict[str, float]:
        """Return P(at least one fault has a foothold on it now) for several parts or joints.

        Args:
            things: the parts and joints.
            least: where the chances of all faults that may hold it add up to less than this, their sum is good enough:
                it is never below what is asked for, and quick to have.
        """
        holding = [
            {root.id: frozenset(s for s, held in enumerate(root.held) if thing in held) for root in self.evidence.roots}
            for thing in things
        ]
        found = dict(zip(things, map(self._p_at_most, holding), strict=True)) if least > 0.0 else {}
        asked = [n for n, thing in enumerate(things) if found.get(thing, least) >= least]
        exact = self._p_some([holding[n] for n in asked]).tolist() if asked else []
        return found | {things[n]: p for n, p in zip(asked, exact, strict=True)}

    def _p_at_most(self, wanted: Mapping[str, frozenset[int]]) -> float:
        """Return the sum of P(a root is in one of its states asked for) over all roots, at most 1."""
        found = 0.0
        for group, p in zip(self.groups, self._p_by_state, strict=True):
            walk = group.program.walk
            states = [walk.offset[i] + s for i, root in enumerate(walk.roots) for s in wanted.get(root.id, ())]
            found += float(p[states].sum())
        return min(1.0, found)

    def p_any(self, root_ids: Collection[str]) -> float:
        """Return P(at least one of these faults is there now | all readings)."""
        present = {
            root.id: frozenset(range(1, len(root.states))) for root in self.evidence.roots if root.id in root_ids
        }
        return float(self._p_some([present])[0])

    def _p_some(self, wanted: Sequence[Mapping[str, frozenset[int]]]) -> Floats:
        """Return for each of several questions P(some root is in one of its states asked for); shape (questions,)."""
        free = np.ones(len(wanted))
        for group in self.groups:
            walk = group.program.walk
            excluded = [
                frozenset(int(walk.offset[i]) + s for i, root in enumerate(walk.roots) for s in states.get(root.id, ()))
                for states in wanted
            ]
            asked = [n for n, states in enumerate(excluded) if states]
            if asked:
                free[asked] *= group.p_without([excluded[n] for n in asked]) / group.p
        return _clipped(1.0 - free)

    def context(self, context_id: str) -> Floats:
        """Return P(value | all readings) of a shared variable; shape (values,)."""
        for group in self.groups:
            names = [context.id for context in group.program.walk.contexts]
            if context_id in names:
                walk = group.program.walk
                shape = [walk.sizes[name] for name in names]
                joint = np.zeros(int(np.prod(shape)))
                joint[walk.kept] = group.p_contexts()
                axes = tuple(n for n, name in enumerate(names) if name != context_id)
                return _clipped(joint.reshape(shape).sum(axis=axes))
        return np.array(next(context.p for context in self.evidence.contexts if context.id == context_id))

    @cached_property
    def _named_sets(self) -> tuple[list[list[tuple[frozenset[str], float]]], float]:
        p_now = dict(zip((root.id for root in self.evidence.roots), self.p_faults, strict=True))
        per_group, missing = [], 0.0
        for group in self.groups:
            named = [i for i, root in enumerate(group.program.group.roots) if p_now.get(root.id, 0.0) >= NAMED_P]
            if named:
                found, left = group_sets(group, named, None if self.is_whole else MAX_ROWS)
                per_group.append(found)
                missing += left
        return per_group, missing

    def sets(self, many: int) -> tuple[tuple[frozenset[str], float], ...]:
        """Return the most probable sets of faults present now, best first.

        Faults below ``NAMED_P`` are summed out.  Groups that share nothing are combined best first.
        """
        per_group, _ = self._named_sets
        return tuple(_best_products(per_group, many))

    @property
    def sets_bound(self) -> float:
        """A bound on the probability of any set that ``sets`` does not know, beside ``bound_share``."""
        return self._named_sets[1]

    def samples(self, many: int, *, seed: int = 0) -> Samples:
        """Draw weighted samples of all roots' states now.

        Of these, three fifths are plain; the rest are drawn given that one fault is there, an equal number for
        each fault above ``STRATUM_P``.  A sample weighs 1 / (n0 + sum over present i of n_i / P_i), which is the
        exact weight for the mixture.

        Args:
            many: how many.
            seed: the same seed and evidence give the same samples.
        """
        p = self.p_faults
        strata = np.flatnonzero((p > STRATUM_P) & (p < 1 - STRATUM_P))
        each = (many * 2 // 5) // len(strata) if len(strata) else 0
        plain = many - each * len(strata)
        wanted = np.concatenate([np.full(plain, -1), np.repeat(strata, each)]).astype(np.int64)
        states = np.zeros((many, len(p)), dtype=np.int16)
        place = {root.id: r for r, root in enumerate(self.evidence.roots)}
        for g, group in enumerate(self.groups):
            roots = group.program.group.roots
            column = np.array([place.get(root.id, -1) for root in roots], dtype=np.int64)
            local = np.full(len(p) + 1, -1, dtype=np.int64)
            local[column[column >= 0]] = np.flatnonzero(column >= 0)
            drawn = sample_group(group, local[wanted], np.random.default_rng([seed, g]))
            states[:, column[column >= 0]] = drawn[:, column >= 0]
        share = np.zeros(len(p))
        share[strata] = each / p[strata]
        weights = 1.0 / (plain + (states > 0) @ share)
        return Samples(states, weights / weights.sum())

    def estimate(self, *, passes: int = 16, seed: int = 0) -> tuple[Estimate, ...]:
        """Return, for each group of which more than ``WORRYING_SHARE`` may be missing, and not all, how much is.

        By importance sampling over rows and pairs; some 0.04 s a pass.
        """
        return tuple(
            estimate(group, passes=passes, seed=seed)
            for group in self.groups
            if group.dropped > WORRYING_SHARE * group.p > 0.0
        )

    def missing(self, *, passes: int = 4, seed: int = 0) -> Missing | None:
        """Return how much of the answer is missing, where that may be more than ``WORRYING_SHARE``; else None.

        The bound is what it may be at most; this is what it is, but for chance.  With few passes the interval is wide,
        as it should be.
        """
        estimates = self.estimate(passes=passes, seed=seed)
        if not estimates:
            return None
        ratio = prod(one.share for one in estimates)
        error = ratio * float(np.sqrt(sum((one.standard_error / one.share) ** 2 for one in estimates)))
        wide = error * _TWO_SIDED_95[min(passes, len(_TWO_SIDED_95) + 1) - 2]
        ends = (ratio, ratio - wide, ratio + wide)
        share, low, high = (min(self.bound_share, 1.0 - 1.0 / max(1.0, end)) for end in ends)
        return Missing(share, low, high)


_TWO_SIDED_95 = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365)
"""Student's t for 95 % on both sides, in standard errors, for means of 2, 3, ... 8 passes (handbook table)."""


def _left_out(walk: Walk) -> float:
    """Return the probability of the joint context values that were not looked at; 0 when all were."""
    if walk.joint == prod(walk.sizes.values()):
        return 0.0
    return max(0.0, 1.0 - float(walk.p_given.sum()))


def _clipped(p: Floats) -> Floats:
    """Return probabilities without what rounding put below 0 or above 1."""
    return np.clip(p, 0.0, 1.0)


def _best_products(
    lists: Sequence[Sequence[tuple[frozenset[str], float]]], many: int
) -> list[tuple[frozenset[str], float]]:
    """Return the best products of one item from each list; each list is sorted, best first."""
    if not lists:
        return [(frozenset(), 1.0)]

    def value(at: tuple[int, ...]) -> float:
        return float(np.prod([items[n][1] for items, n in zip(lists, at, strict=True)]))

    start = (0,) * len(lists)
    heap = [(-value(start), start)]
    seen = {start}
    out: list[tuple[frozenset[str], float]] = []
    while heap and len(out) < many:
        p, at = heapq.heappop(heap)
        out.append((frozenset().union(*(items[n][0] for items, n in zip(lists, at, strict=True))), min(1.0, -p)))
        for k, n in enumerate(at):
            after = (*at[:k], n + 1, *at[k + 1 :])
            if n + 1 < len(lists[k]) and after not in seen:
                seen.add(after)
                heapq.heappush(heap, (-value(after), after))
    return out


DEFAULT_TARGET = 0.01
"""The bound share to aim at."""

FIRST_PART = 0.7
"""The part of what is left of the bound share that the next group may use, the largest first; the last uses all."""


def weigh_readings(
    compiled: Compiled,
    readings: Collection[str],
    *,
    limit: int | None = None,
    target: float = DEFAULT_TARGET,
    log_p_least: float = np.inf,
) -> Posterior:
    """Return the posterior given some of the compiled readings.

    Args:
        compiled: the evidence with all its readings compiled.
        readings: ids of those that count.
        limit: the most pairs of rows that one level may join; None = as many as are quick; 0 = never cut.
        target: the bound share to aim at where a program must be cut.
        log_p_least: natural log of a P that these readings are known to reach, as more readings do that hold these;
            infinity = not known.
    """
    programs = [Program(group) for group in split_evidence(compiled, readings)]
    solved = {n: whole for n, program in enumerate(programs) if (whole := solve_whole(program, limit=limit))}
    large = [n for n in range(len(programs)) if n not in solved]
    left = target
    for n in large:
        most = left if n == large[-1] else left * FIRST_PART
        solved[n] = solve_cut(programs[n], limit=limit, target=most, log_p_least=log_p_least)
        left -= min(solved[n].missing_share, most)
    return Posterior(compiled.evidence, [solved[n] for n in range(len(programs))], is_whole=limit == 0)
