"""What runs may come to in many groups of worlds at once: every total with its probability, as tables.

Each group draws an effect from each of its members' draws, and all of them combine by the rule of a run: the earliest
stop, the union of what is shown, the union of what is hidden.  Groups of many runs are spread together.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.job.act_tables import EffectNumbers
from halfsplit.job.cells import lines_in
from halfsplit.model.arrays import Bools, Floats, Ints
from halfsplit.model.evidence import SignAsked
from halfsplit.model.ladder import NO_STOP

LEAST_ROW = 1e-4
"""Totals less likely than this in a group are left out, and the rest scaled up."""

MOST_ROWS_AT_ONCE = 200_000
"""Groups are spread together as long as they may come to no more lines than this after their first two draws."""


@dataclass(frozen=True)
class Totals:
    """The totals of G groups, as far as they can be told apart, line by line; those of a group add up to 1.

    Args:
        group: the group of each line, in order, shape (N,).
        code: what can be seen of it, as ``Spreader.seen`` reads it, shape (N,).
        p: P(total | group), shape (N,).
    """

    group: Ints
    code: Ints
    p: Floats


@dataclass(frozen=True)
class _Rows:
    """What groups come to, line by line: the group with its stop, what is shown and what is hidden; P(this | group)."""

    key: Ints
    p: Floats

    def of(self, which: Ints | Bools) -> "_Rows":
        return _Rows(self.key[which], self.p[which])


@dataclass(frozen=True)
class Draws:
    """Draws that lie one after another: what each line may do, how likely, and where each draw begins."""

    p: Floats
    stop: Ints
    shown: Ints
    hidden: Ints
    starts: Ints
    sizes: Ints

    def codes(self, bits: int) -> Ints:
        """Return what each line may do, with so many bits for what is shown, and for what is hidden."""
        return np.asarray((self.stop << bits | self.shown) << bits | self.hidden)


class Spreader:
    """Knows the draws of one run by number; they are kept.

    An effect is known here by its *code*: its stop and, of the signs that are looked at, what is shown and hidden.

    Args:
        signs: the signs that are looked at; only their bits and those of their screens count, at most 20.
        effect_numbers: the numbers of effects.

    Attributes:
        nothing: the code of an effect that does nothing that counts.
    """

    def __init__(self, signs: Sequence[SignAsked], effect_numbers: EffectNumbers) -> None:
        self._signs = tuple(signs)
        self._effect_numbers = effect_numbers
        self._bits = np.array(
            sorted({sign.bit for sign in signs} | {bit for sign in signs for bit, _ in sign.screen_needs}),
            dtype=np.int64,
        )
        self._powers = 1 << np.arange(len(self._bits))
        self.nothing = NO_STOP << 2 * len(self._bits)
        self._codes: list[Ints] = []
        self._p: list[Floats] = []
        self._sizes: list[Ints] = []
        self._many = 0
        self._draws: Draws | None = None

    def codes(self, effects: Ints) -> Ints:
        """Return the codes of effects, by their numbers."""
        stop, shown, hidden = self._effect_numbers.tables()
        some, of = np.unique(effects, return_inverse=True)
        lit, dark = (each[np.ix_(some, self._bits)] @ self._powers for each in (shown, hidden))
        codes: Ints = ((stop[some] << len(self._bits) | lit) << len(self._bits) | dark)[of.ravel()]
        return codes

    def both(self, first: int, second: int) -> int:
        """Return the code of two effects together."""
        many = 2 * len(self._bits)
        return min(first >> many, second >> many) << many | ((first | second) & ((1 << many) - 1))

    def add(self, codes: Ints, p: Floats, sizes: Ints) -> int:
        """Add draws that lie one after another; what is missing to 1 in each does nothing.

        Args:
            codes, p: what each may do, and how likely, shape (N,).
            sizes: how many of these lines each draw has, all at least 1, adding up to N.

        Returns:
            The number of the first.
        """
        ends = np.cumsum(sizes)
        rest = 1.0 - np.add.reduceat(p, ends - sizes)
        left = np.flatnonzero(rest > _ROUNDING)
        self._codes.append(np.insert(codes, ends[left], self.nothing))
        self._p.append(np.insert(p, ends[left], rest[left]))
        self._sizes.append(sizes + (rest > _ROUNDING))
        self._draws = None
        self._many += len(sizes)
        return self._many - len(sizes)

    def seen(self, codes: Ints) -> tuple[Ints, Ints]:
        """Return where totals stop, and which of the signs are visible in them, a bit for each; shapes (N,)."""
        return codes & ((1 << _STOP_BITS) - 1), codes >> _STOP_BITS

    @property
    def draws(self) -> Draws:
        """The draws that were added."""
        if self._draws is None:
            code, sizes, p = np.concatenate(self._codes), np.concatenate(self._sizes), np.concatenate(self._p)
            self._codes, self._sizes, self._p = [code], [sizes], [p]
            bits = self.bits
            mask = (1 << bits) - 1
            self._draws = Draws(p, code >> 2 * bits, code >> bits & mask, code & mask, np.cumsum(sizes) - sizes, sizes)
        return self._draws

    @property
    def bits(self) -> int:
        """How many bits of what is shown, or hidden, count."""
        return len(self._bits)

    def asked(self) -> list[tuple[int, int, tuple[tuple[int, int], ...]]]:
        """Return of each sign the place of its bit, the stop that it needs, and its screens, likewise."""
        at = {bit: place for place, bit in enumerate(self._bits.tolist())}
        return [
            (at[sign.bit], sign.needs_stop, tuple((at[bit], needs) for bit, needs in sign.screen_needs))
            for sign in self._signs
        ]


@dataclass(frozen=True)
class Groups:
    """Groups of one run.

    Args:
        spreader: has their draws.
        whole: the draw of what happens in every group: the setup itself, and what the work leading there does.
        members: for each group its other draws, by number, with -1 behind, shape (G, most).
    """

    spreader: Spreader
    whole: int
    members: Ints


def spread(runs: Sequence[Groups]) -> Iterator[Totals]:
    """Yield the totals of the groups of each run."""
    batch: list[Groups] = []
    bits = groups = rows = 0
    for run in runs:
        bits, groups, rows = max(bits, run.spreader.bits), groups + len(run.members), rows + _rows_of(run)
        if batch and not _go_together(bits, groups, rows):
            yield from _spread(batch)
            batch, bits, groups, rows = [], run.spreader.bits, len(run.members), _rows_of(run)
        batch.append(run)
    if batch:
        yield from _spread(batch)


def _go_together(bits: int, groups: int, rows: int) -> bool:
    """Return whether so many groups are few enough for one table, and for one number to tell its lines."""
    return groups < 1 << _KEY_BITS - _STOP_BITS - 2 * bits and rows <= MOST_ROWS_AT_ONCE


def _rows_of(run: Groups) -> int:
    """Return how many lines the groups of a run come to after their first two draws, about."""
    sizes = run.spreader.draws.sizes
    first = run.members[:, 0] if run.members.shape[1] else np.zeros(0, dtype=np.int64)
    return int(sizes[run.whole] * (len(run.members) + sizes[first[first >= 0]].sum()))


def _spread(runs: Sequence[Groups]) -> Iterator[Totals]:
    bits = max(run.spreader.bits for run in runs)
    every = [run.spreader.draws for run in runs]
    code, p = np.concatenate([draws.codes(bits) for draws in every]), np.concatenate([draws.p for draws in every])
    lines = np.cumsum([0, *(len(draws.p) for draws in every)])
    firsts = np.cumsum([0, *(len(draws.sizes) for draws in every)])
    starts = np.concatenate([draws.starts + line for draws, line in zip(every, lines.tolist(), strict=False)])
    sizes = np.concatenate([draws.sizes for draws in every])
    most = max(run.members.shape[1] for run in runs)
    ends = np.cumsum([0, *(len(run.members) for run in runs)])
    members = np.full((int(ends[-1]), most), -1, dtype=np.int64)
    whole = np.empty(int(ends[-1]), dtype=np.int64)
    for run, first, begin, end in zip(runs, firsts.tolist(), ends.tolist(), ends[1:].tolist(), strict=False):
        members[begin:end, : run.members.shape[1]] = np.where(run.members >= 0, run.members + first, -1)
        whole[begin:end] = run.whole + first
    group, here = lines_in(starts[whole], sizes[whole])
    stops = ((1 << _STOP_BITS) - 1) << 2 * bits
    rows, told = _Rows(group << _STOP_BITS + 2 * bits | code[here], p[here]), []
    for drawn in members.T:
        of = drawn[rows.key >> _STOP_BITS + 2 * bits]
        acts = of >= 0
        told.append(rows.of(~acts & (rows.p >= LEAST_ROW)))  # nothing more happens in these groups
        rows, of = rows.of(acts), of[acts]
        row, item = lines_in(starts[of], sizes[of])
        before, now = rows.key[row], code[item]
        key = (before | now) & ~stops | np.minimum(before & stops, now & stops)
        rows = _merged(_Rows(key, rows.p[row] * p[item]))
    every_row = _Rows(*(np.concatenate(each) for each in zip(*((e.key, e.p) for e in (*told, rows)), strict=True)))
    run_of = np.repeat(np.arange(len(runs)), np.diff(ends))
    yield from _told(every_row.of(np.argsort(every_row.key)), bits, runs, run_of, ends)


def _merged(rows: _Rows) -> _Rows:
    """Return the rows with equal ones put together, and the least likely left out."""
    order = np.argsort(rows.key, kind="stable")
    key = rows.key[order]
    new = np.ones(len(key), dtype=bool)
    np.not_equal(key[1:], key[:-1], out=new[1:])
    begin = np.flatnonzero(new)
    if not len(begin):
        return rows
    p = np.add.reduceat(rows.p[order], begin)
    kept = p >= LEAST_ROW
    return _Rows(key[begin[kept]], p[kept])


def _told(rows: _Rows, bits: int, runs: Sequence[Groups], run_of: Ints, ends: Ints) -> Iterator[Totals]:
    """Yield what is seen of the rows, run by run; ``run_of`` is the run of each group, ``ends`` the groups of each."""
    group = rows.key >> _STOP_BITS + 2 * bits
    run_of = run_of[group]
    stop = rows.key >> 2 * bits & (1 << _STOP_BITS) - 1
    lit = rows.key >> bits & ~rows.key & (1 << bits) - 1
    code = stop.copy()
    asked = [run.spreader.asked() for run in runs]
    for number in range(max(map(len, asked))):
        own = [each[number] if number < len(each) else (0, _NEVER, ()) for each in asked]
        place, needs = (np.array([each[column] for each in own], dtype=np.int64)[run_of] for column in (0, 1))
        seen = (lit >> place & 1).astype(bool) & (stop >= needs)
        screens = max(len(each[2]) for each in own)
        if screens:
            screen = np.array([not each[2] for each in own])[run_of]
            for n in range(screens):
                screened = [each[2][n] if n < len(each[2]) else (0, _NEVER) for each in own]
                at, from_stop = (np.array(column, dtype=np.int64)[run_of] for column in zip(*screened, strict=True))
                screen |= (lit >> at & 1).astype(bool) & (stop >= from_stop)
            seen &= screen
        code |= seen.astype(np.int64) << (_STOP_BITS + number)
    sums = np.bincount(group, rows.p, int(ends[-1]))
    p = rows.p / sums[group]
    cuts = np.searchsorted(group, ends)
    for begin, end, first in zip(cuts.tolist(), cuts[1:].tolist(), ends.tolist(), strict=False):
        yield Totals(group[begin:end] - first, code[begin:end], p[begin:end])


_NEVER = NO_STOP + 1
_STOP_BITS = 10
_KEY_BITS = 63
_ROUNDING = 1e-12
