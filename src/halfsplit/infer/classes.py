"""The classes of one run: totals that no completion can tell apart, coded so that joining is an OR.

The totals of one run form a commutative, idempotent monoid: join = earliest stop, union of shown, union of
hidden.  Two totals x and y are one *class* when every z that the book can still add gives
``weight(x join z) == weight(y join z)``.  That relation is a congruence, so the classes form a monoid of
their own, with one absorbing *dead* class at most: the one that no completion can save.  Where the report may be void,
that class weighs a little, and lives like the others.

A class x is coded as the set of those classes m for which x is not below m.  Then
``code(x join y) == code(x) | code(y)``, and a join is dead exactly when all bits are set, because a living
class is below at least one maximal living class.
"""

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from halfsplit.errors import TooManySignsError
from halfsplit.model.arrays import Bools, Floats, Ints
from halfsplit.model.evidence import NOTHING, Effect, Reading
from halfsplit.model.ladder import NO_STOP

DEAD = -1
NEVER = -1


MAX_TOTALS = 1_000_000
"""Totals of one run that are told apart; it takes some 30 s and 500 MB then."""

WORD_BITS = 48
"""Bits of codes in one machine word, which a code goes into with the mark of the dead; the rest holds a node."""

_ALWAYS = (0, 0, ())  # visible wherever it is shown


class Run:
    """The classes of one run of a reading.

    Raises:
        TooManySignsError: its signs part it into more ways than can be weighed.
    """

    def __init__(self, reading: Reading, effects: Sequence[Effect], size: int) -> None:
        self.size = size
        self.reading = reading
        self._stops(effects)
        self._signs(effects)
        self._factors = [
            (sign, _spread_out(sign.if_visible, size), _spread_out(sign.if_not, size)) for sign in reading.signs
        ]
        single = reading.base[0][1] if len(reading.base) == 1 else NOTHING
        every = [*effects, NOTHING]
        self._dtype = np.dtype(np.int64 if self._bits_of_total <= 63 else object)
        start = self._alive(self._as_totals([single]))
        each = self._alive(start | self._as_totals(every))
        totals, follow = self._reach(start, each)
        weights = self._weights(totals)
        label = _classes(weights, follow)
        self._code(totals, weights, label, int(label[np.searchsorted(totals, start[0])]))
        codes = self._code_of_class[label[np.searchsorted(totals, each)]]
        self.code_of = dict(zip(every, codes.tolist(), strict=True))

    def _stops(self, effects: Sequence[Effect]) -> None:
        """Merge neighbouring stops that weigh alike and let the same signs show."""
        reading = self.reading
        self.stop_index: dict[int, int] = {}
        self.stop_weights: list[Floats] = []
        self.stop_at: list[int] = []
        before: tuple[object, ...] | None = None
        for stop in sorted(
            {effect.stop for effect in effects} | {effect.stop for _, effect in reading.base} | {NO_STOP}
        ):
            weights = _spread_out(reading.stop_weights.get(stop, reading.other_stops), self.size)
            reached = tuple(
                (stop >= sign.needs_stop, *(stop >= needs for _, needs in sign.screen_needs)) for sign in reading.signs
            )
            now = (weights.tobytes(), reached)
            if now != before:
                self.stop_weights.append(weights)
                self.stop_at.append(stop)
                before = now
            self.stop_index[stop] = len(self.stop_at) - 1
        self.stop_bits = len(self.stop_at) - 1  # a thermometer: bit i is set when the stop is at or before i
        possible = [i for i, weights in enumerate(self.stop_weights) if weights.any()]
        self.first_possible = possible[0] if possible else len(self.stop_at)

    def _signs(self, effects: Sequence[Effect]) -> None:
        """Give a bit to each sign that matters: one for shown, one for hidden where something can hide it.

        Signs that must not be visible and are visible under the same condition share one bit: which of them was shown
        makes no difference.
        """
        matter = must_show = screens = 0
        for sign in self.reading.signs:
            matter |= 1 << sign.bit | sign.screens
            screens |= sign.screens
            if not np.any(sign.if_not):
                must_show |= 1 << sign.bit
        can_show = can_hide = 0
        for effect in [*effects, *(effect for _, effect in self.reading.base)]:
            can_show |= effect.shown
            can_hide |= effect.hidden
        alike = self._forbidden(can_hide | screens)
        place_of: dict[object, int] = {}
        self.shown_at: dict[int, int] = {}
        self.hidden_at: dict[int, int] = {}
        at = self.stop_bits
        for bit in range(matter.bit_length()):
            if not (matter & can_show) >> bit & 1:
                continue
            key = alike.get(bit, bit)
            self.shown_at[bit] = place_of.setdefault(key, at)
            at += self.shown_at[bit] == at
            if can_hide >> bit & 1:
                self.hidden_at[bit] = at
                at += 1
        self.fatal = sum(1 << place for bit, place in self.hidden_at.items() if must_show >> bit & 1)
        always = {self.shown_at[bit] for bit, key in alike.items() if bit in self.shown_at and key == _ALWAYS}
        self.fatal |= sum(1 << place for place in always)
        self.covers = [(1 << place, 1 << self.shown_at[bit]) for bit, place in self.hidden_at.items()]
        self._bits_of_total = at

    def _forbidden(self, other: int) -> dict[int, tuple[object, ...]]:
        """Return the signs that must not be visible, but for those of ``other`` -> when one is, if it is shown."""
        asked = [sign.bit for sign in self.reading.signs]
        found: dict[int, tuple[object, ...]] = {}
        for sign in self.reading.signs:
            if np.any(sign.if_visible) or other >> sign.bit & 1 or asked.count(sign.bit) > 1:
                continue
            # among the stops that can still be had
            reached = sum(stop < sign.needs_stop for stop in self.stop_at[self.first_possible :])
            found[sign.bit] = (reached, sign.screens, sign.screen_needs)
        return found

    def _as_totals(self, effects: Sequence[Effect]) -> Ints:
        return np.array([self._total(effect) for effect in effects], dtype=self._dtype)

    def _total(self, effect: Effect) -> int:
        index = self.stop_index[effect.stop]
        total = (1 << self.stop_bits) - (1 << index) if index < self.stop_bits else 0
        for bit, place in self.shown_at.items():
            total |= (effect.shown >> bit & 1) << place
        for bit, place in self.hidden_at.items():
            total |= (effect.hidden >> bit & 1) << place
        return total

    def _stop_of(self, totals: Ints) -> Ints:
        """Return the index of the stop of each total."""
        whole = 1 << self.stop_bits
        thermometer = np.array([whole - (1 << n) for n in range(self.stop_bits, -1, -1)], dtype=self._dtype)
        return self.stop_bits - np.searchsorted(thermometer, totals & (whole - 1))

    def _alive(self, totals: Ints) -> Ints:
        """Return totals without what no longer matters, and DEAD where it is plain that nothing can save one.

        The stop only falls, and what is hidden stays so.
        """
        dead: Bools = (totals == DEAD) | (self._stop_of(totals) < self.first_possible) | ((totals & self.fatal) != 0)
        for hidden, shown in self.covers:
            totals = np.where((totals & hidden) != 0, totals & ~shown, totals)
        return np.where(dead, DEAD, totals)

    def _weights(self, totals: Ints) -> Floats:
        """Return the weight of each total, shape (totals, size)."""
        index = self._stop_of(totals)
        stop = np.array(self.stop_at)[index]
        weights = np.array(self.stop_weights)[index]
        for sign, if_visible, if_not in self._factors:
            visible = self._shows(totals, sign.bit) & (stop >= sign.needs_stop)
            if sign.screens:
                screens = [self._shows(totals, bit) & (stop >= needs) for bit, needs in sign.screen_needs]
                visible &= np.logical_or.reduce(screens, axis=0)
            weights = weights * np.where(visible[:, None], if_visible, if_not)
        weights = np.where((totals == DEAD)[:, None], 0.0, weights)
        return np.asarray((1.0 - self.reading.p_void) * weights + self.reading.least)

    def _shows(self, totals: Ints, bit: int) -> Bools:
        shown = np.zeros(len(totals), dtype=bool)
        if bit in self.shown_at:
            shown = (totals & (1 << self.shown_at[bit])) != 0
            if bit in self.hidden_at:
                shown &= (totals & (1 << self.hidden_at[bit])) == 0
        return shown

    def _reach(self, start: Ints, each: Ints) -> tuple[Ints, NDArray[np.int32]]:
        """Return every total that can be reached, in order, and for each letter and each of them which one follows.

        The letters are those totals of one effect that are not joins of others: the others only lead where these do.
        """
        letters: Ints = np.array(_irreducible({*each.tolist()} - {int(start[0]), DEAD}), dtype=self._dtype)
        totals: Ints = np.unique(np.concatenate([start, each[each == DEAD]]))
        fresh = start
        while len(fresh) and len(letters):  # one letter at a time: all at once take many times the room
            after: Ints = np.unique(np.concatenate([np.unique(self._alive(fresh | letter)) for letter in letters]))
            fresh = after[~_among(after, totals)]
            totals = np.sort(np.concatenate([totals, fresh]))
            if len(totals) > MAX_TOTALS:
                raise TooManySignsError(self.reading.id, MAX_TOTALS)
        follow = np.empty((len(letters), len(totals)), dtype=np.int32)
        for row, letter in zip(follow, letters, strict=True):
            row[:] = np.searchsorted(totals, self._alive(totals | letter))
        return totals, follow

    def _code(self, totals: Ints, weights: Floats, label: Ints, bottom: int) -> None:
        first = np.unique(label, return_index=True)[1]
        many = len(first)
        weights = weights[first]
        joined = self._alive(totals[first][:, None] | totals[first])
        join = label[np.searchsorted(totals, joined)]
        below = join == np.arange(many)[None, :]  # below[a, b]: a join b == b
        last = next((c for c in range(many) if (weights[c] <= self.reading.least).all() and below[:, c].all()), None)
        dead = last if self.reading.least == 0.0 else None
        living = [c for c in range(many) if c != dead]
        self.living = len(living)
        self.has_dead = dead is not None
        marks = _separating(below, living, keep_tops=self.has_dead)
        code = {c: sum(1 << i for i, m in enumerate(marks) if not below[c, m]) for c in living}
        self.bits = len(marks) if len(living) > 1 else 0
        if self.bits == 0:
            code = dict.fromkeys(living, 0)
        if self.bits + self.has_dead > WORD_BITS:
            raise TooManySignsError(self.reading.id, many)
        rows = {code[c]: weights[c] for c in living}
        self.codes = np.array(sorted(rows), dtype=np.int64)
        self.weights = np.array([rows[each] for each in self.codes.tolist()])
        if bottom not in code:  # the setup alone cannot have shown this
            self.bits, self.living = 0, 0
            self.codes, self.weights = np.zeros(1, dtype=np.int64), np.zeros((1, self.size))
        self.void = code[last] if last in code and self.bits else NEVER
        self._code_of_class = np.array([code.get(c, DEAD) for c in range(many)])


def _classes(weights: Floats, follow: NDArray[np.int32]) -> Ints:
    """Return the class of each total: the coarsest partition by weight that every letter respects."""
    label: Ints = np.unique(weights, axis=0, return_inverse=True)[1].ravel().astype(np.int64)
    while True:
        many = int(label.max()) + 1
        finer = label
        for row in follow:
            finer = np.unique(finer * many + label[row], return_inverse=True)[1].ravel()
        if int(finer.max()) + 1 == many:
            return label
        label = finer


def _irreducible(totals: Collection[int]) -> list[int]:
    """Return the totals that are not the OR of others."""
    found: list[int] = []
    for total in sorted(totals, key=lambda each: (each.bit_count(), each)):
        below = 0
        for part in found:
            if part & ~total == 0:
                below |= part
        if below != total:
            found.append(total)
    return found


def _among(values: Ints, known: Ints) -> Bools:
    """Return which values are among known ones, which are in order."""
    place = np.minimum(np.searchsorted(known, values), len(known) - 1)
    return np.asarray(known[place] == values)


def _spread_out(weight: Floats | float, size: int) -> Floats:
    """Return a weight as an array over the joined contexts."""
    return np.broadcast_to(np.asarray(weight, dtype=np.float64).reshape(-1), (size,)).astype(np.float64)


def _separating(below: Bools, living: Sequence[int], *, keep_tops: bool) -> list[int]:
    """Return few living classes m such that the sets {m: x not below m} differ for all living x.

    With ``keep_tops`` the maximal living classes stay in, so that no living class has every bit set.
    """
    own = below[np.ix_(living, living)]
    is_top = own.sum(axis=1) == 1  # it is below itself alone
    # Sets are told apart by a sum of one random number for each of their members: what differs in it is different.
    number = np.random.default_rng(0).integers(1 << 63, size=len(living), dtype=np.uint64)
    told = (own * number).sum(axis=1, dtype=np.uint64)
    marks = []
    for n, m in enumerate(living):
        fewer = told - own[:, n] * number[n]
        if (keep_tops and is_top[n]) or len(np.unique(fewer)) < len(living):
            marks.append(m)
        else:
            told = fewer
    return marks
