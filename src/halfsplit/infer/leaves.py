"""From a root to its table: what the whole log says of one fault, before any other fault is looked at.

A root's table has one row for each way in which it may have gone through the log: the codes that it left on
the open readings and the state that it is in now, with the probability of that way.  Readings that it can
only contradict, never explain, cost one multiplication.  All roots are walked through the log together.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from halfsplit.infer.classes import WORD_BITS
from halfsplit.infer.draws import AS_WRITTEN, Draws, Numbers, count_up
from halfsplit.infer.fields import Field
from halfsplit.model.arrays import Bools, Floats, Ints
from halfsplit.model.evidence import Context, Root

STATE_BITS = 14
"""Bits of a state beside a word of codes, which leaves them free."""

MAX_JOINT = 64
"""Joint values of the contexts of one group that are kept; the likeliest ones."""


@dataclass(frozen=True)
class Packing:
    """Where each field's code lies.

    Args:
        word, shift: for each field its word and its lowest bit in it.
        words: how many words a code takes, at least 1.
        or_mask: shape (words,): the bits that are joined by OR.
        dead_mask, dead_low, dead_guard: shape (words,): ((code & mask) + low) & guard is not 0 exactly when
            some field has all its bits set.
    """

    fields: tuple[Field, ...]
    word: tuple[int, ...]
    shift: tuple[int, ...]
    words: int
    or_mask: Ints
    dead_mask: Ints
    dead_low: Ints
    dead_guard: Ints

    def code_of(self, codes: Ints, field: int) -> Ints:
        """Return the code of one field out of packed codes of shape (rows, words)."""
        return (codes[:, self.word[field]] >> self.shift[field]) & ((1 << self.fields[field].bits) - 1)

    def place_of(self, codes: Ints, field: int) -> Ints:
        """Return the place of the code of one field among the field's codes, out of packed codes."""
        return self.fields[field].place(self.code_of(codes, field))

    def clear(self, codes: Ints, field: int, rows: Bools) -> None:
        """Set the code of one field to 0 in some rows of ``codes``, in place."""
        mask = ((1 << self.fields[field].bits) - 1) << self.shift[field]
        codes[rows, self.word[field]] &= ~mask


def pack(fields: Sequence[Field]) -> Packing:
    """Lay the codes of fields side by side in as few words as hold them."""
    word, shift = [], []
    at = 0
    w = 0
    for field in fields:
        width = field.bits + field.has_dead
        if at + width > WORD_BITS:
            w, at = w + 1, 0
        word.append(w)
        shift.append(at)
        at += width
    masks = np.zeros((4, w + 1), dtype=np.int64)
    for field, own, low in zip(fields, word, shift, strict=True):
        full = ((1 << field.bits) - 1) << low
        if field.join is None:
            masks[0, own] |= full
        if field.has_dead and field.bits:
            masks[1, own] |= full
            masks[2, own] |= 1 << low
            masks[3, own] |= 1 << (low + field.bits)
    return Packing(tuple(fields), tuple(word), tuple(shift), w + 1, masks[0], masks[1], masks[2], masks[3])


@dataclass(frozen=True)
class Leaves:
    """The tables of all roots of one component.

    Args:
        root: shape (rows,): the root's place in the component.
        given: shape (rows,): the joint value of the contexts, or 0 for a root that hangs on none.
        codes: shape (rows, words).
        state: shape (rows,): the state at the end of the log.
        weight: shape (rows,), or (rows, draws) when the book's numbers are moved.
    """

    root: Ints
    given: Ints
    codes: Ints
    state: Ints
    weight: Floats


KeepLeaves = Callable[[Leaves, Sequence[int]], Leaves]


@dataclass(frozen=True)
class Step:
    """What one reading's field does to every state of every root of a group.

    Args:
        time: the place of the reading in the log.
        field: the number of the field in the group, or None when it only scales.
        draws: the draws of the group's states.
        norm: shape (states,): what every probability is multiplied by, one number for each root, so that
            long logs do not underflow; ``log_norm`` is the log of what that took out of P.
    """

    time: int
    field: int | None
    draws: Draws
    norm: Floats
    log_norm: float


@dataclass(frozen=True)
class Ways:
    """What moves make of the states of the roots that move.

    Args:
        first: shape (roots,): the first cell of a root that moves, else -1; a cell is a joint context value and a
            state, the state counting fastest.
        many: shape (cells,): how many states follow.
        into, chance: the states that follow, one cell after the other.
    """

    first: Ints
    many: Ints
    into: Ints
    chance: Floats


class Walk:
    """All roots of a component, walked through the log in step.

    Args:
        roots: the roots.
        contexts: the contexts of the component, in order; joint values count with the last one fastest.

    Attributes:
        kept: the joint values kept, the likeliest MAX_JOINT; g numbers these.
        p_given: shape (g,): their probabilities; what is missing to 1 was left out.
    """

    def __init__(self, roots: Sequence[Root], contexts: Sequence[Context]) -> None:
        self.roots = tuple(roots)
        self.contexts = tuple(contexts)
        self.sizes = {context.id: len(context.values) for context in contexts}
        p = np.ones(1)
        for context in contexts:
            p = (p[:, None] * np.asarray(context.p)[None, :]).ravel()
        self.kept = np.sort(np.argsort(-p, kind="stable")[:MAX_JOINT])
        self.p_given = p[self.kept]
        self.joint = len(self.kept)
        self.is_bound = [bool(root.given) or any(move.given for move in root.moves) for root in roots]
        counts = [len(root.states) for root in roots]
        self.offset = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
        self.states = int(self.offset[-1])
        self.root_of = np.repeat(np.arange(len(roots)), counts)
        self._ways: dict[tuple[tuple[int, int], ...], Ways] = {}

    def over_contexts(self, array: Floats, given: tuple[str, ...]) -> Floats:
        """Return an array over the named contexts as one over the joint value g; shape (g, ...)."""
        if not given:
            return np.broadcast_to(array, (self.joint, *array.shape))
        order = [context.id for context in self.contexts]
        own = array.shape[len(given) :]
        axes = sorted(range(len(given)), key=lambda i: order.index(given[i]))
        moved = np.transpose(array, [*axes, *range(len(given), array.ndim)])
        shape = [self.sizes[name] if name in given else 1 for name in order]
        full = [self.sizes[name] for name in order]
        spread = np.broadcast_to(moved.reshape(*shape, *own), (*full, *own))
        return spread.reshape(-1, *own)[self.kept]

    @cached_property
    def as_written(self) -> Leaves:
        """The first rows, with the book's numbers as they are written."""
        return self.start(AS_WRITTEN)

    def start(self, numbers: Numbers) -> Leaves:
        """Return the first rows: one for each root, joint context value (if it matters) and state."""
        root, given, state, weight = [], [], [], []
        for i, item in enumerate(self.roots):
            p = self.over_contexts(np.asarray(item.start, dtype=np.float64), item.given)
            for g in range(self.joint if self.is_bound[i] else 1):
                moved = _moved_start(p[g], item.word, numbers)
                for s in range(len(item.states)):
                    if p[g, s] > 0:
                        root.append(i)
                        given.append(g)
                        state.append(s)
                        weight.append(moved[s])
        rows = len(root)
        return Leaves(
            np.array(root, dtype=np.int64),
            np.array(given, dtype=np.int64),
            np.zeros((rows, 1), dtype=np.int64),
            np.array(state, dtype=np.int64),
            np.array(weight, dtype=np.float64),
        )

    def step(self, time: int, number: int | None, draws: Draws) -> Step:
        """Return the step of a field, given the draws of the group's states."""
        living = draws.living if draws.living.ndim == 1 else draws.living.mean(axis=1)
        most = np.maximum.reduceat(living, self.offset[:-1])
        most[most == 0] = 1.0
        norm = np.repeat(1.0 / most, np.diff(self.offset))
        return Step(time, number, draws, norm, float(np.log(most).sum()))

    def likeness(self, steps: Sequence[Step], packing: Packing) -> list[int]:
        """Return the roots ordered so that those which leave alike codes are neighbours."""
        words = packing.words
        union = np.zeros((len(self.roots), words), dtype=np.int64)
        likeliest = np.zeros((len(self.roots), words), dtype=np.int64)
        for step in steps:
            if step.field is None:
                continue
            state, code, chance = step.draws.listed()
            w, shift = packing.word[step.field], packing.shift[step.field]
            np.bitwise_or.at(union[:, w], self.root_of[state], code << shift)
            acting = np.flatnonzero(code)
            rising = acting[np.argsort(chance[acting], kind="stable")]
            own = np.zeros(len(self.roots), dtype=np.int64)
            own[self.root_of[state[rising]]] = code[rising] << shift  # the last one written is the likeliest
            likeliest[:, w] |= own
        keys = [likeliest[:, w] for w in range(words)] + [union[:, w] for w in range(words)]
        return [int(i) for i in np.lexsort(keys)]

    @cached_property
    def matrices(self) -> tuple[tuple[Floats, ...], ...]:
        """For each root and each of its moves the matrix over joint context values; shape (g, S, S)."""
        return tuple(
            tuple(self.over_contexts(np.asarray(move.matrix, dtype=np.float64), move.given) for move in root.moves)
            for root in self.roots
        )

    def ways(self, now: Sequence[tuple[int, int]]) -> "Ways":
        """Return what moves of several roots make of each of their states; kept, as every walk asks the same.

        Args:
            now: pairs of a root and the number of its move, each root once.
        """
        key = tuple(now)
        if key not in self._ways:
            first = np.full(len(self.roots), -1, dtype=np.int64)
            many, into, chance = [], [], []
            cells = 0
            for i, n in key:
                matrix = self.matrices[i][n]
                first[i] = cells
                cells += matrix.shape[0] * matrix.shape[1]
                _, _, states = np.nonzero(matrix)
                many.append(np.count_nonzero(matrix, axis=2).ravel())
                into.append(states)
                chance.append(matrix[matrix != 0])
            self._ways[key] = Ways(first, np.concatenate(many), np.concatenate(into), np.concatenate(chance))
        return self._ways[key]

    def moves(self) -> list[tuple[int, int, int]]:
        """Return (time, root, number of its move) of all moves, in order of time."""
        return sorted((move.time, i, n) for i, root in enumerate(self.roots) for n, move in enumerate(root.moves))


def _moved_start(p: Floats, word: str, numbers: Numbers) -> list[Floats | float]:
    """Return start probabilities with the chance of being there at all moved."""
    present = float(p[1:].sum())
    moved = numbers.move(present, word)
    if not numbers.draws:
        return [float(x) for x in p]
    scale = np.broadcast_to(np.asarray(moved), (numbers.draws,)) / present if present > 0 else np.ones(numbers.draws)
    absent = (1.0 - scale * present) / p[0] if p[0] > 0 else np.ones(numbers.draws)
    return [p[0] * absent, *(x * scale for x in p[1:])]


def walk_log(
    walk: Walk,
    steps: Sequence[Step],
    packing: Packing,
    *,
    inside: frozenset[int] | None = None,
    numbers: Numbers = AS_WRITTEN,
    keep: KeepLeaves | None = None,
) -> Leaves:
    """Walk all roots through the log and return their tables.

    Args:
        walk: the roots.
        steps: one for each field, in order of time.
        packing: where the codes go.
        inside: the fields that keep their codes; the others only scale by P(not dead).  None = all.
        numbers: the book's numbers, as written or moved.
        keep: what to keep when the table grows; called after each step with the rows and the fields done.

    Returns:
        The tables, equal rows merged, sorted by (root, given, codes, state).
    """
    leaves = walk.start(numbers) if numbers.draws else walk.as_written
    if packing.words > 1:
        leaves = Leaves(
            leaves.root,
            leaves.given,
            np.zeros((len(leaves.root), packing.words), dtype=np.int64),
            leaves.state,
            leaves.weight,
        )
    pending = walk.moves()
    done: list[int] = []
    for step in steps:
        while pending and pending[0][0] <= step.time:
            leaves = _move(walk, leaves, pending, step.time)
        place = walk.offset[leaves.root] + leaves.state
        if step.field is None or (inside is not None and step.field not in inside):
            weight = scaled(leaves.weight * step.draws.living[place], step.norm[place])
            leaves = Leaves(leaves.root, leaves.given, leaves.codes, leaves.state, weight)
            continue
        many = step.draws.many[place]
        row = np.repeat(np.arange(len(place)), many)
        option = step.draws.first[place][row] + count_up(many)
        codes = leaves.codes[row]
        codes[:, packing.word[step.field]] |= step.draws.code[option] << packing.shift[step.field]
        leaves = Leaves(
            leaves.root[row],
            leaves.given[row],
            codes,
            leaves.state[row],
            scaled(leaves.weight[row] * step.draws.chance[option], step.norm[place][row]),
        )
        done.append(step.field)
        if keep is not None:
            leaves = keep(leaves, done)
    while pending:
        leaves = _move(walk, leaves, pending, np.inf)
    return merged(leaves)


def scaled(weight: Floats, factor: Floats) -> Floats:
    """Multiply weights of shape (rows,) or (rows, draws) by one factor a row."""
    return weight * (factor if weight.ndim == 1 else factor[:, None])


def _move(walk: Walk, leaves: Leaves, pending: list[tuple[int, int, int]], time: float) -> Leaves:
    """Apply the next pending moves up to a time, one of each root at most, and merge equal rows."""
    now: dict[int, int] = {}
    later = []
    for at, i, n in pending:
        if at > time or i in now:
            later.append((at, i, n))
        else:
            now[i] = n
    pending[:] = later
    ways = walk.ways(list(now.items()))
    first = ways.first[leaves.root]
    states = np.diff(walk.offset)[leaves.root]
    cell = np.where(first < 0, 0, first + leaves.given * states + leaves.state)
    many = np.where(first < 0, 1, ways.many[cell])
    row = np.repeat(np.arange(len(many)), many)
    moves = first[row] >= 0
    option = (np.cumsum(ways.many) - ways.many)[cell][row] + count_up(many)
    option = np.where(moves, option, 0)
    state = np.where(moves, ways.into[option], leaves.state[row])
    weight = scaled(leaves.weight[row], np.where(moves, ways.chance[option], 1.0))
    return merged(Leaves(leaves.root[row], leaves.given[row], leaves.codes[row], state, weight))


def merged(leaves: Leaves) -> Leaves:
    """Add up rows that are equal in all but weight, and sort them."""
    line = leaves.root * (int(leaves.given.max(initial=0)) + 1) + leaves.given
    last = leaves.codes[:, 0] << STATE_BITS | leaves.state
    columns = [last, *(leaves.codes[:, w] for w in range(1, leaves.codes.shape[1])), line]
    order = np.lexsort(columns)
    new = np.zeros(len(order), dtype=bool)
    new[:1] = True
    for column in columns:
        ordered = column[order]
        new[1:] |= ordered[1:] != ordered[:-1]
    starts = np.flatnonzero(new)
    first = order[starts]
    weight = np.add.reduceat(leaves.weight[order], starts, axis=0) if len(starts) else leaves.weight
    return Leaves(leaves.root[first], leaves.given[first], leaves.codes[first], leaves.state[first], weight)
