"""Samples of all roots, drawn exactly: from the top of the tree down, or from one root up and down again."""

import numpy as np
from numpy.typing import NDArray

from halfsplit.infer.program import Solved
from halfsplit.model.arrays import Floats, Ints, Rows


class _Choice:
    """Draws an item of a bucket, in proportion to its weight; buckets are numbered."""

    def __init__(self, bucket: Ints | Rows, weight: Floats, buckets: int) -> None:
        self.order = np.argsort(bucket, kind="stable")
        self.total = np.concatenate([[0.0], np.cumsum(weight[self.order])])
        self.first = np.searchsorted(bucket[self.order], np.arange(buckets + 1))

    def draw(self, bucket: Ints | Rows, rng: np.random.Generator) -> Ints:
        low, high = self.total[self.first[bucket]], self.total[self.first[bucket + 1]]
        at = np.searchsorted(self.total, low + spread_out(bucket, rng) * (high - low), side="right") - 1
        # rounding must not leave the bucket, nor end on an item of no weight
        item: Ints = self.order[np.clip(at, self.first[bucket], self.first[bucket + 1] - 1)]
        return item


def spread_out(bucket: Ints | Rows, rng: np.random.Generator) -> Floats:
    """Return a number in [0, 1) for each draw, those of one bucket evenly spread and in random order, shape (N,).

    Latin hypercube sampling (McKay, Beckman and Conover, Technometrics 21, 1979): each draw alone is as if it were
    random, and together they come closer to what is to be drawn.
    """
    many = len(bucket)
    order = rng.permutation(many)
    order = order[np.argsort(bucket[order], kind="stable")]
    begin = np.flatnonzero(np.r_[True, np.diff(bucket[order]) != 0]) if many else order
    sizes = np.diff(np.append(begin, many))
    found = np.empty(many)
    found[order] = (np.arange(many) - np.repeat(begin, sizes) + rng.random(many)) / np.repeat(sizes, sizes)
    return found


def sample_group(solved: Solved, wanted: Ints, rng: np.random.Generator) -> NDArray[np.int16]:
    """Draw the states of all roots of a group now, given all readings.

    Args:
        solved: the group, run.
        wanted: shape (K,): for each sample the root that must be there now, or -1.
        rng: the generator.

    Returns:
        Shape (K, roots of the group).
    """
    program, up, leaves = solved.program, solved.likely, solved.leaves
    samples = len(wanted)
    levels = len(up.tables)
    # rows still to be taken apart, for each level: (sample, row)
    waiting: list[list[tuple[Ints, Rows]]] = [[] for _ in range(levels)]
    top_row = np.empty(samples, dtype=np.int32)
    states = np.zeros((samples, len(program.group.roots)), dtype=np.int16)

    plain = np.flatnonzero(wanted < 0)
    whole = _Choice(np.zeros(len(up.tables[-1].node), dtype=np.int64), up.tables[-1].alpha * solved.top, 1)
    top_row[plain] = whole.draw(np.zeros(len(plain), dtype=np.int64), rng)
    waiting[-1].append((plain, top_row[plain]))

    given = np.flatnonzero(wanted >= 0)
    if len(given):
        here = leaves.state > 0
        start = _Choice(leaves.root[here], solved.row_share[here], len(program.group.roots))
        leaf = np.flatnonzero(here)[start.draw(wanted[given], rng)]
        row = solved.row[leaf]
        for level in range(levels - 1):
            row, beside = _climb(solved, level, row, rng)
            met = beside >= 0
            waiting[level].append((given[met], beside[met]))
        top_row[given] = row

    rows, who = _descend(solved, waiting, rng)
    g = _draw_given(solved, top_row, rng)
    _draw_silent(solved, states, g, rng)
    # roots that left a code
    pick = _Choice(solved.row, leaves.weight, len(up.tables[0].node))
    chosen = pick.draw(rows, rng)
    states[who, leaves.root[chosen]] = leaves.state[chosen]
    if len(given):
        states[given, wanted[given]] = leaves.state[leaf]
    return states


def _climb(solved: Solved, level: int, row: Rows, rng: np.random.Generator) -> tuple[Rows, Rows]:
    """From rows of a level draw the rows above that they went into, and the rows beside them (-1 = none)."""
    joined, table, beta = solved.likely.joined[level], solved.up.tables[level], solved.betas[level + 1]
    flow = beta[joined.into] * joined.chance
    two = np.flatnonzero(joined.right >= 0)
    as_left = flow.copy()
    as_left[two] *= table.alpha[joined.right[two]]
    as_right = flow[two] * table.alpha[joined.left[two]]
    child = np.concatenate([joined.left, joined.right[two]])
    beside = np.concatenate([joined.right, joined.left[two]])
    record = np.concatenate([np.arange(len(flow)), two])
    item = _Choice(child, np.concatenate([as_left, as_right]), len(table.node)).draw(row, rng)
    return joined.into[record[item]], beside[item]


def _descend(solved: Solved, waiting: list[list[tuple[Ints, Rows]]], rng: np.random.Generator) -> tuple[Rows, Ints]:
    """Take rows apart down to the leaves; silent rows need not be: all below them left no code.

    Returns:
        The rows of level 0 that left a code, and for each the sample it belongs to.
    """
    up = solved.likely
    for level in range(len(up.tables) - 1, 0, -1):
        joined, below = up.joined[level - 1], up.tables[level - 1]
        who = np.concatenate([who for who, _ in waiting[level]]) if waiting[level] else np.zeros(0, dtype=np.int64)
        row = np.concatenate([row for _, row in waiting[level]]) if waiting[level] else np.zeros(0, dtype=np.int32)
        loud = ~solved.is_silent[level][row]
        who, row = who[loud], row[loud]
        weight = below.alpha[joined.left] * joined.chance
        two = np.flatnonzero(joined.right >= 0)
        weight[two] *= below.alpha[joined.right[two]]
        record = _Choice(joined.into, weight, len(up.tables[level].node)).draw(row, rng)
        left, right = joined.left[record], joined.right[record]
        met = right >= 0
        waiting[level - 1] += [(who, left), (who[met], right[met])]
    who = np.concatenate([who for who, _ in waiting[0]]) if waiting[0] else np.zeros(0, dtype=np.int64)
    row = np.concatenate([row for _, row in waiting[0]]) if waiting[0] else np.zeros(0, dtype=np.int32)
    loud = ~solved.is_silent[0][row]
    return row[loud], who[loud]


def _draw_given(solved: Solved, top_row: Rows, rng: np.random.Generator) -> Ints:
    """Draw the joint context value of each sample."""
    table = solved.up.tables[-1]
    own = solved.program.plan.top_given[table.node[top_row]]
    if solved.program.walk.joint == 1 or (own >= 0).all():
        return np.maximum(own, 0)
    weight = np.cumsum(solved.program.given_weights(table.codes[top_row]), axis=1)
    g: Ints = (rng.random(len(top_row))[:, None] * weight[:, -1:] > weight).sum(axis=1)
    return g


def _draw_silent(solved: Solved, states: NDArray[np.int16], g: Ints, rng: np.random.Generator) -> None:
    """Draw the states of all roots as if each had left no code; those that did are written over later."""
    walk, leaves = solved.program.walk, solved.leaves
    silent = ~leaves.codes.any(axis=1)
    roots = len(walk.roots)
    weight = np.zeros((walk.joint, walk.states))
    place = walk.offset[leaves.root[silent]] + leaves.state[silent]
    bound = np.array(walk.is_bound, dtype=bool)[leaves.root[silent]]
    np.add.at(weight, (leaves.given[silent], place), leaves.weight[silent])
    if walk.joint > 1:
        free = place[~bound]
        weight[:, free] = weight[0, free]
    first = walk.offset[:-1]
    total = np.add.reduceat(weight, first, axis=1)
    absent = np.divide(weight[:, first], total, out=np.ones_like(total), where=total > 0)
    evenly = (np.tile(np.arange(len(g)), (roots, 1)) + rng.random((roots, len(g)))) / max(1, len(g))
    hits = absent[g] <= rng.permuted(evenly, axis=1).T
    sample, root = np.nonzero(hits)
    chance = rng.random(len(sample))
    sizes = np.diff(walk.offset) - 1  # of each root, the states in which it is there
    turn = np.arange(int(sizes.max(initial=1)))
    place = np.minimum(walk.offset[:-1, None] + 1 + turn, walk.states - 1)
    p = np.cumsum(np.where(turn < sizes[:, None], weight[:, place], 0.0), axis=2)[g[sample], root]
    state = (chance[:, None] * p[:, -1:] >= p).sum(axis=1)
    states[sample, root] = 1 + np.minimum(state, sizes[root] - 1)
