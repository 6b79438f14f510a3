"""Fewer moves for the same question: what happens to a root between two readings is one matrix.

A question that leaves out most readings has long stretches of log without one.  The moves of a root on such a
stretch follow each other unseen, so that their matrices multiply; those after the last reading change what is
there now, and not the probability of what was read.
"""

from bisect import bisect_left
from collections.abc import Collection, Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np

from halfsplit.infer.components import Compiled
from halfsplit.model.arrays import Floats
from halfsplit.model.evidence import Move, Root


def merge_moves(compiled: Compiled, readings: Collection[str], *, to_the_end: bool) -> Compiled:
    """Return the evidence with the moves between the readings of a question merged.

    Args:
        compiled: the evidence.
        readings: ids of the readings of the question.
        to_the_end: whether the states at the end of the log are asked for; if not, moves after the last reading
            are left out.
    """
    times = sorted({reading.time for reading in compiled.evidence.readings if reading.id in readings})
    return replace(compiled, roots=tuple(_merged(root, times, to_the_end=to_the_end) for root in compiled.roots))


def _merged(root: Root, times: Sequence[int], *, to_the_end: bool) -> Root:
    if not root.moves:
        return root
    moves = []
    for seen, unseen in groupby(root.moves, key=lambda move: bisect_left(times, move.time)):
        if seen < len(times) or to_the_end:
            moves.append(_product(list(unseen)))
    return replace(root, moves=tuple(moves))


def _product(moves: Sequence[Move]) -> Move:
    """Return moves that follow each other as one."""
    if len(moves) == 1:
        return moves[0]
    given = tuple(dict.fromkeys(name for move in moves for name in move.given))
    matrix = _over(moves[0], given)
    for move in moves[1:]:
        matrix = matrix @ _over(move, given)
    return Move(moves[-1].time, matrix, given)


def _over(move: Move, given: tuple[str, ...]) -> Floats:
    """Return the matrix of a move with one leading axis for each of these contexts; 1 long where it does not matter."""
    own = [name for name in given if name in move.given]
    matrix = np.asarray(move.matrix, dtype=np.float64)
    axes = [move.given.index(name) for name in own]
    sizes = [matrix.shape[move.given.index(name)] if name in own else 1 for name in given]
    states = matrix.shape[-2:]
    return np.transpose(matrix, [*axes, matrix.ndim - 2, matrix.ndim - 1]).reshape(*sizes, *states)
