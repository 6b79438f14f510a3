"""The next steps of a job as a tree: what is done, and what after each result.

It is grown from the top: at each place the action comes next that leaves least to pay by the rule of thumb, until the
job ends or the tree has all its places; there one asks again.  Wherever stopping is cheaper, it stops.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from halfsplit.model.arrays import Bools, Floats, Ints
from halfsplit.plan.thumb import Thumb

MOST_PLACES = 60
"""Places of one tree; each branch has its share by probability, and where there is less than one it ends."""

MOST_CHECKS = 48
"""Checks thought of below the top: those that leave least to pay when they come first."""

STOP, ASK_AGAIN = -1, -2
"""What a place has for an action where the job ends there, or the tree does."""

LIKELY = 0.5
"""A check that waits for a repair may be done where, once something was mended, it more likely than not can be."""

_TINY = 1e-12


@dataclass(frozen=True)
class Place:
    """One place of a tree.

    Args:
        action: what is done there, by its number, or STOP, or ASK_AGAIN.
        p: the chance to get there.
        cents: the expected cost from there on, in cents.
        branches: the results that are told apart, each with the place that comes after it; for a repair the one
            after a re-check that shows a fault.
    """

    action: int
    p: float
    cents: float
    branches: tuple[tuple[int, "Place"], ...] = ()


@dataclass(frozen=True)
class Grown:
    """A tree, with what it costs.

    Args:
        place: its top.
        cents: expected cost from the top on in each world, shape (K,).
    """

    place: Place
    cents: Floats


class Grower:
    """Grows trees in one situation.

    Args:
        thumb: the situation, with its rule of thumb.
        waits: check that waits for a repair -> P(it can be done | world), shape (K,).
    """

    def __init__(self, thumb: Thumb, waits: Mapping[str, Floats] | None = None) -> None:
        self.thumb = thumb
        self.likely: Ints | None = None
        names = [action.id for action in thumb.situation.actions]
        self._waiting = np.array([name in (waits or {}) for name in names], dtype=bool)
        self._can = np.array([(waits or {}).get(name, np.ones(thumb.worlds)) for name in names])

    def grow(
        self, weights: Floats, is_open: Bools, is_done: Bools, *, is_bad: bool = False, places: int = MOST_PLACES
    ) -> Grown:
        """Grow a tree.

        Args:
            weights: P(world) at its top, shape (K,); they need not add up to 1.
            is_open: the openings that are made, shape (O,).
            is_done: the actions that are done, shape (A,).
            is_bad: whether a re-check showed that something is wrong.
            places: the most places.
        """
        self.likely = None
        return self._grow(weights, is_open, is_done, is_bad=is_bad, is_mended=False, places=float(places))

    def after(
        self, action: int, weights: Floats, is_open: Bools, is_done: Bools, *, places: int = MOST_PLACES
    ) -> Grown:
        """Grow a tree that begins with one action, by its number; the others as in ``grow``."""
        self.likely = None
        return self._do(action, weights, is_open, is_done, is_mended=False, places=float(places))

    def _end(self, weights: Floats, is_bad: bool) -> tuple[Floats, float]:
        """Return what ending here costs by world, and on the whole."""
        if is_bad:
            end = np.full(self.thumb.worlds, self.thumb.situation.stopping)
        else:
            ends = (self.thumb.stop_open, self.thumb.replace)
            end = min(ends, key=lambda each: float(weights @ np.where(np.isfinite(each), each, 1e18)))
        return end, float(weights @ end)

    def _grow(
        self, weights: Floats, is_open: Bools, is_done: Bools, *, is_bad: bool, is_mended: bool, places: float
    ) -> Grown:
        end, stopped = self._end(weights, is_bad)
        p = float(weights.sum())
        leaf = Grown(Place(STOP, p, stopped), end)
        if p <= _TINY or not stopped:
            return leaf
        if places < 1.0:
            return self._ask_again(weights, p, is_bad=is_bad)
        action = self._next(weights, is_open, is_done | self._barred(weights, is_mended), is_bad, stopped)
        if action == STOP:
            return leaf
        grown = self._do(action, weights, is_open, is_done, is_mended=is_mended, places=places)
        return grown if grown.place.cents < stopped else leaf

    def _barred(self, weights: Floats, is_mended: bool) -> Bools:
        """Return the checks that wait for a repair still."""
        if not is_mended or not self._waiting.any():
            return self._waiting
        return np.asarray(self._waiting & (self._can @ weights < LIKELY * weights.sum()))

    def _do(
        self, action: int, weights: Floats, is_open: Bools, is_done: Bools, *, is_mended: bool, places: float
    ) -> Grown:
        """Grow a tree that begins with one action."""
        cost = self.thumb.cents[action] + float((self.thumb.chain[action] & ~is_open) @ self.thumb.opening_cents)
        done = is_done.copy()
        done[action] = True
        made = is_open | self.thumb.chain[action]
        made = made & self.thumb.stays if self.thumb.powers[action] else made
        if self.thumb.goes[action].any() or self.thumb.situation.actions[action].cures is not None:
            return self._mend(action, cost, weights, made, done, places)
        tells = self.thumb.situation.actions[action].tells
        assert tells is not None
        cents, branches = cost.copy(), []
        for result in np.argsort(-(weights @ tells), kind="stable"):
            told = weights * tells[:, result]
            share = (places - 1.0) * float(told.sum() / weights.sum())
            child = self._grow(told, made, done, is_bad=False, is_mended=is_mended, places=share)
            cents += tells[:, result] * child.cents
            branches.append((int(result), child.place))
        return Grown(Place(action, float(weights.sum()), float(weights @ cents), tuple(branches)), cents)

    def _mend(self, action: int, cost: Floats, weights: Floats, made: Bools, done: Bools, places: float) -> Grown:
        goes, into = self.thumb.goes[action], self.thumb.after[action]
        then = np.bincount(into, weights=weights * goes, minlength=self.thumb.worlds) + weights * (1.0 - goes)
        bad = then * self.thumb.p_shows
        share = (places - 1.0) * float(bad.sum() / weights.sum())
        child = self._grow(bad, made, done, is_bad=True, is_mended=True, places=share) if bad.sum() > _TINY else None
        end = self.thumb.situation.stopping if child is None else 0.0
        onward = np.full(self.thumb.worlds, end) if child is None else child.cents
        from_here = (
            self.thumb.p_shows * onward + (~self.thumb.clean - self.thumb.p_shows) * self.thumb.situation.comeback
        )
        cents = cost + goes * from_here[into] + (1.0 - goes) * from_here
        branches = () if child is None else ((0, child.place),)
        return Grown(Place(action, float(weights.sum()), float(weights @ cents), branches), cents)

    def _next(self, weights: Floats, is_open: Bools, is_done: Bools, is_bad: bool, stopped: float) -> int:
        """Return the action that leaves least to pay by the rule of thumb, or STOP."""
        guess = self.thumb.guess(weights, is_open, is_done, is_bad=is_bad, among=self.likely).total
        if self.likely is None:
            ranked = self.thumb.checks[np.argsort(guess[self.thumb.checks], kind="stable")]
            self.likely = np.union1d(ranked[:MOST_CHECKS], np.flatnonzero(self._waiting))
        best = int(guess.argmin()) if len(guess) else STOP
        return best if best != STOP and guess[best] < stopped else STOP

    def _ask_again(self, weights: Floats, p: float, *, is_bad: bool) -> Grown:
        """Return the end of a tree: what is left to pay by the rule of thumb, shared out over the worlds."""
        to_pay = self.thumb.by_thumb(weights, is_bad=is_bad)
        cents = self.thumb.known + (to_pay - float(weights @ self.thumb.known)) / p
        return Grown(Place(ASK_AGAIN, p, to_pay), cents)
