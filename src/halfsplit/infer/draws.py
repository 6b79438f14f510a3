"""What one field makes of every state of every root: which codes it may leave, and how likely."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.infer.fields import Field
from halfsplit.model.arrays import Floats, Ints
from halfsplit.model.evidence import Acts


@dataclass(frozen=True)
class Numbers:
    """The book's numbers as they are, or moved: one factor for each strength word and draw.

    Args:
        shift: word -> shape (draws,): what is added to the log odds of every number with that word.
        draws: how many draws; 0 = the numbers as they are.
    """

    shift: Mapping[str, Floats]
    draws: int = 0

    def move(self, p: float, word: str) -> Floats | float:
        """Return probability ``p`` moved by its word's shift; 0 and 1 stay."""
        if not self.draws or word not in self.shift or not 0.0 < p < 1.0:
            return p
        odds = p / (1.0 - p) * np.exp(self.shift[word])
        return odds / (1.0 + odds)

    def in_parts(self, most: int) -> Iterator["Numbers"]:
        """Yield the draws in their order, so many of them at a time at most."""
        for begin in range(0, self.draws, most):
            shift = {word: moved[begin : begin + most] for word, moved in self.shift.items()}
            yield Numbers(shift, min(most, self.draws - begin))


AS_WRITTEN = Numbers({})


@dataclass(frozen=True)
class Draws:
    """The draws of many states as a table in rows: state s has the rows first[s] .. first[s] + many[s].

    Args:
        first, many: shape (states,).
        living: shape (states, ...): P(not dead).
        code: shape (rows,).
        chance: shape (rows, ...); the last axis is there when the book's numbers are moved.
    """

    first: Ints
    many: Ints
    living: Floats
    code: Ints
    chance: Floats

    def take(self, states: Ints) -> "Draws":
        """Return the draws of these states."""
        return Draws(self.first[states], self.many[states], self.living[states], self.code, self.chance)

    def listed(self) -> tuple[Ints, Ints, Floats]:
        """Return all draws as (state, code, chance), in the order of the states."""
        state = np.repeat(np.arange(len(self.many)), self.many)
        row = np.repeat(self.first, self.many) + count_up(self.many)
        return state, self.code[row], self.chance[row]


def count_up(many: Ints) -> Ints:
    """Return 0 .. many[i]-1 for each i, one after the other."""
    ends = np.cumsum(many)
    return np.arange(int(ends[-1]) if len(ends) else 0) - np.repeat(ends - many, many)


def draw_states(field: Field, acts: Sequence[Acts | None], numbers: Numbers = AS_WRITTEN) -> Draws:
    """Compile what a field makes of each state.

    Args:
        field: the field.
        acts: for each state what it does in one run; None = nothing.
        numbers: the book's numbers, as written or moved.
    """
    shape = (numbers.draws,) if numbers.draws else ()
    first = np.zeros(len(acts), dtype=np.int64)
    many = np.ones(len(acts), dtype=np.int64)
    living = np.ones((len(acts), *shape))
    code: list[int] = [0]
    chance: list[Floats | float] = [np.ones(shape) if shape else 1.0]
    known: dict[int, tuple[int, int, Floats | float]] = {}
    for s, act in enumerate(acts):
        if act is None:
            continue
        if id(act) not in known:
            drawn = field.draws(act, numbers.move(sum(p for p, _ in act.outcomes), act.word))
            known[id(act)] = (len(code), len(drawn), sum(p for _, p in drawn))
            for c, p in drawn:
                code.append(c)
                chance.append(np.broadcast_to(p, shape) if shape else p)
        first[s], many[s], living[s] = known[id(act)]
    return Draws(first, many, living, np.array(code, dtype=np.int64), np.array(chance, dtype=np.float64))
