"""The least expected cost of small models over all policies, and what it costs to follow an advice in them.

This is the slow honest twin of ``lookahead``: plain recursion over what may be believed, nothing bounded and nothing
left out.  It shares no code with the planner, only the nouns of ``situation``.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from halfsplit.errors import Mistake, PlanError
from halfsplit.model.arrays import Bools, Floats
from halfsplit.plan.lookahead import Ranking
from halfsplit.plan.situation import HAND_BACK, REPLACE, Situation

MOST_FAULTS = 7
MOST_ACTIONS = 8

_NOTHING = 1e-14  # a result less likely than this does not come


@dataclass(frozen=True)
class Optimum:
    """The least expected cost of a small model.

    Args:
        cents: over all policies.
        first: the ids of what comes first: an action, repairs with one re-check, or HAND_BACK or REPLACE.
        beliefs: how many states of belief and bench were looked at.
    """

    cents: float
    first: tuple[str, ...]
    beliefs: int


@dataclass(frozen=True)
class Following:
    """What following an advice costs in a small model.

    Args:
        cents: the expected cost.
        beliefs: how many states of belief and bench the advice was asked in.
    """

    cents: float
    beliefs: int


def every_set(faults: int) -> Bools:
    """Return every set of faults as worlds, shape (2^faults, faults); world n has fault f where n has bit f."""
    sets: Bools = (np.arange(2**faults)[:, None] >> np.arange(faults)) % 2 == 1
    return sets


def find_optimum(situation: Situation) -> Optimum:
    """Return the least expected cost over all policies, exact up to rounding.

    A policy does one action after the other, each at most once: checks, which tell by the faults that are there then,
    and repairs, each with a re-check that misses nothing and ends the job when all is well; several repairs on one
    opening may share one re-check.  Or it ends the job as it is.

    Args:
        situation: worlds as ``every_set`` lists them, at most ``MOST_FAULTS`` faults and ``MOST_ACTIONS`` actions.

    Raises:
        PlanError: HS604 when it is no such model.
    """
    model = _Model(situation)
    memo: dict[_State, tuple[float, tuple[int, ...]]] = {}

    def least(belief: Floats, done: int, is_open: frozenset[str]) -> tuple[float, tuple[int, ...]]:
        state = _state(belief, done, is_open)
        if state in memo:
            return memo[state]
        best: tuple[float, tuple[int, ...]] = min(
            (situation.left_broken * (1.0 - float(belief[0])), (_HAND_BACK,)), (float(situation.replacing), (_REPLACE,))
        )
        moves = [(model.cents(move, belief, is_open), move) for move in model.moves(done)]
        for cents, move in sorted(moves):
            if cents >= best[0]:
                break
            total = cents
            for p, after in model.results(move, belief):
                if total >= best[0]:
                    break
                total += p * least(after, done | _bits(move), model.open_after(move, is_open))[0]
            best = min(best, (total, move))
        memo[state] = best
        return best

    cents, first = least(situation.weights, 0, situation.open_now)
    return Optimum(cents, tuple(model.name(n) for n in first), len(memo))


def follow_advice(situation: Situation, advise: Callable[[Situation], Ranking]) -> Following:
    """Return what it costs to do what comes first in a ranking, and to ask again after each result, to the end.

    Of a bundle of checks the first is done before the advice is asked again; repairs with one re-check are done
    together.

    Args:
        situation: as for ``find_optimum``.
        advise: ranks what can be done.

    Raises:
        PlanError: HS604 when it is no such model.
    """
    model = _Model(situation)
    memo: dict[_State, float] = {}

    def cost(belief: Floats, done: int, is_open: frozenset[str]) -> float:
        state = _state(belief, done, is_open)
        if state in memo:
            return memo[state]
        undone = tuple(action for n, action in enumerate(situation.actions) if not done >> n & 1)
        first = advise(replace(situation, weights=belief, actions=undone, open_now=is_open)).ranked[0]
        if first.id in (HAND_BACK, REPLACE):
            total = situation.replacing if first.id == REPLACE else situation.left_broken * (1.0 - float(belief[0]))
        else:
            move = model.move(first.parts)
            total = model.cents(move, belief, is_open)
            for p, after in model.results(move, belief):
                total += p * cost(after, done | _bits(move), model.open_after(move, is_open))
        memo[state] = float(total)
        return memo[state]

    return Following(cost(situation.weights, 0, situation.open_now), len(memo))


_State = tuple[int, frozenset[str], bytes]
_HAND_BACK, _REPLACE = -1, -2


class _Model:
    """A small situation; a move is one action, or repairs on one opening with one re-check, by their numbers."""

    def __init__(self, situation: Situation) -> None:
        faults = situation.faults.shape[1]
        fits = (
            faults <= MOST_FAULTS
            and len(situation.actions) <= MOST_ACTIONS
            and np.array_equal(situation.faults, every_set(faults))
            and (situation.shows is None or bool((situation.shows == 1.0).all()))
        )
        if not fits:
            should = f"it has at most {MOST_FAULTS} faults, {MOST_ACTIONS} actions and re-checks that miss nothing"
            raise PlanError(
                [
                    Mistake(
                        "situation",
                        "HS604",
                        "it is too large for all policies",
                        f"{should}; its worlds are every set of faults",
                        "Make it smaller",
                    )
                ]
            )
        self.situation = situation
        self.actions = situation.actions
        self.openings = {opening.id: opening for opening in situation.openings}
        self._stay = {n: _stay(action.cures) for n, action in enumerate(self.actions) if action.cures is not None}
        clusters: dict[str, list[int]] = {}
        for n, action in enumerate(self.actions):
            if action.cures is not None:
                clusters.setdefault(action.opening, []).append(n)
        shared = [some for all_ in clusters.values() for k in range(2, len(all_) + 1) for some in combinations(all_, k)]
        self._moves = [*((n,) for n in range(len(self.actions))), *shared]

    def moves(self, done: int) -> Iterator[tuple[int, ...]]:
        """Return the moves of which nothing is done."""
        return (move for move in self._moves if not _bits(move) & done)

    def move(self, parts: tuple[str, ...]) -> tuple[int, ...]:
        """Return the move that actions by their ids begin with."""
        ids = [action.id for action in self.actions]
        numbers = sorted(ids.index(part) for part in parts)
        if all(self.actions[n].cures is not None for n in numbers):
            return tuple(numbers)
        return (ids.index(parts[0]),)

    def name(self, number: int) -> str:
        return {_HAND_BACK: HAND_BACK, _REPLACE: REPLACE}.get(number) or self.actions[number].id

    def needed(self, move: tuple[int, ...]) -> set[str]:
        needed: set[str] = set()
        name = self.actions[move[0]].opening
        while name and name not in needed:
            needed.add(name)
            name = self.openings[name].inside
        return needed

    def cents(self, move: tuple[int, ...], belief: Floats, is_open: frozenset[str]) -> float:
        """Return what a move is expected to cost by itself, with what must be opened for it."""
        own = sum(float(belief @ np.broadcast_to(self.actions[n].cents, belief.shape)) for n in move)
        rechecks = [self.actions[n].recheck for n in move]
        return (
            own - sum(rechecks) + max(rechecks) + sum(self.openings[name].cents for name in self.needed(move) - is_open)
        )

    def open_after(self, move: tuple[int, ...], is_open: frozenset[str]) -> frozenset[str]:
        made = is_open | self.needed(move)
        if any(self.actions[n].powers for n in move):
            return frozenset(name for name in made if self.openings[name].stays)
        return frozenset(made)

    def results(self, move: tuple[int, ...], belief: Floats) -> list[tuple[float, Floats]]:
        """Return P(result) with the belief after it, for each result that does not end the job."""
        tells = self.actions[move[0]].tells
        if tells is not None:
            joint = (belief[:, None] * tells).T
        else:
            after = belief
            for n in move:
                after = after @ self._stay[n]
            joint = after[None, :] * (np.arange(len(belief)) > 0)
        return [(float(row.sum()), row / row.sum()) for row in joint if row.sum() > _NOTHING]


def _stay(cures: Floats) -> Floats:
    """Return P(set of faults after a repair | set before it), shape (2^F, 2^F)."""
    stay = np.ones((1, 1))
    for p in cures:
        stay = np.kron(np.array([[1.0, 0.0], [p, 1.0 - p]]), stay)
    return stay


def _bits(move: tuple[int, ...]) -> int:
    return sum(1 << n for n in move)


def _state(belief: Floats, done: int, is_open: frozenset[str]) -> _State:
    return done, is_open, (belief.round(12) + 0.0).tobytes()
