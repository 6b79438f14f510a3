"""The rule of thumb for large situations: what would be left to pay if it were known what is wrong, and so much a bit.

What a world would cost if it were known is a plain sum, and not knowing costs so many cents for each bit of doubt
about what would be done: worlds that need the same repairs, or are best given up, leave no doubt.  Both are concave in
what is believed, so a check is never worth less than nothing, and one that tells nothing is worth exactly nothing.
What it leaves out, that a wrong repair costs more than a bit, is looked at where it matters: a repair is held against
the checks with its own cost and with all that it leaves.
"""

from collections.abc import Collection, Mapping
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

COMMITS = 5_000.0
"""What costs more than this, in cents, commits money: a part, not a quarter of an hour (estimate)."""

PAYS_BACK = 1.0 / 3.0
"""What is cheap and pays back so much of its cost comes before money is committed (estimate)."""

NEAR_END = 0.8
"""An end comes among these where going on costs more than this share of it (estimate)."""

CLEARLY = 1.1
"""What saves less than a tenth more than it costs is as good as not worth it (estimate)."""

THOUGHT_OF = 16
"""Checks that are thought of as coming first after a result, those that are best now."""

LEAST_TOLD = 1e-2
"""Results less likely than this are not looked at so closely."""

_TINY = 1e-12


class Thumb:
    """A situation as tables for the rule of thumb: K worlds, A actions, O openings.

    Args:
        situation: what may be, and what can be done.
        after: for each repair the world that each world becomes when it works, shape (K,).
        ends: which faults are there in the worlds and in those that repairs make of them, shape (L, F); the K worlds
            come first.  None = repairs make none but the situation's own.
        proof: what it costs to prove that a mended machine holds, in cents.
        again: P(result | world) if nothing were done but to start it once more, shape (K, S), or None.
        starts: the checks that start it.  What that tells anyway, and is not worth a start by itself, is the credit of
            the best of them alone; the others have to tell more.

    Attributes:
        goes: P(the repair works | world), shape (A, K).
        after: the world that is then there, shape (A, K).
        known: what each world would cost if it were known, shape (L,).
        set_of: what would be done if it were known: equal numbers for the same repairs, shape (L,).
        cents_a_bit: what one bit of knowing what to do costs now, in cents.
    """

    def __init__(
        self,
        situation: Situation,
        after: Mapping[str, Ints],
        *,
        ends: Bools | None = None,
        proof: float = 0.0,
        again: Floats | None = None,
        starts: Collection[str] = (),
    ) -> None:
        self.situation = situation
        self.proof = proof
        actions = situation.actions
        faults = situation.faults if ends is None else ends
        worlds = len(situation.weights)
        self.worlds = worlds
        self.checks = np.array([n for n, action in enumerate(actions) if action.tells is not None], dtype=np.int64)
        self.repairs = np.array([n for n, action in enumerate(actions) if action.cures is not None], dtype=np.int64)
        shows = np.ones(faults.shape[1]) if situation.shows is None else situation.shows
        self.clean = ~faults.any(axis=1)
        self.p_shows = 1.0 - np.where(faults, 1.0 - shows, 1.0).prod(axis=1)
        at_end = situation.left_broken * self.p_shows + situation.comeback * (~self.clean - self.p_shows)
        self.stop_open = at_end  # nothing was re-checked yet: what does not show comes back
        self.replace = np.full(len(faults), situation.replacing)
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
        self.goes, self.after = self._mended(after, faults)
        self.columns, self.first = self._columns()
        self.known, self.set_of = self._if_known(faults)
        self.order = np.argsort(self.set_of[:worlds], kind="stable")
        self.tells = self._tells()
        self._again = again[self.order] if again is not None else None
        self._starts = np.array([action.id in starts for action in actions], dtype=bool)
        self._moves = {int(n): self._move(int(n)) for n in self.repairs}
        rows = self._rows(situation.weights)
        self._now = (
            self._branches(self.tells[rows.place] * rows.weights[:, None], rows) if self.tells is not None else None
        )
        self.cents_a_bit = self._bit()

    def _mended(self, after: Mapping[str, Ints], ends: Bools) -> tuple[Floats, Ints]:
        """Return, for each repair, P(it works | world) and the world that is then there; shapes (A, K)."""
        actions, faults = self.situation.actions, self.situation.faults
        goes = np.zeros((len(actions), self.worlds))
        into = np.tile(np.arange(self.worlds), (len(actions), 1))
        for n in self.repairs:
            cures = actions[n].cures
            assert cures is not None
            if actions[n].id not in after:
                continue
            into[n] = after[actions[n].id]
            columns = np.flatnonzero(cures > 0.0)
            gone = faults[:, columns] & ~ends[into[n]][:, columns]
            goes[n] = np.where(gone.any(axis=1), np.where(gone, cures[columns], 1.0).prod(axis=1), 0.0)
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

    def _tells(self) -> Floats | None:
        """Return P(result | world) of all checks side by side, the worlds in the order of their sets."""
        every = [self.situation.actions[n].tells for n in self.checks]
        tells = [each for each in every if each is not None]
        return np.concatenate(tells, axis=1)[self.order] if tells else None

    def _if_known(self, faults: Bools) -> tuple[Floats, Ints]:
        """Return what each world would cost if it were known, its cheapest repairs or stopping, and which these are.

        What one repair cures counts once.
        """
        full = self.cents.mean(axis=1) + self.chain @ self.opening_cents
        each = np.full(faults.shape[1], np.inf)
        which = -1 - np.arange(faults.shape[1])  # what nothing cures is a set of its own
        for n in self.repairs:
            cures = self.situation.actions[n].cures
            assert cures is not None
            with np.errstate(divide="ignore"):
                cost = np.where(cures > _TINY, full[n] / np.maximum(cures, _TINY), np.inf)
            which = np.where(cost < each, n, which)
            each = np.minimum(each, cost)
        cost = np.zeros(len(faults))
        done = np.zeros((len(faults), len(np.unique(which))), dtype=bool)
        for place, n in enumerate(np.unique(which)):
            columns = np.flatnonzero(which == n)
            own = np.where(faults[:, columns], each[columns], 0.0).max(axis=1)
            cost += own
            done[:, place] = own > 0.0
        stop = np.minimum(self.stop_open, self.replace)
        is_stop = ~self.clean & (cost + self.proof > stop)
        done[is_stop] = False
        packed = np.packbits(np.column_stack([is_stop, done]), axis=1)
        _, set_of = np.unique(packed.view(f"V{packed.shape[1]}").ravel(), return_inverse=True)
        known = np.where(self.clean, 0.0, np.minimum(cost + self.proof, stop))
        return np.asarray(known, dtype=np.float64), set_of.ravel()

    def _bit(self) -> float:
        """Return what one bit of knowing what to do costs now, in cents."""
        if self._now is None:
            return CENTS_A_BIT[1]
        bits = np.bincount(self.columns, weights=self._now.bits, minlength=len(self.cents))[self.checks]
        rows = self._rows(self.situation.weights)
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
        ordered = weights[self.order]
        place = np.flatnonzero(ordered > _TINY)
        order = self.order[place]
        starts = np.flatnonzero(np.r_[True, np.diff(self.set_of[order]) > 0]) if len(order) else place
        return _Rows(place, order, ordered[place], starts)

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
        if self.tells is not None and len(checks) and len(rows.order):
            spans = [self.first[n] for n in checks.tolist()]
            columns = np.concatenate([np.arange(span.start, span.stop) for span in spans])
            if self._now is not None and weights is self.situation.weights:
                branches = self._now.of(columns)
            else:
                branches = self._branches(self.tells[np.ix_(rows.place, columns)] * rows.weights[:, None], rows)
            to_pay = self._thumb(branches, is_bad=is_bad)
            guess[checks] = own[checks] + np.bincount(self.columns[columns], to_pay, len(self.cents))[checks]
            self._count_once(guess, own, checks[self._starts[checks]], rows, is_bad=is_bad)
        self._guess_repairs(weights, own, is_done, guess)
        return guess

    def _count_once(self, guess: Floats, own: Floats, starts: Ints, rows: "_Rows", *, is_bad: bool) -> None:
        """Take what starting it again tells anyway off all checks that start it, but for the best of them.

        Not where that alone is worth a start: then any of them will do.
        """
        if self._again is None or not len(starts):
            return
        told = self._again[rows.place] * rows.weights[:, None]
        without = float(self._thumb(self._branches(rows.weights[:, None], rows), is_bad=is_bad)[0])
        saves = max(0.0, without - float(self._thumb(self._branches(told, rows), is_bad=is_bad).sum()))
        if saves > CLEARLY * own[starts].min():
            return
        others = np.delete(starts, np.argmin(guess[starts]))
        guess[others] = np.minimum(guess[others] + saves, np.maximum(guess[others], own[others] + without))

    def _move(self, n: int) -> "_Move":
        """Return what a repair moves: the worlds, what they become, and the sets that gain or lose by it."""
        worlds = np.flatnonzero(self.goes[n])
        into = self.after[n, worlds]
        sets, place = np.unique(np.concatenate([self.set_of[worlds], self.set_of[into]]), return_inverse=True)
        return _Move(worlds, into, sets, place.ravel())

    def _guess_repairs(self, weights: Floats, own: Floats, is_done: Bools, guess: Floats) -> None:
        """Fill in what each repair leaves to pay: only the sums over what it moves are made anew."""
        worlds, many = self.worlds, int(self.set_of.max(initial=0)) + 1
        shown = np.stack([self.p_shows, 1.0 - self.p_shows])  # the re-check shows a fault, or is fine
        then = shown[:, :worlds] * weights
        sets = np.array([np.bincount(self.set_of[:worlds], weights=each, minlength=many) for each in then])
        logs = _x_log_x(sets)
        prices = np.stack([np.ones(len(self.known)), self.known, self.stop_open, ~self.clean * 1.0])
        sums = then @ prices[:, :worlds].T  # for bad and fine: its chance, cost if known, cost at the end, P(not clean)
        all_logs = logs.sum(axis=1)
        for n in self.repairs[~is_done[self.repairs]].tolist():
            move = self._moves[n]
            moved = weights[move.worlds] * self.goes[n, move.worlds]
            if not moved.any():
                continue
            gain, loss = shown[:, move.into] * moved, shown[:, move.worlds] * moved
            after = sums + gain @ prices[:, move.into].T - loss @ prices[:, move.worlds].T
            change = np.concatenate([-loss, gain], axis=1)
            new = sets[:, move.sets] + np.array(
                [np.bincount(move.place, weights=each, minlength=len(move.sets)) for each in change]
            )
            bits = all_logs + (_x_log_x(np.maximum(new, 0.0)) - logs[:, move.sets]).sum(axis=1)
            p, known, end, dirty = np.maximum(after, 0.0).T
            doubt = np.maximum(_x_log_x(p) - bits, 0.0)
            bad, fine = known + self.cents_a_bit * doubt
            bad = min(bad, p[0] * self.situation.stopping)
            fine = min(fine, end[1], p[1] * self.situation.replacing, self.situation.comeback * dirty[1])
            guess[n] = own[n] + bad + fine + self.proof * p[1]

    def by_thumb(self, weights: Floats, *, is_bad: bool = False) -> float:
        """Return what is left to pay by the rule of thumb, P(branch) x cents."""
        rows = self._rows(weights)
        if not len(rows.order):
            return 0.0
        return float(self._thumb(self._branches(rows.weights[:, None], rows), is_bad=is_bad)[0])

    def if_ended(self) -> Floats:
        """Return what it costs to do each check and to end the job after its likeliest result, shape (A,).

        After its other results it goes on by the rule of thumb.
        """
        cents = np.full(len(self.cents), np.inf)
        if self._now is not None:
            weights, now = self.situation.weights, self._now
            own = self.cents @ weights + (self.chain & ~self.open_now) @ self.opening_cents
            to_pay = self._thumb(now, is_bad=False)
            end = np.minimum(now.stop, now.p * self.situation.replacing)
            for n in self.checks.tolist():
                span = self.first[n]
                likeliest = span.start + int(now.p[span].argmax())
                cents[n] = own[n] + to_pay[span].sum() + end[likeliest] - to_pay[likeliest]
        return cents

    def _branches(self, told: Floats, rows: "_Rows") -> "_Branches":
        """Return what the rule of thumb needs to know of branches; ``told`` has their weights, shape (n, branches)."""
        prices = np.stack([self.known[rows.order], self.stop_open[rows.order], np.ones(len(rows.order))])
        known, stop, p = prices @ told
        return _Branches(known, stop, p, _bits(told, rows.starts))

    def _thumb(self, branches: "_Branches", *, is_bad: bool) -> Floats:
        """Return the rule of thumb for branches, P(branch) x cents."""
        to_pay = branches.known + self.cents_a_bit * branches.bits
        if is_bad:
            return np.asarray(np.minimum(to_pay, branches.p * self.situation.stopping), dtype=np.float64)
        end = np.minimum(branches.stop, branches.p * self.situation.replacing)
        return np.asarray(np.minimum(to_pay, end), dtype=np.float64)


def rank_by_thumb(thumb: Thumb) -> Ranking:
    """Rank everything that can be done next by the rule of thumb.

    Args:
        thumb: the situation.

    Returns:
        The ranking; the same for the same situation.  What saves less than it costs comes last, but for what makes
        ending the job cheaper by more than it costs.  What would come first after a result is asked of
        ``firsts_after``.
    """
    situation = thumb.situation
    weights, done = situation.weights, np.zeros(len(situation.actions), dtype=bool)
    total = thumb.guess(weights, thumb.open_now, done)
    without = thumb.by_thumb(weights)
    ends = [(HAND_BACK, float(weights @ thumb.stop_open[: thumb.worlds]))]
    if np.isfinite(situation.replacing):
        ends.append((REPLACE, situation.replacing))
    found = [Ranked(name, cents if name == REPLACE else 0.0, cents, 0.0) for name, cents in ends]
    own = thumb.cents @ weights + (thumb.chain & ~thumb.open_now) @ thumb.opening_cents
    for n, action in enumerate(situation.actions):
        if np.isfinite(total[n]):
            value = max(0.0, without - float(total[n]) + float(own[n]))
            found.append(Ranked(action.id, float(own[n]), float(total[n]), value, (action.id,)))
    least = min(cents for _, cents in ends)
    closes = {action.id for action, cents in zip(situation.actions, thumb.if_ended(), strict=True) if cents < least}
    found.sort(key=lambda each: _place(each, without, closes=each.id in closes))
    return Ranking(tuple(found), without, {})


def _place(each: Ranked, without: float, *, closes: bool) -> tuple[int, float, float, str]:
    """Return what decides the place of an action.

    First what pays for itself, by what is left to pay; so does what closes the job for less than an end at once, as a
    proof may.  Then all else by the share of its cost that it pays back, for an end what is left to pay without it; but
    before what commits money, or ends the job long before its time, comes all that is cheap and pays back enough.
    """
    if closes or each.total < without:
        return 0, round(each.total, 6), each.cents, each.id
    back = each.value / each.cents if each.parts and each.cents > 0.0 else without / max(each.total, _TINY)
    is_soon = back >= PAYS_BACK and each.cents <= COMMITS if each.parts else back >= NEAR_END
    return 1 if is_soon else 2, round(-back, 6), each.cents, each.id


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
            ends = {HAND_BACK: float(weights @ thumb.stop_open[: thumb.worlds]), REPLACE: p * situation.replacing}
            end = min(ends, key=lambda name: ends[name])
            best = int(guess.argmin()) if len(guess) else 0
            first = situation.actions[best].id if len(guess) and guess[best] < ends[end] else end
        found.append((p, first))
    return tuple(found)


@dataclass(frozen=True)
class _Rows:
    """Worlds in the order of their sets: where in that order, which, P(branch, world), and where each set begins."""

    place: Ints
    order: Ints
    weights: Floats
    starts: Ints


@dataclass(frozen=True)
class _Branches:
    """Of each branch, each times its chance: the cost if all were known, the cost of handing back, 1, and the bits."""

    known: Floats
    stop: Floats
    p: Floats
    bits: Floats

    def of(self, columns: Ints) -> "_Branches":
        return _Branches(self.known[columns], self.stop[columns], self.p[columns], self.bits[columns])


@dataclass(frozen=True)
class _Move:
    """The worlds that a repair may move, what they become, the sets of both, and which of these each is in."""

    worlds: Ints
    into: Ints
    sets: Ints
    place: Ints


def _bits(told: Floats, starts: Ints) -> Floats:
    """Return P(branch) x entropy of the set, in bits; ``told`` has shape (n, branches)."""
    sets = np.add.reduceat(told, starts, axis=0)
    bits = _x_log_x(told.sum(axis=0)) - _x_log_x(sets).sum(axis=0)
    return np.asarray(np.maximum(bits, 0.0))


def _x_log_x(x: Floats) -> Floats:
    """Return x log2 x, 0 at 0."""
    return np.asarray(x * np.log2(np.maximum(x, _TINY)))
