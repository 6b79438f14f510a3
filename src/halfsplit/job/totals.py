"""What runs may come to in many groups of worlds at once: every total with its probability, as tables.

Each group draws an effect from each of its members' draws, and all of them combine by the rule of a run: the earliest
stop, the union of what is shown, the union of what is hidden.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.job.effects import Draw
from halfsplit.model.evidence import NO_STOP, Floats, Ints, SignAsked

LEAST_ROW = 1e-5
"""Totals less likely than this in a group are left out, and the rest scaled up."""


@dataclass(frozen=True)
class Totals:
    """The totals of G groups, as far as they can be told apart.

    Args:
        stops: shape (U,).
        visible: which of the signs asked are visible, shape (U, signs).
        p: P(total | group), shape (G, U); rows add up to 1.
    """

    stops: Ints
    visible: "np.ndarray[tuple[int, int], np.dtype[np.bool_]]"
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

    Args:
        signs: the signs that are looked at; only their bits and those of their screens count, at most 20.
    """

    def __init__(self, signs: Sequence[SignAsked]) -> None:
        self._signs = tuple(signs)
        self._bits = sorted({sign.bit for sign in signs} | {bit for sign in signs for bit, _ in sign.screen_needs})
        self._flat: list[tuple[float, int, int, int]] = []
        self._first: list[int] = [0]
        self._arrays: tuple[Floats, Ints, Ints, Ints, Ints, Ints] | None = None

    def add(self, draw: Draw) -> int:
        """Return the number of a new draw; what is missing to 1 does nothing."""
        bits = self._bits
        self._flat += [(p, e.stop, _packed(e.shown, bits), _packed(e.hidden, bits)) for p, e in draw if p > 0.0]
        rest = 1.0 - sum(p for p, _ in draw)
        if rest > _ROUNDING or not draw:
            self._flat.append((rest, NO_STOP, 0, 0))
        self._first.append(len(self._flat))
        self._arrays = None
        return len(self._first) - 2

    def spread(self, whole: int, members: Sequence[Sequence[int]]) -> Totals:
        """Return the totals of groups.

        Args:
            whole: the draw of what happens in every group: the setup itself, and what the work leading there does.
            members: for each group its other draws, by number.
        """
        p, stop, shown, hidden, starts, sizes = self._table()
        groups = len(members)
        group = np.repeat(np.arange(groups), sizes[whole])
        here = np.tile(starts[whole] + np.arange(sizes[whole]), groups)
        rows = _Rows(group, p[here], stop[here], shown[here], hidden[here])
        for turn in range(max(map(len, members), default=0)):
            drawn = np.array([each[turn] if turn < len(each) else -1 for each in members])
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
            p = np.array([each[0] for each in self._flat])
            stop, shown, hidden = (np.array([each[n] for each in self._flat], dtype=np.int64) for n in (1, 2, 3))
            first = np.array(self._first, dtype=np.int64)
            self._arrays = (p, stop, shown, hidden, first[:-1], np.diff(first))
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
        at = {bit: number for number, bit in enumerate(self._bits)}
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
        visible = (codes[:, None] >> (_STOP_BITS + np.arange(len(self._signs)))[None, :] & 1).astype(bool)
        return Totals(codes & ((1 << _STOP_BITS) - 1), visible, table)


def _packed(mask: int, bits: Sequence[int]) -> int:
    return sum(1 << place for place, bit in enumerate(bits) if mask >> bit & 1)


_STOP_BITS = 10
_ROUNDING = 1e-12
