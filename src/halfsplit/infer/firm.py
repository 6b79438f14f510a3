"""How firm a suspicion is: the book's numbers moved within their spreads, and everything weighed again.

Every number of the book has a strength word and a spread, the standard deviation of its log odds.  One draw
moves each word by spread x z, z standard normal, and with it every number that was written with that word: the
chance to be there at all, or to act at all.  Numbers that share a word move together, because whoever was wrong
about one "often" was wrong about all of them.

A draw changes probabilities and no codes, so that each draw is a replay of joins that are known already: the
rows of the tables are the same, only their weights are not.  Many draws are replayed at once, the draws lying
side by side in the last axis.

A replay costs (pairs of rows joined) x (draws).  Where that is more than ``WHOLE_PRODUCTS``, only those pairs
take part that carry at least ``LEAST_SHARE`` of the answer, and the leaves are walked for their rows only: after
each reading a row of leaves goes that cannot become one of them, by its root, its context value and the codes it
has left so far.  What is found is then scaled so that the numbers as written give the exact answer.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from halfsplit.infer.draws import Numbers, draw_states
from halfsplit.infer.joins import Joined, Table, Up, add_up, pass_down, replay
from halfsplit.infer.leaves import Leaves, Step
from halfsplit.infer.posterior import Posterior
from halfsplit.infer.program import Program, Solved
from halfsplit.model.arrays import Floats, Ints, Rows
from halfsplit.model.evidence import Acts

DRAWS = 200
"""Draws of the book's numbers."""

LOW, MIDDLE, HIGH = 0.05, 0.5, 0.95
"""The shares of the draws below the ends and the middle of a range."""

WHOLE_PRODUCTS = 600_000
"""Pairs joined x draws up to which a group is replayed whole."""

DRAWS_AT_ONCE = 100
"""Draws of a larger group that are replayed side by side: what that takes in its midst is so many times its leaves."""

LEAST_SHARE = 1e-6
"""Pairs, and rows of leaves, with a smaller share of the answer take no part in a larger group."""


@dataclass(frozen=True)
class Range:
    """Where P(there now) lies when the book's numbers are moved: its 5 %, 50 % and 95 % points."""

    low: float
    median: float
    high: float


def move_numbers(spreads: Mapping[str, float], *, draws: int = DRAWS, seed: int = 0) -> Numbers:
    """Draw by how much each strength word moves.

    Args:
        spreads: word -> standard deviation of its log odds.
        draws: how many draws.
        seed: the same seed gives a word the same draws, whatever other words there are.
    """
    shift = {
        word: spread * np.random.default_rng([seed, crc32(word.encode())]).standard_normal(draws)
        for word, spread in spreads.items()
    }
    return Numbers(shift, draws)


def how_firm(posterior: Posterior, *, draws: int = DRAWS, seed: int = 0) -> dict[str, Range]:
    """Return for each root where P(there now) lies when the book's numbers are moved.

    Args:
        posterior: the answer with the numbers as written; P(readings) must not be 0.
        draws: how many draws.
        seed: of the draws.
    """
    moved = moved_p_faults(posterior, move_numbers(posterior.evidence.spreads, draws=draws, seed=seed))
    ends = np.quantile(moved, [LOW, MIDDLE, HIGH], axis=1).T
    return {root.id: Range(*map(float, three)) for root, three in zip(posterior.evidence.roots, ends, strict=True)}


def moved_p_faults(posterior: Posterior, numbers: Numbers) -> Floats:
    """Return P(there now) of every root for each draw of the numbers; shape (R, draws).

    Args:
        posterior: the answer with the numbers as written.
        numbers: the draws.
    """
    found: dict[str, Floats] = {}
    for group in posterior.groups:
        p = _moved_group(group, numbers)
        for i, root in enumerate(group.program.group.roots):
            found[root.id] = p[i]
    return np.clip([found[root.id] for root in posterior.evidence.roots], 0.0, 1.0)


def _moved_group(solved: Solved, numbers: Numbers) -> Floats:
    """Return P(there now) of each root of one group for each draw; shape (roots, draws)."""
    program = solved.program
    many = len(program.group.roots)
    if numbers.draws * sum(len(joined.into) for joined in solved.up.joined) <= WHOLE_PRODUCTS:
        leaves, row, up, top = solved.leaves, solved.row, solved.up, solved.top
        weight = _matched(program.walk_roots(program.make_steps(numbers), numbers=numbers), leaves)
        there = leaves.state > 0
        return _p_there(leaves.root[there], row[there], weight[there], _betas(up, top, row, weight), many)
    leaves, row, up, top = _slim(solved)
    there = leaves.state > 0
    parts = []
    for few in numbers.in_parts(DRAWS_AT_ONCE):
        steps = _steps_of(program, leaves, few)
        weight = _matched(program.walk_roots(steps, numbers=few, keep=_Leading(program, leaves)), leaves)
        parts.append(_p_there(leaves.root[there], row[there], weight[there], _betas(up, top, row, weight), many))
    p = np.concatenate(parts, axis=1)
    written = leaves.weight[:, None]
    slim = _p_there(leaves.root[there], row[there], written[there], _betas(up, top, row, written), many)[:, 0]
    exact = np.array([solved.p_states(i)[1:].sum() for i in range(many)])
    scale = np.divide(exact, slim, out=np.ones(many), where=slim > 0)
    return np.where((slim > 0)[:, None], p * scale[:, None], exact[:, None])


def _steps_of(program: Program, wanted: Leaves, numbers: Numbers) -> tuple[Step, ...]:
    """Return the steps with moved numbers; of a root that never moves, only for the states that are wanted."""
    walk = program.walk
    used = np.array([bool(root.moves) for root in walk.roots])[walk.root_of]
    used[walk.offset[wanted.root] + wanted.state] = True
    steps = []
    for n, item in enumerate(program.group.fields):
        field = item.compiled.field
        acts: list[Acts | None] = []
        for root in walk.roots:
            acts += root.acts.get(field.reading) or (None,) * len(root.states)
        draws = draw_states(field, [act if is_used else None for act, is_used in zip(acts, used, strict=True)], numbers)
        steps.append(walk.step(item.time, n if field.bits and item.is_own else None, draws))
    return tuple(steps)


def _betas(up: Up, top: Floats, row: Rows, weight: Floats) -> Floats:
    """Return what completes each row of level 0, over P, for each draw; shape (rows, draws)."""
    alphas = replay(up, add_up(row, weight, len(up.tables[0].node)))
    total = (alphas[-1] * top[:, None]).sum(axis=0)
    beta: Floats = pass_down(up, alphas, top)[0] / total
    return beta


def _p_there(root: Ints, row: Rows, weight: Floats, beta: Floats, roots: int) -> Floats:
    return add_up(root, weight * beta[row], roots)


def _slim(solved: Solved) -> tuple[Leaves, Rows, Up, Floats]:
    """Return the leaves, their rows, the joins and the weights at the top, as far as they carry the answer."""
    up, betas = solved.up, solved.betas
    last = up.tables[-1]
    kept = np.flatnonzero(last.alpha * solved.top >= LEAST_SHARE * solved.p)
    top = solved.top[kept]
    tables = [Table(last.node[kept], last.codes[kept], last.alpha[kept])]
    joins: list[Joined] = []
    for level in range(len(up.joined) - 1, -1, -1):
        joined, below, above = up.joined[level], up.tables[level], up.tables[level + 1]
        number = np.full(len(above.node), -1, dtype=np.int32)
        number[kept] = np.arange(len(kept))
        alone = joined.right < 0
        flow = betas[level + 1][joined.into] * joined.chance * below.alpha[joined.left]
        flow *= np.where(alone, 1.0, below.alpha[joined.right])
        record = np.flatnonzero((flow >= LEAST_SHARE * solved.p) & (number[joined.into] >= 0))
        left, right = joined.left[record], joined.right[record]
        used = np.zeros(len(below.node), dtype=bool)
        used[left] = True
        used[right[right >= 0]] = True
        into = number[joined.into[record]]
        kept = np.flatnonzero(used)
        place = np.cumsum(used, dtype=np.int32) - 1
        joins.append(Joined(place[left], np.where(right < 0, np.int32(-1), place[right]), joined.chance[record], into))
        tables.append(Table(below.node[kept], below.codes[kept], below.alpha[kept]))
    number = np.full(len(up.tables[0].node), -1, dtype=np.int32)
    number[kept] = np.arange(len(kept))
    row = number[solved.row]
    stays = np.flatnonzero((row >= 0) & (solved.row_share >= LEAST_SHARE))
    leaves = solved.leaves
    slim = Leaves(
        leaves.root[stays], leaves.given[stays], leaves.codes[stays], leaves.state[stays], leaves.weight[stays]
    )
    return slim, row[stays], Up(up.plan, tuple(reversed(tables)), tuple(reversed(joins))), top


class _Leading:
    """Keeps, while roots are walked, the rows that can still become one of those wanted.

    Rows are compared by a number made of root, context value and codes so far; where two rows share one by
    chance, one too many is walked on.
    """

    def __init__(self, program: Program, wanted: Leaves) -> None:
        self._packing = program.packing
        self._lone = program.lone
        self._wanted = wanted

    def __call__(self, leaves: Leaves, done: Sequence[int]) -> Leaves:
        mask = np.zeros(self._packing.words, dtype=np.int64)
        for f in set(done) - self._lone:
            mask[self._packing.word[f]] |= ((1 << self._packing.fields[f].bits) - 1) << self._packing.shift[f]
        kept = np.isin(_keys(leaves, mask), _keys(self._wanted, mask))
        return Leaves(
            leaves.root[kept], leaves.given[kept], leaves.codes[kept], leaves.state[kept], leaves.weight[kept]
        )


def _keys(leaves: Leaves, mask: Ints) -> NDArray[np.uint64]:
    """Return one number for each row out of root, context value and masked codes."""
    key = _mixed(leaves.root.astype(np.uint64) * np.uint64(1 << 16) + leaves.given.astype(np.uint64))
    for w in range(len(mask)):
        key = _mixed(key ^ (leaves.codes[:, w] & mask[w]).astype(np.uint64))
    return key


def _mixed(key: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Return numbers mixed so that small differences reach every bit (the finaliser of splitmix64)."""
    key = (key ^ (key >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    key = (key ^ (key >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return key ^ (key >> np.uint64(31))


def _matched(moved: Leaves, wanted: Leaves) -> Floats:
    """Return the weights of the wanted rows out of the moved leaves; shape (rows, draws)."""
    columns = [np.concatenate(pair) for pair in zip(_columns(moved), _columns(wanted), strict=True)]
    order = np.lexsort(columns)
    new = np.any([column[order][1:] != column[order][:-1] for column in columns], axis=0)
    number = np.empty(len(order), dtype=np.int64)
    number[order] = np.concatenate([[0], np.cumsum(new)])
    place = np.full(len(order), -1)
    place[number[: len(moved.root)]] = np.arange(len(moved.root))
    weight: Floats = moved.weight[place[number[len(moved.root) :]]]
    return weight


def _columns(leaves: Leaves) -> list[Ints]:
    return [leaves.state, *leaves.codes.T, leaves.given, leaves.root]
