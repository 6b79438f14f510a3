"""From a reading to its classes: totals that no completion can tell apart, coded so that joining is an OR.

The totals of one run form a commutative, idempotent monoid: join = earliest stop, union of shown, union of
hidden.  Two totals x and y are one *class* when every z that the book can still add gives
``weight(x join z) == weight(y join z)``.  That relation is a congruence, so the classes form a monoid of
their own, with one absorbing *dead* class at most: the one that no completion can save.

A class x is coded as the set of those classes m for which x is not below m.  Then
``code(x join y) == code(x) | code(y)``, and a join is dead exactly when all bits are set, because a living
class is below at least one maximal living class.  All readings of a job lie side by side in a few machine
words, and joining two faults on all readings at once is one OR.

Several equal runs with equal reports are a multiset of classes; by symmetry only the multiset matters, and
the join of two multisets is a small table of chances (each pairing of their members is equally likely).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations_with_replacement
from math import comb, factorial, prod

import numpy as np
from numpy.typing import NDArray

from halfsplit.model.evidence import NO_STOP, NOTHING, Acts, Effect, Floats, Ints, Reading

MAX_MULTISETS = 64
"""Equal runs are split into lots so small that one lot has at most this many multisets of classes."""

_DEAD = -1
ROUNDING = 1e-12  # probabilities that add up to 1 within this leave nothing over


@dataclass(frozen=True)
class CountJoin:
    """The join of multisets, as a table in rows: for the pair a * size + b the rows first .. first + many.

    Args:
        size: how many multisets there are; number 0 is "nothing happened in any run".
        first, many: shape (size * size,), whole numbers.
        into: the multiset that comes out, per row; those with a dead member are left out.
        chance: its probability, per row.
    """

    size: int
    first: Ints
    many: Ints
    into: Ints
    chance: Floats


@dataclass(frozen=True)
class Field:
    """One reading (or one lot of equal runs), compiled.

    Args:
        reading: the id of the reading.
        given: the contexts that its weights depend on.
        bits: how many bits a code takes; 0 when only one living class is left.
        has_dead: whether joins can be dead (all bits set); never with ``join``.
        weights: shape (codes, contexts of given joined); the weight of each code at the end.
        join: the table of a lot of equal runs, else None and joining is an OR.
        runs: how many runs this lot has.
        classes: living classes of one run.
        code_of: effect -> code of its class in one run, or -1 for dead.
        multisets: for a lot, the sorted tuple of one-run classes -> number.
    """

    reading: str
    given: tuple[str, ...]
    bits: int
    has_dead: bool
    weights: Floats
    join: CountJoin | None
    runs: int
    classes: int
    code_of: Mapping[Effect, int]
    multisets: Mapping[tuple[int, ...], int]

    @property
    def most(self) -> float:
        """The largest weight of any code, or 1 when all are 0."""
        return float(self.weights.max()) or 1.0

    def draws(self, acts: Acts, moved: Floats | float | None = None) -> tuple[tuple[int, Floats | float], ...]:
        """Return what one root in one state does to this field: pairs of code and probability.

        What is missing to 1 is dead.

        Args:
            acts: the joint draw of one run.
            moved: the chance to act at all, in place of what ``acts`` says; a number or one for each draw of
                the book's numbers, shape (draws,).
        """
        total = sum(p for p, _ in acts.outcomes)
        moved = total if moved is None else moved
        one: dict[int, Floats | float] = {}
        for p, effect in acts.outcomes:
            code = self.code_of[effect]
            if code != _DEAD and p > 0:
                one[code] = one.get(code, 0.0) + p * (moved / total)
        if total < 1.0 - ROUNDING:
            one[0] = one.get(0, 0.0) + (1.0 - moved)
        if self.runs == 1:
            return tuple(one.items())
        if self.join is None:
            return ((0, one[0] ** self.runs),) if 0 in one else ()
        many = []
        for members in combinations_with_replacement(sorted(one), self.runs):
            ways = factorial(self.runs) // prod(factorial(members.count(code)) for code in set(members))
            many.append((self.multisets[members], ways * prod(one[code] for code in members)))
        return tuple(many)


def compile_fields(reading: Reading, effects: Sequence[Effect], context_sizes: Mapping[str, int]) -> tuple[Field, ...]:
    """Return the field of a reading, or its lots when it is a count with many classes.

    Args:
        reading: the reading.
        effects: every effect that any root in any state, or the base, can have on it.
        context_sizes: context id -> number of values.

    Returns:
        One field, or several that together are the reading.  Cost: (totals reachable) x (effects).
    """
    size = prod(context_sizes[name] for name in reading.given)
    run = _Run(reading, effects, size)
    if run.bits == 0:
        return (_plain(reading, run, reading.count),)
    lot = reading.count
    while comb(lot + run.living - 1, lot) > MAX_MULTISETS and lot > 1:
        lot -= 1
    if lot == 1:
        return (_plain(reading, run, 1),) * reading.count
    lots = [lot] * (reading.count // lot)
    if reading.count % lot:
        lots.append(reading.count % lot)
    return tuple(_lot(reading, run, runs) for runs in lots)


def _plain(reading: Reading, run: "_Run", runs: int) -> Field:
    """Return the field of one run, or of several that no root can tell apart."""
    weights = run.weights**runs
    return Field(reading.id, reading.given, run.bits, run.has_dead, weights, None, runs, run.living, run.code_of, {})


class _Run:
    """The classes of one run of a reading."""

    def __init__(self, reading: Reading, effects: Sequence[Effect], size: int) -> None:
        self.size = size
        self.reading = reading
        self._stops(effects)
        self._signs(effects)
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
        """Give a bit to each sign that matters: one for shown, one for hidden where something can hide it."""
        matter = 0
        must_show = 0
        for sign in self.reading.signs:
            matter |= 1 << sign.bit | sign.screens
            if not np.any(sign.if_not):
                must_show |= 1 << sign.bit
        can_show = can_hide = 0
        for effect in [*effects, *(effect for _, effect in self.reading.base)]:
            can_show |= effect.shown
            can_hide |= effect.hidden
        self.shown_at: dict[int, int] = {}
        self.hidden_at: dict[int, int] = {}
        at = self.stop_bits
        for bit in range(matter.bit_length()):
            if matter >> bit & 1 and can_show >> bit & 1:
                self.shown_at[bit] = at
                at += 1
                if can_hide >> bit & 1:
                    self.hidden_at[bit] = at
                    at += 1
        self.fatal = sum(1 << place for bit, place in self.hidden_at.items() if must_show >> bit & 1)

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
        """Return the total, or _DEAD where it is plain that nothing can save it (the stop only falls)."""
        if self._stop_of(total) < self.first_possible or total & self.fatal:
            return _DEAD
        return total

    def _weight(self, total: int) -> Floats:
        if total == _DEAD:
            return np.zeros(self.size)
        index = self._stop_of(total)
        stop = self.stop_at[index]
        weight = self.stop_weights[index].copy()
        for sign in self.reading.signs:
            visible = self._shows(total, sign.bit) and stop >= sign.needs_stop
            if visible and sign.screens:
                visible = any(self._shows(total, bit) and stop >= needs for bit, needs in sign.screen_needs)
            weight = weight * _spread_out(sign.if_visible if visible else sign.if_not, self.size)
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
                after = _DEAD if total == _DEAD else self._alive(total | letter)
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
            return int(label[self.index[_DEAD if _DEAD in (x, y) else self._alive(x | y)]])

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
            effect: code.get(int(label[self._index_of(effect, start)]), _DEAD) for effect in [*effects, NOTHING]
        }

    def _index_of(self, effect: Effect, start: int) -> int:
        total = self._total(effect)
        return self.index[_DEAD if start == _DEAD else self._alive(start | total)]


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


def _lot(reading: Reading, run: _Run, runs: int) -> Field:
    """Return the field of ``runs`` equal runs, of which only the multiset of classes matters."""
    if runs == 1:
        return _plain(reading, run, 1)
    codes = sorted({code for code in run.code_of.values() if code != _DEAD})
    closed = _closed_codes(run, codes)
    numbers = {members: n for n, members in enumerate(combinations_with_replacement(closed, runs))}
    dead_code = (1 << run.bits) - 1 if run.has_dead else None
    weights = np.array([np.prod([run.weights[code] for code in members], axis=0) for members in numbers])
    first: list[int] = []
    many: list[int] = []
    into: list[int] = []
    chance: list[float] = []
    for a in numbers:
        for b in numbers:
            out = {m: p for m, p in _pairings(a, b, dead_code).items() if m is not None}
            first.append(len(into))
            many.append(len(out))
            into.extend(numbers[m] for m in out)
            chance.extend(out.values())
    join = CountJoin(
        len(numbers),
        np.array(first, dtype=np.int64),
        np.array(many, dtype=np.int64),
        np.array(into, dtype=np.int64),
        np.array(chance, dtype=np.float64),
    )
    bits = max(1, (len(numbers) - 1).bit_length())
    return Field(reading.id, reading.given, bits, False, weights, join, runs, run.living, run.code_of, dict(numbers))


def _closed_codes(run: _Run, codes: Sequence[int]) -> list[int]:
    """Return every living code that joins of ``codes`` can reach, 0 first."""
    dead = (1 << run.bits) - 1 if run.has_dead else None
    found = {0}
    fresh = [0]
    while fresh:
        fresh = sorted({x | code for x in fresh for code in codes} - found - {dead})
        found.update(fresh)
    return sorted(found)


@cache
def _pairings(a: tuple[int, ...], b: tuple[int, ...], dead: int | None) -> dict[tuple[int, ...] | None, float]:
    """Return the multiset of a[i] | b[s(i)] with its chance, over all orders s of b; None = some member is dead."""
    if not a:
        return {(): 1.0}
    out: dict[tuple[int, ...] | None, float] = {}
    for code in sorted(set(b)):
        rest = list(b)
        rest.remove(code)
        chance = b.count(code) / len(b)
        met = a[0] | code
        for members, p in _pairings(a[1:], tuple(rest), dead).items():
            whole = None if members is None or met == dead else tuple(sorted((met, *members)))
            out[whole] = out.get(whole, 0.0) + chance * p
    return out
