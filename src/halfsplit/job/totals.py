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


def spread_totals(
    whole: Draw, draws: Sequence[Draw], members: Sequence[Sequence[int]], signs: Sequence[SignAsked]
) -> Totals:
    """Return the totals of groups.

    Args:
        whole: what happens in every group: the setup itself, and what is too seldom to be told by group.
        draws: what members may do; what is missing to 1 does nothing.
        members: for each group its draws, by number.
        signs: the signs that are looked at; only their bits count.
    """
    bits = sorted({sign.bit for sign in signs} | {bit for sign in signs for bit, _ in sign.screen_needs})
    first = [0]
    flat: list[tuple[float, int, int, int]] = []
    for draw in (whole, *draws):
        flat += [(p, e.stop, _packed(e.shown, bits), _packed(e.hidden, bits)) for p, e in draw if p > 0.0]
        rest = 1.0 - sum(p for p, _ in draw)
        if rest > _ROUNDING or not draw:
            flat.append((rest, NO_STOP, 0, 0))
        first.append(len(flat))
    p = np.array([each[0] for each in flat])
    stop, shown, hidden = (np.array([each[n] for each in flat], dtype=np.int64) for n in (1, 2, 3))
    starts, sizes = np.array(first[:-1]), np.diff(first)
    groups = len(members)
    group = np.repeat(np.arange(groups), sizes[0])
    here = np.tile(np.arange(sizes[0]), groups)
    rows = _Rows(group, p[here], stop[here], shown[here], hidden[here])
    for turn in range(max(map(len, members), default=0)):
        drawn = np.array([1 + each[turn] if turn < len(each) else -1 for each in members])
        size = np.where(drawn >= 0, sizes[drawn], 1)[rows.group]
        row = np.repeat(np.arange(len(size)), size)
        within = np.arange(len(row)) - np.repeat(np.cumsum(size) - size, size)
        group = rows.group[row]
        acts = drawn[group] >= 0
        item = np.where(acts, starts[drawn[group]] + within, 0)
        rows = _merged(
            _Rows(
                group,
                rows.p[row] * np.where(acts, p[item], 1.0),
                np.minimum(rows.stop[row], np.where(acts, stop[item], NO_STOP)),
                rows.shown[row] | np.where(acts, shown[item], 0),
                rows.hidden[row] | np.where(acts, hidden[item], 0),
            )
        )
    return _told(rows, groups, bits, signs)


def _packed(mask: int, bits: Sequence[int]) -> int:
    return sum(1 << place for place, bit in enumerate(bits) if mask >> bit & 1)


def _merged(rows: _Rows) -> _Rows:
    """Return the rows with equal ones put together, and the least likely left out."""
    key = np.stack([rows.group, rows.stop, rows.shown, rows.hidden])
    order = np.lexsort(key)
    ordered = key[:, order]
    is_new = np.ones(len(order), dtype=bool)
    is_new[1:] = (ordered[:, 1:] != ordered[:, :-1]).any(axis=0)
    begin = np.flatnonzero(is_new)
    p = np.add.reduceat(rows.p[order], begin) if len(begin) else rows.p
    kept = begin[p >= LEAST_ROW]
    group, stop, shown, hidden = ordered[:, kept]
    return _Rows(group, p[p >= LEAST_ROW], stop, shown, hidden)


def _told(rows: _Rows, groups: int, bits: Sequence[int], signs: Sequence[SignAsked]) -> Totals:
    place = {bit: number for number, bit in enumerate(bits)}
    lit = rows.shown & ~rows.hidden
    code = rows.stop.copy()
    for number, sign in enumerate(signs):
        seen = (lit >> place[sign.bit] & 1).astype(bool) & (rows.stop >= sign.needs_stop)
        if sign.screens:
            screen = np.zeros(len(seen), dtype=bool)
            for bit, needs in sign.screen_needs:
                screen |= (lit >> place[bit] & 1).astype(bool) & (rows.stop >= needs)
            seen &= screen
        code |= seen.astype(np.int64) << (_STOP_BITS + number)
    codes, of = np.unique(code, return_inverse=True)
    p = np.bincount(rows.group * len(codes) + of.ravel(), weights=rows.p, minlength=groups * len(codes))
    table = p.reshape(groups, len(codes))
    table /= table.sum(axis=1, keepdims=True)
    visible = (codes[:, None] >> (_STOP_BITS + np.arange(len(signs)))[None, :] & 1).astype(bool)
    return Totals(codes & ((1 << _STOP_BITS) - 1), visible, table)


_STOP_BITS = 12
_ROUNDING = 1e-12
