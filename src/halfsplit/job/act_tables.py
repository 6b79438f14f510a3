"""What many roots do in one reading, as flat tables: one line for each effect of each state."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.job.acts import StateActs
from halfsplit.job.cells import Cells
from halfsplit.job.roots import Plan
from halfsplit.model.arrays import Floats, Ints
from halfsplit.model.evidence import Effect

_BITS = 62
"""Bits of a mask that are read at once."""


class EffectNumbers:
    """Numbers for the effects that were ever met, with their stops and bits as tables.

    Args:
        bits: how many bits a mask has.
    """

    def __init__(self, bits: int) -> None:
        self._words = -(-bits // _BITS)
        self._numbers: dict[Effect, int] = {}
        self._tables = (np.zeros(0, dtype=np.int64), self._bits([]), self._bits([]))

    def number(self, effect: Effect) -> int:
        """Return the number of an effect."""
        return self._numbers.setdefault(effect, len(self._numbers))

    def tables(self) -> tuple[Ints, Ints, Ints]:
        """Return stop, what is shown and what is hidden: shapes (E,), (E, bits), (E, bits), bits as 0 or 1."""
        known = len(self._tables[0])
        if known < len(self._numbers):
            new = list(self._numbers)[known:]
            stop = np.array([effect.stop for effect in new], dtype=np.int64)
            every = (stop, self._bits([e.shown for e in new]), self._bits([e.hidden for e in new]))
            stop, shown, hidden = (np.concatenate(both) for both in zip(self._tables, every, strict=True))
            self._tables = (stop, shown, hidden)
        return self._tables

    def _bits(self, masks: Sequence[int]) -> Ints:
        cut = (1 << _BITS) - 1
        packed = [[mask >> _BITS * word & cut for word in range(self._words)] for mask in masks]
        split = np.array(packed, dtype=np.int64).reshape(-1, self._words, 1) >> np.arange(_BITS) & 1
        return split.reshape(-1, self._words * _BITS)


@dataclass(frozen=True)
class ActTable:
    """What roots do: one line for each effect of each state; what is missing to 1 does nothing.

    Args:
        cell: the state's cell, shape (N,).
        effect: the effect's number, shape (N,).
        p: P(effect | state), shape (N,).
        spans: plan, by its identity -> its lines.
    """

    cell: Ints
    effect: Ints
    p: Floats
    spans: Mapping[int, slice]

    def moved(self, matrices: Mapping[int, Floats], cells: Cells) -> "ActTable":
        """Return what roots do after work has moved them: a root that was in state n does what its new state does.

        Args:
            matrices: plan -> what the work does to it, row = state before.
            cells: the cells.
        """
        hit = [name for name in self.spans if name in matrices]
        if not hit:
            return self
        stays = np.ones(len(self.cell), dtype=bool)
        lines: list[tuple[Ints, Ints, Floats]] = []
        for name in hit:
            span, first = self.spans[name], cells.first(name)
            after = matrices[name][:, self.cell[span] - first] * self.p[span]
            before, line = np.nonzero(after)
            stays[span] = False
            lines.append((before + first, self.effect[span][line], after[before, line]))
        cell = np.concatenate([self.cell[stays], *(each for each, _, _ in lines)])
        effect = np.concatenate([self.effect[stays], *(each for _, each, _ in lines)])
        p = np.concatenate([self.p[stays], *(each for _, _, each in lines)])
        return ActTable(cell, effect, p, {})


class ActTableMaker:
    """Makes tables of acts.

    Args:
        cells: the cells.
        effect_numbers: the numbers of effects.
    """

    def __init__(self, cells: Cells, effect_numbers: EffectNumbers) -> None:
        self._cells = cells
        self._effect_numbers = effect_numbers
        self._flat: dict[int, tuple[StateActs, Ints, Ints, Floats]] = {}

    def table(self, acts: Mapping[int, tuple[Plan, StateActs]]) -> ActTable:
        """Return what plans do as one table."""
        flat = [(name, self._of(own)) for name, (_, own) in acts.items()]
        many = [len(each[1]) for _, each in flat]
        ends = np.cumsum(many)
        spans = {name: slice(int(end) - n, int(end)) for (name, _), n, end in zip(flat, many, ends, strict=True)}
        first = np.repeat(np.array([self._cells.first(name) for name, _ in flat], dtype=np.int64), many)
        if not flat:
            none = np.zeros(0, dtype=np.int64)
            return ActTable(none, none, np.zeros(0), spans)
        state, effect, p = (np.concatenate([each[column] for _, each in flat]) for column in (1, 2, 3))
        return ActTable(first + state, effect, p, spans)

    def _of(self, acts: StateActs) -> tuple[StateActs, Ints, Ints, Floats]:
        if id(acts) not in self._flat:
            lines = [
                (state, self._effect_numbers.number(effect), p)
                for state, own in enumerate(acts)
                if own is not None
                for p, effect in own.outcomes
            ]
            state, effect = (np.array([line[n] for line in lines], dtype=np.int64) for n in (0, 1))
            self._flat[id(acts)] = (acts, state, effect, np.array([line[2] for line in lines]))
        return self._flat[id(acts)]
