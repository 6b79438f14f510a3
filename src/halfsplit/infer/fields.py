"""From a reading to its fields: its classes side by side with those of all others, in a few machine words.

All readings of a job lie side by side, and joining two faults on all readings at once is one OR; what the codes of
one run are is told in ``classes``.

Several equal runs with equal reports are a multiset of classes; by symmetry only the multiset matters, and
the join of two multisets is a small table of chances (each pairing of their members is equally likely).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import combinations_with_replacement
from math import comb, factorial, prod

import numpy as np

from halfsplit.infer.classes import DEAD, NEVER, Run
from halfsplit.model.arrays import Floats, Ints
from halfsplit.model.evidence import Acts, Effect, Reading

MAX_MULTISETS = 64
"""Equal runs are split into lots so small that one lot has at most this many multisets of classes."""

MAX_TABLE_BITS = 12
"""Codes of so many bits are looked up in a table, longer ones in the list of those that there are."""

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
        codes: the codes that there are, in order, shape (codes,); of a lot its multisets.
        weights: shape (codes, contexts of given joined); the weight of each code at the end.
        join: the table of a lot of equal runs, else None and joining is an OR.
        runs: how many runs this lot has.
        classes: living classes of one run.
        code_of: effect -> code of its class in one run, or -1 for dead.
        multisets: for a lot, the sorted tuple of one-run classes -> number.
        void: the code of one run that only a void report explains, whatever is joined to it, or -1.
    """

    reading: str
    given: tuple[str, ...]
    bits: int
    has_dead: bool
    codes: Ints
    weights: Floats
    join: CountJoin | None
    runs: int
    classes: int
    code_of: Mapping[Effect, int]
    multisets: Mapping[tuple[int, ...], int]
    void: int = NEVER

    @cached_property
    def _places(self) -> Ints | None:
        """The place of each number that may be a code; None where they are too many for a table."""
        if self.bits > MAX_TABLE_BITS:
            return None
        return np.minimum(np.searchsorted(self.codes, np.arange(1 << self.bits)), len(self.codes) - 1)

    def place(self, codes: Ints) -> Ints:
        """Return the places of codes among ``codes``; all of them have to be there."""
        if self._places is not None:
            return self._places[codes]
        return np.searchsorted(self.codes, codes)

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
            if code != DEAD and p > 0:
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
    run = Run(reading, effects, size)
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


def _plain(reading: Reading, run: Run, runs: int) -> Field:
    """Return the field of one run, or of several that no root can tell apart."""
    weights = run.weights**runs
    return Field(
        reading.id,
        reading.given,
        run.bits,
        run.has_dead,
        run.codes,
        weights,
        None,
        runs,
        run.living,
        run.code_of,
        {},
        run.void,
    )


def _lot(reading: Reading, run: Run, runs: int) -> Field:
    """Return the field of ``runs`` equal runs, of which only the multiset of classes matters."""
    if runs == 1:
        return _plain(reading, run, 1)
    codes = sorted({code for code in run.code_of.values() if code != DEAD})
    closed = _closed_codes(run, codes)
    numbers = {members: n for n, members in enumerate(combinations_with_replacement(closed, runs))}
    dead_code = (1 << run.bits) - 1 if run.has_dead else None
    weight = dict(zip(run.codes.tolist(), run.weights, strict=True))
    weights = np.array([np.prod([weight[code] for code in members], axis=0) for members in numbers])
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
    return Field(
        reading.id,
        reading.given,
        bits,
        False,
        np.arange(len(numbers)),
        weights,
        join,
        runs,
        run.living,
        run.code_of,
        dict(numbers),
        run.void,
    )


def _closed_codes(run: Run, codes: Sequence[int]) -> list[int]:
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
