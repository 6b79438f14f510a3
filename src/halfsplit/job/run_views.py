"""What a run of a check may come to: by world, kept by the set of draws that happen in it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.job.act_tables import ActTable, EffectNumbers
from halfsplit.job.cells import Cells, Placed, Present, begins, lines_in
from halfsplit.job.effects import Draw
from halfsplit.job.eyes import Eyes
from halfsplit.job.findings import Finding, RunSeen
from halfsplit.job.marks import marks_of
from halfsplit.job.results import kept_of, with_others
from halfsplit.job.rows import NO_ROWS
from halfsplit.job.totals import Groups, Spreader, Totals, spread
from halfsplit.job.views import View
from halfsplit.model.arrays import Bools, Floats, Ints
from halfsplit.model.evidence import SignAsked

LEAST_P = 1e-3
"""What the setup and fresh contacts do in a run less often than this is left out of what it may show."""


class RunView(View):
    """What a run may come to.

    Args:
        cells: the cells of all plans.
        effect_numbers: the numbers of effects.
        base: what the setup itself does.
        signs: the signs asked for.
        eyes: what is seen of it.
    """

    def __init__(
        self, cells: Cells, effect_numbers: EffectNumbers, base: Draw, signs: Sequence[SignAsked], eyes: Eyes
    ) -> None:
        super().__init__(cells)
        self._eyes = eyes
        self._spreader = Spreader(signs, effect_numbers)
        numbers = np.array([effect_numbers.number(effect) for _, effect in base], dtype=np.int64)
        self._base = _summed(self._spreader.codes(numbers).tolist(), [p for p, _ in base])
        self._whole: dict[int, float] = {}
        self._whole_number = 0
        self._cell = self._code = self._acting = np.zeros(0, dtype=np.int64)
        self._p = np.zeros(0)
        self._mark = np.zeros(0, dtype=np.int64)  # of each acting cell's draw: equal marks are equal draws
        self._number = np.zeros(0, dtype=np.int64)
        self._known: dict[int, int] = {}  # mark -> number of the draw
        self._columns: dict[int, int] = {}  # what is seen, by its number -> its column among all results
        self._numbers: list[int] = []  # the other way round
        self._seen: dict[int, RunSeen] = {}  # what columns are, as far as they were told
        self._keys = np.zeros(0, dtype=np.int64)
        self._row = np.zeros(0, dtype=np.int64)
        self._totals = NO_ROWS
        self._last: tuple[Present, _Sets] | None = None

    def _read(self, table: ActTable) -> None:
        code = self._spreader.codes(table.effect)
        here = np.flatnonzero(code != self._spreader.nothing)
        cell, code, p = table.cell[here], code[here], table.p[here]
        order = np.lexsort((code, cell))
        cell, code = cell[order], code[order]
        begin = begins(cell, code)
        self._cell, self._code = cell[begin], code[begin]
        self._p = np.add.reduceat(p[order], begin) if len(begin) else p
        begin = begins(self._cell)
        self._acting = self._cell[begin]
        if not len(begin):
            self._mark = self._number = begin
            self._last = None
            return
        marks = marks_of(self._code ^ marks_of(self._p.view(np.int64)))
        self._mark = marks_of(np.add.reduceat(marks, begin))  # mixed again: a draw is more than its lines
        sizes = np.diff(np.append(begin, len(self._cell)))
        every, first = np.unique(self._mark, return_index=True)
        new = [n for n, mark in zip(first.tolist(), every.tolist(), strict=True) if mark not in self._known]
        if new:
            new.sort()
            _, lines = lines_in(begin[new], sizes[new])
            number = self._spreader.add(self._code[lines], self._p[lines], sizes[new])
            self._known |= {mark: number + n for n, mark in enumerate(self._mark[new].tolist())}
        self._number = np.array([self._known[mark] for mark in self._mark.tolist()], dtype=np.int64)
        self._last = None

    def _refresh(self, placed: Placed) -> None:
        p = placed.p_fresh(self._cell)
        here = np.flatnonzero(p)
        owners = self._cells.owners(self._cell[here]).tolist()
        fresh: dict[int, dict[int, float]] = {}
        for owner, code, each in zip(owners, self._code[here].tolist(), (p * self._p)[here].tolist(), strict=True):
            draw = fresh.setdefault(owner, {})
            draw[code] = draw.get(code, 0.0) + each
        whole = self._base
        for draw in fresh.values():
            if sum(draw.values()) >= LEAST_P:
                whole = self._joint(whole, draw)
        if whole != self._whole:
            self._whole = whole
            codes, shares = np.array([*whole], dtype=np.int64), np.array([*whole.values()])
            self._whole_number = self._spreader.add(codes, shares, np.array([len(whole)]))
            self._keys, self._row, self._totals = self._keys[:0], self._row[:0], NO_ROWS

    def _joint(self, whole: Mapping[int, float], draw: Mapping[int, float]) -> dict[int, float]:
        """Return what happens together, without what is hardly ever so."""
        rest = max(0.0, 1.0 - sum(draw.values()))
        ways = [(code, p) for code, p in (*draw.items(), (self._spreader.nothing, rest)) if p > 0.0]
        both = [(self._spreader.both(code, other), p * share) for code, p in whole.items() for other, share in ways]
        found = _summed([code for code, _ in both], [p for _, p in both])
        return {code: p for code, p in found.items() if p >= LEAST_P}

    def touches(self) -> Floats:
        """Return P(the fault does something that is asked for | root, state), shape (R, states)."""
        assert self._placed is not None
        found = np.zeros(self._cells.total)
        np.add.at(found, self._cell, self._p)
        found[0] = 0.0
        touched: Floats = np.minimum(found, 1.0)[self._placed.cell]
        return touched

    def tell(self, present: Present) -> tuple[tuple[Finding, ...], Floats]:
        """Return the results and P(result | world), shape (K, S)."""
        sets = self._sets(present)
        if self._is_new(sets.keys).any():
            learn([self], present)
        row = self._row[np.searchsorted(self._keys, sets.keys)]
        weights = np.bincount(row, np.bincount(sets.of, present.weights, len(row)), self._totals.many)
        kept = kept_of(self._totals.mixed(weights.astype(np.float64, copy=False), len(self._numbers)))
        named = sorted(((self._named(column), column) for column in kept.tolist()), key=_place_of)
        columns = np.array([column for _, column in named], dtype=np.int64)
        names, tells = with_others([seen for seen, _ in named], self._totals.of(columns)[row])
        self._last = None  # the next advice has other worlds
        return names, tells[sets.of]

    def _named(self, column: int) -> RunSeen:
        """Return what is seen in a column."""
        if column not in self._seen:
            self._seen[column] = self._eyes.of_number(self._numbers[column])
        return self._seen[column]

    def missing(self, present: Present) -> tuple[Ints, Groups]:
        """Return the sets of draws, by their keys, of which nothing is known yet."""
        sets = self._sets(present)
        new = self._is_new(sets.keys)
        number = np.full(len(sets.keys), -1, dtype=np.int64)
        number[new] = np.arange(np.count_nonzero(new))
        first = np.zeros(len(sets.of), dtype=bool)
        first[sets.first] = True
        here = first[sets.world] & (number[sets.of[sets.world]] >= 0)
        row, drawn = number[sets.of[sets.world[here]]], self._number[sets.which[here]]
        order = np.lexsort((drawn, row))
        row, drawn = row[order], drawn[order]
        sizes = np.bincount(row, minlength=int(np.count_nonzero(new)))
        members = np.full((len(sizes), int(sizes.max(initial=0))), -1, dtype=np.int64)
        members[row, np.arange(len(row)) - (np.cumsum(sizes) - sizes)[row]] = drawn
        return sets.keys[new], Groups(self._spreader, self._whole_number, members)

    def take(self, keys: Ints, totals: Totals) -> None:
        """Take over what further sets of draws come to."""
        codes, of = np.unique(totals.code, return_inverse=True)
        column = self._columns_of(self._eyes.numbers(*self._spreader.seen(codes)))[of.ravel()]
        every = np.concatenate([self._keys, keys])
        row = np.concatenate([self._row, self._totals.many + np.arange(len(keys))])
        order = np.argsort(every)
        self._keys, self._row = every[order], row[order]
        self._totals = self._totals.then(totals.group, column, totals.p, len(keys))

    def _is_new(self, keys: Ints) -> Bools:
        """Return which sets of draws nothing is known of yet; shape (U,)."""
        if not len(self._keys):
            return np.ones(len(keys), dtype=bool)
        place = np.minimum(np.searchsorted(self._keys, keys), len(self._keys) - 1)
        return np.asarray(self._keys[place] != keys)

    def _sets(self, present: Present) -> "_Sets":
        """Return the sets of draws that happen in the worlds."""
        if self._last is None or self._last[0] is not present:
            which, world = present.lines_of(self._acting)
            key = np.zeros(len(present.starts), dtype=np.int64)
            np.add.at(key, world, self._mark[which])
            keys, first, of = np.unique(key, return_index=True, return_inverse=True)
            self._last = (present, _Sets(keys, first, of.ravel(), which, world))
        return self._last[1]

    def _columns_of(self, numbers: Ints) -> Ints:
        """Return the columns of what is seen, by its numbers; new ones are added."""
        columns = [self._columns.setdefault(number, len(self._columns)) for number in numbers.tolist()]
        self._numbers = [*self._columns]
        return np.array(columns, dtype=np.int64)


@dataclass(frozen=True)
class _Sets:
    """The sets of draws that happen in some worlds.

    Args:
        keys: of each set, in order, shape (U,).
        first: the first world of each, shape (U,).
        of: the set of each world, shape (K,).
        which, world: world by world, the acting cells that are there, by their place, and the world.
    """

    keys: Ints
    first: Ints
    of: Ints
    which: Ints
    world: Ints


def learn(views: Iterable[RunView], present: Present) -> None:
    """Work out what the runs of some views come to in the worlds, all together, as far as it is not known yet."""
    missing = [(view, *view.missing(present)) for view in {id(view): view for view in views}.values()]
    missing = [each for each in missing if len(each[1])]
    for (view, keys, _), totals in zip(missing, spread([groups for _, _, groups in missing]), strict=True):
        view.take(keys, totals)


def _place_of(result: tuple[RunSeen, int]) -> tuple[object, ...]:
    """Return what decides where a result stands among all."""
    seen = result[0]
    return seen.ending.line, seen.ending.reached, seen.signs


def _summed(codes: Iterable[int], p: Iterable[float]) -> dict[int, float]:
    found: dict[int, float] = {}
    for code, each in zip(codes, p, strict=True):
        found[code] = found.get(code, 0.0) + each
    return found
