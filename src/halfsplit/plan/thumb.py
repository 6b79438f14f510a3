"""The rule of thumb for large situations: what is left to pay if one looks on, or mends without looking, or ends it.

What a world would cost if it were known is a plain sum, and not knowing costs so many cents for each bit of doubt
about what would be done: worlds that need the same repairs, or are best given up, leave no doubt.  Or one does without
looking: the repairs one after the other (``blind``).  Or one ends it.  The least of the three is what is left to pay.
All are concave in what is believed, so a check is never worth less than nothing, and one that tells nothing is worth
exactly nothing.  A bit costs more the less the best check tells for its cost, so that looking on is given up in time.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from halfsplit.model.arrays import Bools, Floats, Ints
from halfsplit.plan.blind import Blind
from halfsplit.plan.situation import Situation

LEAST_BIT = 400.0
"""What a bit of knowing what to do costs at least, in cents: four minutes of a bench (estimate)."""

NEXT_BIT = 2.0
"""The next bits cost so much more than those that the best check tells now.

An estimate, judged by playing out drawn situations: with 1 and with 4 they came out dearer (decision 31).
"""

MORE_THAN_NOT = 0.5
"""A repair that takes a fault away more often than this is thought of as one that may work on it."""

LEAST_CURED = 0.01
"""Where only the best is asked for, a repair that cures less often than this is none of those thought of."""

_TINY = 1e-12


class Thumb:
    """A situation as tables for the rule of thumb: K worlds, A actions, O openings.

    Args:
        situation: what may be, and what can be done.
        after: for each repair the world that each world becomes when it works, shape (K,).
        ends: which faults are there in the worlds and in those that repairs make of them, shape (L, F); the K worlds
            come first.  None = repairs make none but the situation's own.
        proof: what it costs to prove that a mended machine holds, in cents.
        due: what it costs to prove it as it is now; nothing goes back sound without.  None = the same, 0 where that
            was done since the last work on it.
        proves: the id of the check that proves it; its first result is that the machine holds.
        again: P(result | world) if nothing were done but to start it once more, shape (K, S), or None.
        starts: the checks that start it.  What that tells anyway is the credit of the best of them alone; the others
            have to tell more.

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
        due: float | None = None,
        proves: str = "",
        again: Floats | None = None,
        starts: Collection[str] = (),
    ) -> None:
        self.situation = situation
        self.proof = proof
        self.due = proof if due is None else due
        actions = situation.actions
        faults = situation.faults if ends is None else ends
        worlds = len(situation.weights)
        self.worlds = worlds
        self.checks = np.array([n for n, action in enumerate(actions) if action.tells is not None], dtype=np.int64)
        self.repairs = np.array([n for n, action in enumerate(actions) if action.cures is not None], dtype=np.int64)
        shows = np.ones(faults.shape[1]) if situation.shows is None else situation.shows
        self.clean: Bools = np.asarray(~faults.any(axis=1))
        self.p_shows = 1.0 - np.where(faults, 1.0 - shows, 1.0).prod(axis=1)
        at_end = situation.left_broken * self.p_shows + situation.comeback * (~self.clean - self.p_shows)
        self.stop_open = np.where(self.clean, self.due, at_end)  # what does not show comes back
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
        self.cents = np.empty((len(actions), worlds))
        for row, action in zip(self.cents, actions, strict=True):
            row[:] = action.cents
        self.goes, self.after = self._mended(after, faults)
        self.columns, self.first = self._columns()
        self._held = next((self.first[int(n)].start for n in self.checks if actions[n].id == proves), -1)
        self.known, self.set_of, self._blind = self._if_known(faults)
        self.order = np.argsort(self.set_of[:worlds], kind="stable")
        self.tells = self._tells()
        self._again = again[self.order] if again is not None else None
        self._starts = np.array([action.id in starts for action in actions], dtype=bool)
        self._moves = self._all_moves()
        rows = self._rows(situation.weights)
        self._now = self._branches(self._told(rows, slice(None)), rows) if self.tells is not None else None
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
            worlds = np.flatnonzero(into[n] != np.arange(self.worlds))
            gone = faults[worlds[:, None], columns] & ~ends[into[n, worlds][:, None], columns]
            some = gone.any(axis=1)
            goes[n, worlds[some]] = np.where(gone[some], cures[columns], 1.0).prod(axis=1)
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

    def _told(self, rows: "_Rows", columns: Ints | slice) -> Floats:
        """Return P(branch, result, world) of some columns of results, shape (n, columns)."""
        assert self.tells is not None
        tells = self.tells[:, columns]
        return np.asarray((tells if len(rows.place) == len(tells) else tells[rows.place]) * rows.weights[:, None])

    def _if_known(self, faults: Bools) -> tuple[Floats, Ints, Blind]:
        """Return what each world would cost if it were known, its cheapest repairs or stopping, and which these are.

        With them what it costs to do these repairs without looking.  What one repair cures counts once.
        """
        full = self.cents.mean(axis=1) + self.chain @ self.opening_cents
        each = np.full(faults.shape[1], np.inf)
        which = -1 - np.arange(faults.shape[1])  # what nothing cures is a set of its own
        every = [self.situation.actions[n].cures for n in self.repairs]
        if every:
            cures = np.array(every, dtype=np.float64)
            prices = np.where(cures > MORE_THAN_NOT, full[self.repairs, None] / np.maximum(cures, _TINY), np.inf)
            cheapest = prices.argmin(axis=0)
            each = prices[cheapest, np.arange(len(each))]
            which = np.where(np.isfinite(each), self.repairs[cheapest], which)
        cost = np.zeros(len(faults))
        repairs = np.unique(which)
        done = np.zeros((len(faults), len(repairs)), dtype=bool)
        for place, n in enumerate(repairs):
            columns = np.flatnonzero(which == n)
            own = np.where(faults[:, columns], each[columns], 0.0).max(axis=1)
            cost += own
            done[:, place] = own > 0.0
        stop = np.minimum(self.stop_open, self.replace)
        is_stop = ~self.clean & (cost + self.proof > stop)
        done[is_stop] = False
        packed = np.packbits(np.column_stack([is_stop, done]), axis=1)
        _, first, set_of = np.unique(packed.view(f"V{packed.shape[1]}").ravel(), return_index=True, return_inverse=True)
        known = np.where(self.clean, self.due, np.minimum(cost + self.proof, stop))
        cents = np.array([each[which == n].min() if n >= 0 else 0.0 for n in repairs])
        never = is_stop[first] | done[first][:, repairs < 0].any(axis=1)
        clean = ~never & ~done[first].any(axis=1)
        blind = Blind(done[first], cents, never, clean, self.proof, self.due, self.situation.stopping)
        return np.asarray(known, dtype=np.float64), set_of.ravel(), blind

    def _bit(self) -> float:
        """Return what one bit of knowing what to do costs now, in cents."""
        if self._now is None:
            return LEAST_BIT
        bits = np.bincount(self.columns, weights=self._now.bits, minlength=len(self.cents))[self.checks]
        rows = self._rows(self.situation.weights)
        gain = float(_bits(np.add.reduceat(rows.weights, rows.starts)[:, None])[0]) - bits
        own = (
            self.cents[self.checks] @ self.situation.weights
            + (self.chain[self.checks] & ~self.open_now) @ self.opening_cents
        )
        return max(LEAST_BIT, NEXT_BIT * float((own / np.maximum(gain, _TINY)).min()))

    def _rows(self, weights: Floats) -> "_Rows":
        ordered = weights[self.order]
        place = np.flatnonzero(ordered > _TINY)
        order = self.order[place]
        starts = np.flatnonzero(np.r_[True, np.diff(self.set_of[order]) > 0]) if len(order) else place
        return _Rows(place, order, ordered[place], starts)

    def guess(
        self, weights: Floats, is_open: Bools, is_done: Bools, *, is_bad: bool = False, among: Ints | None = None
    ) -> "Guess":
        """Return what each action leaves to pay by the rule of thumb.

        Args:
            weights: P(branch, world), shape (K,).
            is_open: the openings that are made, shape (O,).
            is_done: the actions that are done, shape (A,).
            is_bad: whether a re-check showed that something is wrong.
            among: the checks thought of; None = all.  Then only what comes first counts: of the repairs those are
                thought of that may well cure something, and cost no more than the best of these checks leaves to pay.
        """
        rows = self._rows(weights)
        p = float(rows.weights.sum())
        own = self.cents @ weights + p * ((self.chain & ~is_open) @ self.opening_cents)
        guess = np.full(len(self.cents), np.inf)
        checks = self.checks if among is None else among
        checks = checks[~is_done[checks]]
        spans = [self.first[n] for n in checks.tolist()]
        columns = np.concatenate([np.arange(0), *(np.arange(span.start, span.stop) for span in spans)])
        now = self._now if weights is self.situation.weights else None
        as_it_is, again, told = self._asked(rows, columns if now is None else None)
        if now is not None:
            told = now.of(columns)
        without = float(self._thumb(as_it_is, is_bad=False)[0])
        seen = float(self._thumb(as_it_is, is_bad=is_bad)[0])
        if len(columns) and len(rows.order):
            to_pay = np.where(columns == self._held, self._if_held(rows), self._thumb(told, is_bad=is_bad))
            guess[checks] = own[checks] + np.bincount(self.columns[columns], to_pay, len(self.cents))[checks]
            told_anyway = max(0.0, seen - float(self._thumb(again, is_bad=is_bad).sum()))
            self._count_once(guess, own, checks[self._starts[checks]], seen, told_anyway)
        repairs = self.repairs[~is_done[self.repairs]]
        if among is not None:
            saves = (guess[checks] < seen + own[checks]) & (guess[checks] <= seen)
            repairs = repairs[own[repairs] <= guess[checks][saves].min(initial=np.inf)]
        self._guess_repairs(weights, own, repairs, guess, without, 0.0 if among is None else LEAST_CURED * p)
        return Guess(guess, own, without)

    def _if_held(self, rows: "_Rows") -> float:
        """Return what is left to pay where the proof held, P(it holds) x cents: no proof is due then."""
        if self._held < 0 or self.tells is None:
            return 0.0
        told = self.tells[rows.place, self._held] * rows.weights
        clean = float(told @ self.clean[rows.order])
        known = float(told @ self.known[rows.order]) - self.due * clean
        look_on = known + self.cents_a_bit * float(_bits(np.add.reduceat(told, rows.starts)[:, None])[0])
        return min(look_on, self.situation.comeback * (float(told.sum()) - clean))

    def _asked(self, rows: "_Rows", columns: Ints | None) -> "tuple[_Branches, _Branches, _Branches]":
        """Return the branch as it is, its results if it were only started again, and those of some columns."""
        own = rows.weights[:, None]
        again = own if self._again is None else self._again[rows.place] * own
        told = own[:, :0] if self.tells is None or columns is None else self._told(rows, columns)
        parts = (own, again, told)
        every = self._branches(np.concatenate(parts, axis=1), rows)
        ends = np.cumsum([0, *(part.shape[1] for part in parts)])
        first, second, third = (every.of(np.arange(begin, end)) for begin, end in pairwise(ends.tolist()))
        return first, second, third

    def _count_once(self, guess: Floats, own: Floats, starts: Ints, without: float, told_anyway: float) -> None:
        """Take what starting it again tells anyway off all checks that start it, but for the best of them."""
        if self._again is None or not len(starts):
            return
        others = np.delete(starts, np.argmin(guess[starts]))
        guess[others] = np.minimum(guess[others] + told_anyway, np.maximum(guess[others], own[others] + without))

    def _all_moves(self) -> "_Moves":
        """Return what all repairs move, one after the other."""
        repair, world = np.nonzero(self.goes[self.repairs])
        into = self.after[self.repairs[repair], world]
        return _Moves(repair, world, into, self.goes[self.repairs[repair], world])

    def _guess_repairs(
        self, weights: Floats, own: Floats, thought_of: Ints, guess: Floats, without: float, least: float
    ) -> None:
        """Fill in what each repair leaves to pay: only the sums over what it moves are made anew.

        What its re-check would tell anyway, had nothing been done, is no credit of the repair.
        """
        worlds, many = self.worlds, int(self.set_of.max(initial=0)) + 1
        shown = np.stack([self.p_shows, 1.0 - self.p_shows])  # the re-check shows a fault, or is fine
        then = shown[:, :worlds] * weights
        sets = np.array([np.bincount(self.set_of[:worlds], weights=each, minlength=many) for each in then])
        prices = np.stack([np.ones(len(self.known)), self.known, self.stop_open, ~self.clean * 1.0])
        sums = then @ prices[:, :worlds].T  # for bad and fine: its chance, cost if known, cost at the end, P(not clean)
        moves = self._moves
        moved = weights[moves.world] * moves.goes
        cured = np.bincount(moves.repair, moved, len(self.repairs))
        asked = np.isin(self.repairs, thought_of) & (cured > 0.0) & (cured >= least)
        repairs, lines = self.repairs[asked], np.flatnonzero(asked[moves.repair])
        # the first is to do nothing and start it once more
        turn, world, into, moved = (
            np.cumsum(asked)[moves.repair[lines]],
            moves.world[lines],
            moves.into[lines],
            moved[lines],
        )
        gain, loss = shown[:, into] * moved, shown[:, world] * moved
        after = np.tile(sums, (len(repairs) + 1, 1, 1))
        by_set = np.tile(sets, (len(repairs) + 1, 1, 1))
        for row in range(2):
            for n, price in enumerate(prices):
                after[:, row, n] += np.bincount(turn, gain[row] * price[into] - loss[row] * price[world], len(after))
            for worlds_of, change in ((world, -loss[row]), (into, gain[row])):
                place = turn * many + self.set_of[worlds_of]
                by_set[:, row] += np.bincount(place, change, len(after) * many).reshape(-1, many)
        p, known, end, dirty = np.maximum(after, 0.0).transpose(2, 0, 1)
        told = np.maximum(by_set, 0.0).reshape(-1, many).T
        kinds = np.flatnonzero(told.any(axis=1))
        told = told[kinds]
        to_pay = np.minimum(
            known + self.cents_a_bit * _bits(told).reshape(p.shape), self._blind.cost(told, kinds).reshape(p.shape)
        )
        bad = np.minimum(to_pay[:, 0], p[:, 0] * self.situation.stopping)
        can_replace = np.isfinite(self.situation.replacing)
        ends = np.minimum(end[:, 1], p[:, 1] * self.situation.replacing) if can_replace else end[:, 1]
        proved = self.proof * p[:, 1] + self.situation.comeback * dirty[:, 1]
        left = bad + np.minimum(np.minimum(to_pay[:, 1], ends), proved)
        told_anyway = max(0.0, without - float(left[0]))
        guess[repairs] = own[repairs] + np.minimum(left[1:] + told_anyway, np.maximum(left[1:], without))

    def by_thumb(self, weights: Floats, *, is_bad: bool = False) -> float:
        """Return what is left to pay by the rule of thumb, P(branch) x cents."""
        rows = self._rows(weights)
        return float(self._thumb(self._branches(rows.weights[:, None], rows), is_bad=is_bad)[0])

    def _branches(self, told: Floats, rows: "_Rows") -> "_Branches":
        """Return what the rule of thumb needs to know of branches; ``told`` has their weights, shape (n, branches)."""
        if not len(rows.order):
            nothing = np.zeros(told.shape[1])
            return _Branches(nothing, nothing, nothing, nothing, nothing)
        prices = np.stack([self.known[rows.order], self.stop_open[rows.order], np.ones(len(rows.order))])
        known, stop, p = prices @ told
        sets = np.add.reduceat(told, rows.starts, axis=0)
        return _Branches(known, stop, p, _bits(sets), self._blind.cost(sets, self.set_of[rows.order[rows.starts]]))

    def _thumb(self, branches: "_Branches", *, is_bad: bool) -> Floats:
        """Return the rule of thumb for branches, P(branch) x cents."""
        to_pay = np.minimum(branches.known + self.cents_a_bit * branches.bits, branches.blind)
        if is_bad:
            return np.asarray(np.minimum(to_pay, branches.p * self.situation.stopping), dtype=np.float64)
        end = np.minimum(branches.stop, branches.p * self.situation.replacing)
        return np.asarray(np.minimum(to_pay, end), dtype=np.float64)


@dataclass(frozen=True)
class Guess:
    """What is left to pay in a branch by the rule of thumb, each times its chance, in cents.

    Args:
        total: after each action, its own cost included, shape (A,); infinity for what is done or changes nothing.
        own: what each action costs by itself, getting to it included, shape (A,).
        without: as things are.
    """

    total: Floats
    own: Floats
    without: float


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
    blind: Floats

    def of(self, columns: Ints) -> "_Branches":
        known, stop, p = self.known[columns], self.stop[columns], self.p[columns]
        return _Branches(known, stop, p, self.bits[columns], self.blind[columns])


@dataclass(frozen=True)
class _Moves:
    """The worlds that repairs may move: the repair by its place, the world, what it becomes, P(it works | world)."""

    repair: Ints
    world: Ints
    into: Ints
    goes: Floats


def _bits(sets: Floats) -> Floats:
    """Return P(branch) x entropy of the set, in bits, for P(branch, set), shape (sets, branches)."""
    bits = _x_log_x(sets.sum(axis=0)) - _x_log_x(sets).sum(axis=0)
    return np.asarray(np.maximum(bits, 0.0))


def _x_log_x(x: Floats) -> Floats:
    """Return x log2 x, 0 at 0."""
    return np.asarray(x * np.log2(np.maximum(x, _TINY)))
