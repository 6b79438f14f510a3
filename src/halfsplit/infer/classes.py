"""The classes of one run: totals that no completion can tell apart, coded so that joining is an OR.

The totals of one run form a commutative, idempotent monoid: join = earliest stop, union of shown, union of
hidden.  Two totals x and y are one *class* when every z that the book can still add gives
``weight(x join z) == weight(y join z)``.  That relation is a congruence, so the classes form a monoid of
their own, with one absorbing *dead* class at most: the one that no completion can save.

A class x is coded as the set of those classes m for which x is not below m.  Then
``code(x join y) == code(x) | code(y)``, and a join is dead exactly when all bits are set, because a living
class is below at least one maximal living class.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from halfsplit.model.evidence import NO_STOP, NOTHING, Effect, Floats, Ints, Reading

DEAD = -1

_ALWAYS = (0, 0, ())  # visible wherever it is shown


class Run:
    """The classes of one run of a reading."""

    def __init__(self, reading: Reading, effects: Sequence[Effect], size: int) -> None:
        self.size = size
        self.reading = reading
        self._stops(effects)
        self._signs(effects)
        self._factors = [
            (sign, _spread_out(sign.if_visible, size), _spread_out(sign.if_not, size)) for sign in reading.signs
        ]
        single = reading.base[0][1] if len(reading.base) == 1 else NOTHING
        start = self._alive(self._total(single))
        letters = sorted({self._total(effect) for effect in effects})
        totals, follow = self._reach(start, letters)
        label = self._classes(totals, follow)
        self._code(totals, label, start, effects)

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

    def _total(self, effect: Effect) -> int:
        index = self.stop_index[effect.stop]
        total = (1 << self.stop_bits) - (1 << index) if index < self.stop_bits else 0
        for bit, place in self.shown_at.items():
            total |= (effect.shown >> bit & 1) << place
        for bit, place in self.hidden_at.items():
            total |= (effect.hidden >> bit & 1) << place
        return total

    def _stop_of(self, total: int) -> int:
        stops = total & ((1 << self.stop_bits) - 1)
        return self.stop_bits - stops.bit_count()

    def _alive(self, total: int) -> int:
        """Return the total without what no longer matters, or DEAD where it is plain that nothing can save it.

        The stop only falls, and what is hidden stays so.
        """
        if self._stop_of(total) < self.first_possible or total & self.fatal:
            return DEAD
        for hidden, shown in self.covers:
            if total & hidden:
                total &= ~shown
        return total

    def _weight(self, total: int) -> Floats:
        if total == DEAD:
            return np.zeros(self.size)
        index = self._stop_of(total)
        stop = self.stop_at[index]
        weight = self.stop_weights[index].copy()
        for sign, if_visible, if_not in self._factors:
            visible = self._shows(total, sign.bit) and stop >= sign.needs_stop
            if visible and sign.screens:
                visible = any(self._shows(total, bit) and stop >= needs for bit, needs in sign.screen_needs)
            weight *= if_visible if visible else if_not
        return weight

    def _shows(self, total: int, bit: int) -> bool:
        if bit not in self.shown_at or not total >> self.shown_at[bit] & 1:
            return False
        return not (bit in self.hidden_at and total >> self.hidden_at[bit] & 1)

    def _reach(self, start: int, letters: Sequence[int]) -> tuple[list[int], Ints]:
        """Return every total that can be reached and, for each and each letter, which one follows."""
        index = {start: 0}
        totals = [start]
        follow: list[list[int]] = []
        for total in totals:  # grows while it is walked
            row = []
            for letter in letters:
                after = DEAD if total == DEAD else self._alive(total | letter)
                if after not in index:
                    index[after] = len(totals)
                    totals.append(after)
                row.append(index[after])
            follow.append(row)
        self.index = index
        return totals, np.array(follow, dtype=np.int64).reshape(len(totals), len(letters))

    def _classes(self, totals: Sequence[int], follow: Ints) -> Ints:
        """Return the class of each total: the coarsest partition by weight that every letter respects."""
        self.total_weights = np.array([self._weight(total) for total in totals])
        label = _labels(self.total_weights)
        while True:
            finer = _labels(np.concatenate([label[:, None], label[follow]], axis=1))
            if finer.max() == label.max():
                return finer
            label = finer

    def _code(self, totals: Sequence[int], label: Ints, start: int, effects: Sequence[Effect]) -> None:
        many = int(label.max()) + 1
        first = [int(np.flatnonzero(label == c)[0]) for c in range(many)]
        weights = self.total_weights[first]

        def joined(a: int, b: int) -> int:
            x, y = totals[first[a]], totals[first[b]]
            return int(label[self.index[DEAD if DEAD in (x, y) else self._alive(x | y)]])

        join = np.array([[joined(a, b) for b in range(many)] for a in range(many)], dtype=np.int64)
        below = join == np.arange(many)[None, :]  # below[a, b]: a join b == b
        dead = next((c for c in range(many) if not weights[c].any() and below[:, c].all()), None)
        living = [c for c in range(many) if c != dead]
        self.living = len(living)
        self.has_dead = dead is not None
        self.classes_join = join
        marks = _separating(below, living, keep_tops=self.has_dead)
        code = {c: sum(1 << i for i, m in enumerate(marks) if not below[c, m]) for c in living}
        self.bits = len(marks) if len(living) > 1 else 0
        if self.bits == 0:
            code = dict.fromkeys(living, 0)
        self.weights = np.zeros((1 << self.bits, self.size))
        for c in living:
            self.weights[code[c]] = weights[c]
        bottom = int(label[self.index[start]])
        if bottom not in code:  # the setup alone cannot have shown this
            self.bits, self.living, self.weights = 0, 0, np.zeros((1, self.size))
        self.code_of = {
            effect: code.get(int(label[self._index_of(effect, start)]), DEAD) for effect in [*effects, NOTHING]
        }

    def _index_of(self, effect: Effect, start: int) -> int:
        total = self._total(effect)
        return self.index[DEAD if start == DEAD else self._alive(start | total)]


def _labels(rows: NDArray[np.generic]) -> Ints:
    label: Ints = np.unique(rows, axis=0, return_inverse=True)[1].ravel().astype(np.int64)
    return label


def _spread_out(weight: Floats | float, size: int) -> Floats:
    """Return a weight as an array over the joined contexts."""
    return np.broadcast_to(np.asarray(weight, dtype=np.float64).reshape(-1), (size,)).astype(np.float64)


def _separating(below: NDArray[np.bool_], living: Sequence[int], *, keep_tops: bool) -> list[int]:
    """Return few living classes m such that the sets {m: x not below m} differ for all living x.

    With ``keep_tops`` the maximal living classes stay in, so that no living class has every bit set.
    """
    tops = {a for a in living if not any(below[a, b] for b in living if b != a)}
    marks = list(living)
    for m in living:
        if keep_tops and m in tops:
            continue
        fewer = [mark for mark in marks if mark != m]
        if len({tuple(below[x, fewer]) for x in living}) == len(living):
            marks = fewer
    return marks
