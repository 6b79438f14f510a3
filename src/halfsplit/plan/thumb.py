"""The rule of thumb for large situations: what would be left to pay if it were known what is wrong, and so much a bit.

What a world would cost if it were known is a plain sum, and not knowing costs so many cents for each bit of doubt
about which faults are there.  Both are concave in what is believed, so a check is never worth less than nothing, and
one that tells nothing is worth exactly nothing.  What it leaves out, that a wrong repair costs more than a bit, is
looked at where it matters: a repair is held against the checks with its own cost and with all that it leaves.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from halfsplit.plan.lookahead import Ranked, Ranking
from halfsplit.plan.situation import HAND_BACK, REPLACE, Bools, Floats, Situation
from halfsplit.plan.tables import Ints

CHEAPEST = 8
"""What a bit costs is the median over so many checks that tell most for their cost ..."""

LEAST_BITS = 0.05
"""... of those that tell at least so much."""

CENTS_A_BIT = (200.0, 1_000.0)
"""And it lies between these, in cents: two to ten minutes of a bench (estimate)."""

THOUGHT_OF = 24
"""Checks that are thought of as coming first after a result, those that are best now."""

LEAST_TOLD = 5e-3
"""Results less likely than this are not looked at so closely."""

_TINY = 1e-12


class Thumb:
    """A situation as tables for the rule of thumb: K worlds, A actions, O openings.

    Args:
        situation: what may be, and what can be done.
        after: for each repair the world that each world becomes when it works, shape (K,).
        proof: what it costs to prove that a mended machine holds, in cents.

    Attributes:
        goes: P(the repair works | world), shape (A, K).
        after: the world that is then there, shape (A, K).
        known: what each world would cost if it were known, shape (K,).
        cents_a_bit: what one bit of knowing costs now, in cents.
    """

    def __init__(self, situation: Situation, after: Mapping[str, Ints], *, proof: float = 0.0) -> None:
        self.situation = situation
        self.proof = proof
        actions, faults = situation.actions, situation.faults
        worlds = len(situation.weights)
        self.worlds = worlds
        self.checks = np.array([n for n, action in enumerate(actions) if action.tells is not None], dtype=np.int64)
        self.repairs = np.array([n for n, action in enumerate(actions) if action.cures is not None], dtype=np.int64)
        shows = np.ones(faults.shape[1]) if situation.shows is None else situation.shows
        self.clean = ~faults.any(axis=1)
        self.p_shows = 1.0 - np.where(faults, 1.0 - shows, 1.0).prod(axis=1)
        at_end = situation.left_broken * self.p_shows + situation.comeback * (~self.clean - self.p_shows)
        self.stop_open = at_end  # nothing was re-checked yet: what does not show comes back
        self.replace = np.full(worlds, situation.replacing)
        place = {opening.id: n for n, opening in enumerate(situation.openings)}
        self.opening_cents = np.array([opening.cents for opening in situation.openings])
        self.stays = np.array([opening.stays for opening in situation.openings], dtype=bool)
        self.open_now = np.array([opening.id in situation.open_now for opening in situation.openings], dtype=bool)
        self.chain = np.zeros((len(actions), len(place)), dtype=bool)
        inside = {opening.id: opening.inside for opening in situation.openings}
        for n, action in enumerate(actions):
            name = action.opening
            while name:
                self.chain[n, place[name]] = True
                name = inside[name]
        self.powers = np.array([action.powers for action in actions], dtype=bool)
        self.cents = np.array([np.broadcast_to(action.cents, worlds) for action in actions])
        self.goes, self.after = self._mended(after)
        self.columns, self.first = self._columns()
        self.tells = np.concatenate([actions[n].tells for n in self.checks], axis=1) if len(self.checks) else None
        _, set_of = np.unique(faults, axis=0, return_inverse=True)
        self.set_of = set_of.ravel()
        self.known = self._if_known()
        self.cents_a_bit = self._bit()

    def _mended(self, after: Mapping[str, Ints]) -> tuple[Floats, Ints]:
        """Return, for each repair, P(it works | world) and the world that is then there; shapes (A, K)."""
        actions, faults = self.situation.actions, self.situation.faults
        goes = np.zeros((len(actions), self.worlds))
        into = np.tile(np.arange(self.worlds), (len(actions), 1))
        for n in self.repairs:
            cures = actions[n].cures
            assert cures is not None
            touched = faults & (cures > 0.0)
            goes[n] = np.where(touched.any(axis=1), np.where(touched, cures, 1.0).prod(axis=1), 0.0)
            if actions[n].id in after:
                into[n] = after[actions[n].id]
        return goes, into

    def _columns(self) -> tuple[Ints, dict[int, slice]]:
        """Return which check each column of results is of, and the columns of each check."""
        of: list[int] = []
        first = {}
        for n in self.checks:
            tells = self.situation.actions[n].tells
            assert tells is not None
            first[int(n)] = slice(len(of), len(of) + tells.shape[1])
            of += [int(n)] * tells.shape[1]
        return np.array(of, dtype=np.int64), first

    def _if_known(self) -> Floats:
        """Return what each world would cost if it were known: its cheapest repairs, or stopping; shape (K,)."""
        each = np.full(self.situation.faults.shape[1], np.inf)
        full = self.cents.mean(axis=1) + self.chain @ self.opening_cents
        for n in self.repairs:
            cures = self.situation.actions[n].cures
            assert cures is not None
            with np.errstate(divide="ignore"):
                each = np.minimum(each, np.where(cures > _TINY, full[n] / np.maximum(cures, _TINY), np.inf))
        stop = np.minimum(self.stop_open, self.replace)
        cost: Floats = np.where(self.situation.faults, each, 0.0).sum(axis=1)
        return np.asarray(np.where(self.clean, 0.0, np.minimum(cost + self.proof, stop)))

    def _bit(self) -> float:
        """Return what one bit of knowing which faults are there costs now, in cents."""
        if self.tells is None:
            return CENTS_A_BIT[1]
        rows = self._rows(self.situation.weights)
        told = self.tells[rows.order] * rows.weights[:, None]
        bits = np.bincount(self.columns, weights=_bits(told, rows.starts), minlength=len(self.cents))[self.checks]
        gain = float(_bits(rows.weights[:, None], rows.starts)[0]) - bits
        own = (
            self.cents[self.checks] @ self.situation.weights
            + (self.chain[self.checks] & ~self.open_now) @ self.opening_cents
        )
        tells = gain >= LEAST_BITS
        if not tells.any():
            return CENTS_A_BIT[1]
        return float(np.clip(np.median(np.sort(own[tells] / gain[tells])[:CHEAPEST]), *CENTS_A_BIT))

    def _rows(self, weights: Floats) -> "_Rows":
        here = np.flatnonzero(weights > _TINY)
        order = here[np.argsort(self.set_of[here], kind="stable")]
        starts = np.flatnonzero(np.r_[True, np.diff(self.set_of[order]) > 0])
        return _Rows(order, weights[order], starts)

    def guess(
        self, weights: Floats, is_open: Bools, is_done: Bools, *, is_bad: bool = False, among: Ints | None = None
    ) -> Floats:
        """Return what each action leaves to pay by the rule of thumb, its own cost included, shape (A,).

        Args:
            weights: P(branch, world), shape (K,).
            is_open: the openings that are made, shape (O,).
            is_done: the actions that are done, shape (A,).
            is_bad: whether a re-check showed that something is wrong.
            among: the checks thought of; None = all.

        Returns:
            P(branch) x cents; infinity for what is done or changes nothing.
        """
        rows = self._rows(weights)
        p = float(rows.weights.sum())
        own = self.cents[:, rows.order] @ rows.weights + p * ((self.chain & ~is_open) @ self.opening_cents)
        guess = np.full(len(self.cents), np.inf)
        checks = self.checks if among is None else among
        checks = checks[~is_done[checks]]
        if self.tells is not None and len(checks):
            columns = np.concatenate([np.arange(self.first[n].start, self.first[n].stop) for n in checks.tolist()])
            told = self.tells[np.ix_(rows.order, columns)] * rows.weights[:, None]
            to_pay = self._thumb(told, rows, is_bad=is_bad)
            guess[checks] = own[checks] + np.bincount(self.columns[columns], to_pay, len(self.cents))[checks]
        for n in self.repairs[~is_done[self.repairs]]:
            goes = self.goes[n, rows.order]
            if goes.any():
                then = np.bincount(self.after[n, rows.order], weights=rows.weights * goes, minlength=self.worlds)
                then[rows.order] += rows.weights * (1.0 - goes)
                bad, fine = self._rows(then * self.p_shows), self._rows(then * (1.0 - self.p_shows))
                guess[n] = own[n] + self._one(bad, is_bad=True) + self._one(fine, is_fine=True)
        return guess

    def by_thumb(self, weights: Floats, *, is_bad: bool = False) -> float:
        """Return what is left to pay by the rule of thumb, P(branch) x cents."""
        return self._one(self._rows(weights), is_bad=is_bad)

    def _one(self, rows: "_Rows", *, is_bad: bool = False, is_fine: bool = False) -> float:
        """Return the rule of thumb for one branch; of one in which a re-check was fine with the proof of that."""
        if not len(rows.order):
            return 0.0
        to_pay = float(self._thumb(rows.weights[:, None], rows, is_bad=is_bad)[0])
        if is_fine:
            to_pay = min(to_pay, self.situation.comeback * float(rows.weights @ (1.0 - self.clean[rows.order])))
            to_pay += self.proof * float(rows.weights.sum())
        return to_pay

    def _thumb(self, told: Floats, rows: "_Rows", *, is_bad: bool) -> Floats:
        """Return the rule of thumb for branches, P(branch) x cents; ``told`` has their weights, shape (n, branches)."""
        p = told.sum(axis=0)
        to_pay = self.known[rows.order] @ told + self.cents_a_bit * _bits(told, rows.starts)
        stopping = self.situation.stopping if is_bad else self.situation.replacing
        end = p * stopping if is_bad else np.minimum(self.stop_open[rows.order] @ told, p * stopping)
        return np.asarray(np.minimum(to_pay, end), dtype=np.float64)


def rank_by_thumb(thumb: Thumb) -> Ranking:
    """Rank everything that can be done next by the rule of thumb.

    Args:
        thumb: the situation.

    Returns:
        The ranking; the same for the same situation.  Checks that save less than they cost come last.  What would
        come first after a result is asked of ``firsts_after``.
    """
    situation = thumb.situation
    weights, done = situation.weights, np.zeros(len(situation.actions), dtype=bool)
    total = thumb.guess(weights, thumb.open_now, done)
    without = thumb.by_thumb(weights)
    ends = [(HAND_BACK, float(weights @ thumb.stop_open))]
    if np.isfinite(situation.replacing):
        ends.append((REPLACE, situation.replacing))
    found = [Ranked(name, cents if name == REPLACE else 0.0, cents, 0.0) for name, cents in ends]
    tells = {action.id for action in situation.actions if action.tells is not None}
    own = thumb.cents @ weights + (thumb.chain & ~thumb.open_now) @ thumb.opening_cents
    for n, action in enumerate(situation.actions):
        if np.isfinite(total[n]):
            value = max(0.0, without - float(total[n]) + float(own[n]))
            found.append(Ranked(action.id, float(own[n]), float(total[n]), value, (action.id,)))
    idle = {each.id for each in found if each.id in tells and each.value <= each.cents > 0.0}
    found.sort(key=lambda each: (each.id in idle, round(each.total, 6), each.cents, each.id))
    return Ranking(tuple(found), without, {})


def firsts_after(thumb: Thumb, ranking: Ranking, name: str) -> tuple[tuple[float, str], ...]:
    """Return what would come first after each result of a check, with P(result).

    Args:
        thumb: the situation.
        ranking: its ranking; the checks that are best now are thought of.
        name: the check's id.
    """
    situation = thumb.situation
    number = {action.id: n for n, action in enumerate(situation.actions)}
    check = number[name]
    tells = situation.actions[check].tells
    assert tells is not None
    ids = [
        each.id for each in ranking.ranked if each.id in number and situation.actions[number[each.id]].tells is not None
    ]
    among = np.array([number[each] for each in ids[:THOUGHT_OF]], dtype=np.int64)
    done = np.zeros(len(situation.actions), dtype=bool)
    done[check] = True
    made = thumb.open_now | thumb.chain[check]
    made = made & thumb.stays if thumb.powers[check] else made
    found = []
    for result in tells.T:
        weights = situation.weights * result
        p = float(weights.sum())
        first = HAND_BACK
        if p >= LEAST_TOLD:
            guess = thumb.guess(weights, made, done, among=among)
            ends = {HAND_BACK: float(weights @ thumb.stop_open), REPLACE: p * situation.replacing}
            end = min(ends, key=lambda name: ends[name])
            best = int(guess.argmin()) if len(guess) else 0
            first = situation.actions[best].id if len(guess) and guess[best] < ends[end] else end
        found.append((p, first))
    return tuple(found)


@dataclass(frozen=True)
class _Rows:
    """Worlds in the order of their sets of faults: which, P(branch, world), and where each set begins."""

    order: Ints
    weights: Floats
    starts: Ints


def _bits(told: Floats, starts: Ints) -> Floats:
    """Return P(branch) x entropy of the set of faults, in bits; ``told`` has shape (n, branches)."""
    p = told.sum(axis=0)
    sets = np.add.reduceat(told, starts, axis=0)
    bits = p * np.log2(np.maximum(p, _TINY)) - (sets * np.log2(np.maximum(sets, _TINY))).sum(axis=0)
    return np.asarray(np.maximum(bits, 0.0))
