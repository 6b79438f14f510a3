"""What runs may come to in many groups of worlds at once: every total with its probability, as tables.

Each group draws an effect from each of its members' draws, and all of them combine by the rule of a run: the earliest
stop, the union of what is shown, the union of what is hidden.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.job.act_tables import EffectNumbers
from halfsplit.model.evidence import NO_STOP, Floats, Ints, SignAsked

LEAST_ROW = 1e-5
"""Totals less likely than this in a group are left out, and the rest scaled up."""


@dataclass(frozen=True)
class Totals:
    """The totals of G groups, as far as they can be told apart.

    Args:
        codes: what can be seen of each, as ``Spreader.seen`` reads it, shape (U,).
        p: P(total | group), shape (G, U); rows add up to 1.
    """

    codes: Ints
    p: Floats


@dataclass(frozen=True)
class _Rows:
    group: Ints
    p: Floats
    stop: Ints
    shown: Ints
    hidden: Ints


class Spreader:
    """Spreads the totals of groups; draws are numbered once and kept.

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
        self._draws = 0
        self._arrays: tuple[Floats, Ints, Ints, Ints, Ints, Ints] | None = None

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
        self._arrays = None
        self._draws += len(sizes)
        return self._draws - len(sizes)

    def seen(self, code: int) -> tuple[int, tuple[bool, ...]]:
        """Return where a total stops, and which of the signs are visible in it."""
        visible = tuple(bool(code >> (_STOP_BITS + number) & 1) for number in range(len(self._signs)))
        return code & ((1 << _STOP_BITS) - 1), visible

    def spread(self, whole: int, members: Ints) -> Totals:
        """Return the totals of groups.

        Args:
            whole: the draw of what happens in every group: the setup itself, and what the work leading there does.
            members: for each group its other draws, by number, with -1 behind, shape (G, most).
        """
        p, stop, shown, hidden, starts, sizes = self._table()
        groups = len(members)
        group = np.repeat(np.arange(groups), sizes[whole])
        here = np.tile(starts[whole] + np.arange(sizes[whole]), groups)
        rows = _Rows(group, p[here], stop[here], shown[here], hidden[here])
        for drawn in members.T:
            size = np.where(drawn >= 0, sizes[drawn], 1)[rows.group]
            row = np.repeat(np.arange(len(size)), size)
            within = np.arange(len(row)) - np.repeat(np.cumsum(size) - size, size)
            group = rows.group[row]
            acts = drawn[group] >= 0
            item = np.where(acts, starts[drawn[group]] + within, 0)
            rows = self._merged(
                _Rows(
                    group,
                    rows.p[row] * np.where(acts, p[item], 1.0),
                    np.minimum(rows.stop[row], np.where(acts, stop[item], NO_STOP)),
                    rows.shown[row] | np.where(acts, shown[item], 0),
                    rows.hidden[row] | np.where(acts, hidden[item], 0),
                )
            )
        return self._told(rows, groups)

    def _table(self) -> tuple[Floats, Ints, Ints, Ints, Ints, Ints]:
        if self._arrays is None:
            code, sizes, p = np.concatenate(self._codes), np.concatenate(self._sizes), np.concatenate(self._p)
            self._codes, self._sizes, self._p = [code], [sizes], [p]
            many = len(self._bits)
            mask = (1 << many) - 1
            self._arrays = (p, code >> 2 * many, code >> many & mask, code & mask, np.cumsum(sizes) - sizes, sizes)
        return self._arrays

    def _merged(self, rows: _Rows) -> _Rows:
        """Return the rows with equal ones put together, and the least likely left out."""
        many = len(self._bits)
        key = (rows.group << _STOP_BITS | rows.stop) << 2 * many | rows.shown << many | rows.hidden
        order = np.argsort(key, kind="stable")
        ordered = key[order]
        begin = np.flatnonzero(np.r_[True, ordered[1:] != ordered[:-1]])
        p = np.add.reduceat(rows.p[order], begin)
        kept = order[begin[p >= LEAST_ROW]]
        return _Rows(rows.group[kept], p[p >= LEAST_ROW], rows.stop[kept], rows.shown[kept], rows.hidden[kept])

    def _told(self, rows: _Rows, groups: int) -> Totals:
        at = {bit: number for number, bit in enumerate(self._bits.tolist())}
        lit = rows.shown & ~rows.hidden
        code = rows.stop.copy()
        for number, sign in enumerate(self._signs):
            seen = (lit >> at[sign.bit] & 1).astype(bool) & (rows.stop >= sign.needs_stop)
            if sign.screens:
                screen = np.zeros(len(seen), dtype=bool)
                for bit, needs in sign.screen_needs:
                    screen |= (lit >> at[bit] & 1).astype(bool) & (rows.stop >= needs)
                seen &= screen
            code |= seen.astype(np.int64) << (_STOP_BITS + number)
        codes, of = np.unique(code, return_inverse=True)
        place = rows.group * len(codes) + of.ravel()
        p: Floats = np.asarray(np.bincount(place, weights=rows.p, minlength=groups * len(codes)), dtype=np.float64)
        table: Floats = p.reshape(groups, len(codes)) / p.reshape(groups, len(codes)).sum(axis=1, keepdims=True)
        return Totals(codes, table)


_STOP_BITS = 10
_ROUNDING = 1e-12
