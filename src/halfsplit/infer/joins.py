"""The program: tables joined two by two up a tree, and back down again.

A node of the tree stands for a set of roots.  Its table has one row for each joint code that these roots can
leave on the open readings, with the probability of leaving it.  The table of a node is the join of the
tables of its two children: all pairs of rows, codes joined by OR, dead pairs dropped, equal codes added up.
At the top every code has its weight, and P(all readings) is the sum.  Only positive numbers are ever added.

All nodes of one level are joined together, so that the cost is in the rows and not in the calls.  Roots that
leave alike codes lie side by side, which keeps the tables small.

Down again, ``beta`` of a row is the probability that everything outside its node completes it.  For each
row, alpha times beta over P is its exact share of the answer.

Roots that hang on a context have one node for each joint value g of the contexts; they meet the others at
the last level, one top node for each g.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from halfsplit.infer.leaves import Packing, Walk
from halfsplit.model.arrays import Bools, Floats, Ints, Rows


class TooManyPairsError(Exception):
    """A level would join more pairs of rows than was allowed; ``pairs`` says how many."""

    def __init__(self, pairs: int) -> None:
        self.pairs = pairs
        super().__init__(pairs)


@dataclass(frozen=True)
class Table:
    """The tables of all nodes of one level.

    Args:
        node: shape (rows,), ascending.
        codes: shape (rows, words).
        alpha: shape (rows,): probability that the roots of the node leave this code.
    """

    node: Rows
    codes: Ints
    alpha: Floats


@dataclass(frozen=True)
class Joined:
    """How the rows of one level came from pairs of rows of the level below.

    Args:
        left, right: rows below; right is -1 where a node was carried up alone.
        chance: of this outcome of the pair (1 but for counts).
        into: the row above.
    """

    left: Rows
    right: Rows
    chance: Floats
    into: Rows


@dataclass(frozen=True)
class Plan:
    """Which nodes meet at which level.

    Args:
        leaf: shape (roots, joint): the node at level 0 of each root and joint context value; a root that
            hangs on no context has the same node for all.
        nodes: how many nodes each level has.
        pairs: for each level the (left, right) nodes below of each node above; right -1 = carried up.
        top_given: for each top node the joint context value it stands for, or -1 for all.
    """

    leaf: Rows
    nodes: tuple[int, ...]
    pairs: tuple[tuple[Ints, Ints], ...]
    top_given: Ints


def plan_joins(walk: Walk, order: Sequence[int]) -> Plan:
    """Return the tree for roots taken in this order."""
    free = [i for i in order if not walk.is_bound[i]]
    bound = [i for i in order if walk.is_bound[i]]
    joint = walk.joint if bound else 1
    leaf = np.zeros((len(order), walk.joint), dtype=np.int32)
    for n, i in enumerate(free):
        leaf[i, :] = n
    for g in range(joint):
        for n, i in enumerate(bound):
            leaf[i, g] = len(free) + g * len(bound) + n
    lines = [list(range(len(free)))] if free else []
    if bound:
        lines += [[len(free) + g * len(bound) + n for n in range(len(bound))] for g in range(joint)]
    nodes = [len(free) + joint * len(bound)]
    pairs = []

    def add_level(couples: list[tuple[int, int]]) -> None:
        pairs.append((np.array([a for a, _ in couples]), np.array([b for _, b in couples])))
        nodes.append(len(couples))

    while max(len(line) for line in lines) > 1:
        couples: list[tuple[int, int]] = []
        above = []
        for line in lines:
            mine = [(line[k], line[k + 1] if k + 1 < len(line) else -1) for k in range(0, len(line), 2)]
            above.append(list(range(len(couples), len(couples) + len(mine))))
            couples += mine
        lines = above
        add_level(couples)
    if free and bound:
        add_level([(lines[0][0], line[0]) for line in lines[1:]])
    top_given = np.arange(joint) if bound else np.array([-1])
    return Plan(leaf, tuple(nodes), tuple(pairs), top_given)


def merge_rows(node: Rows, codes: Ints, alpha: Floats) -> tuple[Table, Rows]:
    """Add up rows of equal node and codes; return the table and for each row given the row it went into."""
    columns: list[Ints | Rows] = [node, *(codes[:, w] for w in range(codes.shape[1]))]
    first, group = find_equal(columns)
    order = np.lexsort([column[first] for column in reversed(columns)])
    rank = np.empty(len(first), dtype=np.int32)
    rank[order] = np.arange(len(first))
    first, into = first[order], rank[group]
    return Table(node[first], codes[first], add_up(into, alpha, len(first))), into


def find_equal(columns: Sequence[Ints | Rows]) -> tuple[Rows, Rows]:
    """Find rows that are equal in all columns, by hashing; much faster than sorting when many are equal.

    Each row writes its number into its slot; all that are equal to the row that stays there belong to it, and
    the others try again with another hash.

    Returns:
        For each group one of its rows, and for each row its group.
    """
    rows = len(columns[0])
    group = np.empty(rows, dtype=np.int32)
    firsts = [np.zeros(0, dtype=np.int32)]
    many = 0
    left = np.arange(rows, dtype=np.int32)
    salt = 0
    while len(left):
        bits = max(4, (2 * len(left)).bit_length())
        slots = np.zeros(len(left), dtype=np.uint64)
        for column in columns:
            slots = (slots ^ column[left].astype(np.uint64)) * _ODD + np.uint64(salt)
        slots >>= np.uint64(64 - bits)
        owner = np.empty(1 << bits, dtype=np.int32)
        owner[slots] = left
        mine = owner[slots]
        same = np.ones(len(left), dtype=bool)
        for column in columns:
            same &= column[mine] == column[left]
        owners = left[mine == left]
        number = np.empty(rows, dtype=np.int32)
        number[owners] = np.arange(many, many + len(owners))
        group[left[same]] = number[mine[same]]
        firsts.append(owners)
        many += len(owners)
        left = left[~same]
        salt += 1
    return np.concatenate(firsts), group


_ODD = np.uint64(0x9E3779B97F4A7C15)
"""2**64 over the golden ratio: multiplying by it spreads the bits (Knuth, The Art of Computer Programming 3, 6.4)."""


@dataclass(frozen=True)
class Pairs:
    """Pairs of rows that are to be joined.

    Args:
        above: the node that they go into.
        left, right: the rows; right is -1 where a node is carried up alone.
        factor: what a pair counts; None = 1 each.
    """

    above: Rows
    left: Rows
    right: Rows
    factor: Floats | None = None


class Keep(Protocol):
    """Chooses what of a large program is worked out."""

    def pairs(self, table: Table, level: int) -> Pairs:
        """Return the pairs of rows of a level that are joined."""

    def rows(self, table: Table, level: int) -> Floats:
        """Return what each row of a level is multiplied by; 0 drops it."""


def count_pairs(node: Rows, nodes: int, pairs: tuple[Ints, Ints]) -> int:
    """Return how many pairs of rows all joined nodes have together; a row carried up alone counts as one."""
    many = np.bincount(node, minlength=nodes)
    left, right = pairs
    return int((many[left] * np.where(right < 0, 1, many[right])).sum())


def number_pairs(node: Rows, nodes: int, pairs: tuple[Ints, Ints]) -> tuple[Rows, Rows, Rows]:
    """Return all pairs of rows of joined nodes as (node above, left row, right row or -1).

    Args:
        node: shape (rows,), ascending: the node of each row.
        nodes: how many nodes the level has.
        pairs: the nodes that meet.
    """
    many = np.bincount(node, minlength=nodes)
    first = np.cumsum(many) - many
    left, right = pairs
    above_of_row, row = spread_out(first[left], many[left])
    own = right[above_of_row]
    alone = own < 0
    which, row_right = spread_out(np.where(alone, -1, first[own]), np.where(alone, 1, many[own]))
    return above_of_row[which], row[which], row_right


def spread_out(first: Ints, many: Ints) -> tuple[Rows, Rows]:
    """Return first[i] .. first[i] + many[i] - 1 for each i, one after the other, as (i, number)."""
    which = np.repeat(np.arange(len(many), dtype=np.int32), many)
    number = np.repeat((first - (np.cumsum(many) - many)).astype(np.int32), many)
    number += np.arange(len(which), dtype=np.int32)
    return which, number


def join_codes(table: Table, left: Rows, right: Rows, packing: Packing) -> tuple[Ints, Ints, Floats]:
    """Join pairs of rows; return (which pair, joined codes, chance), dead ones dropped.

    A pair gives several rows where a lot of equal runs is joined.
    """
    living = np.ones(len(left), dtype=bool)
    words = []
    for w in range(packing.words):
        own = np.append(table.codes[:, w] & packing.or_mask[w], 0)  # row -1 is one without any code
        word = own.take(left) | own.take(right)
        if packing.dead_guard[w]:
            living &= (((word & packing.dead_mask[w]) + packing.dead_low[w]) & packing.dead_guard[w]) == 0
        words.append(word)
    which = np.flatnonzero(living)
    codes = np.stack([word.take(which) for word in words], axis=1)
    chance = np.ones(len(which))
    for f, field in enumerate(packing.fields):
        if field.join is None:
            continue
        member = np.append(packing.code_of(table.codes, f), 0)
        pair = member.take(left[which]) * field.join.size + member.take(right[which])
        many = field.join.many[pair]
        row = np.repeat(np.arange(len(which)), many)
        ends = np.cumsum(many)
        option = field.join.first[pair][row] + np.arange(len(row)) - np.repeat(ends - many, many)
        which, codes, chance = which[row], codes[row], chance[row] * field.join.chance[option]
        codes[:, packing.word[f]] |= field.join.into[option] << packing.shift[f]
    return which, codes, chance


@dataclass(frozen=True)
class Closing:
    """A field that is weighed and summed out at a level, because all roots that can leave a code on it have met.

    Args:
        field: the field.
        at: shape (nodes of the level,): the nodes in which it closes.
        weights: shape (codes,), the largest 1.
    """

    field: int
    at: Bools
    weights: Floats


def find_closings(plan: Plan, walk: Walk, packing: Packing, explains: Sequence[Ints]) -> dict[int, tuple[Closing, ...]]:
    """Return for each level below the top the fields that close there.

    Args:
        explains: for each field the roots that can leave a code on it.
    """
    parents = []
    for level, (left, right) in enumerate(plan.pairs):
        parent = np.zeros(plan.nodes[level], dtype=np.int64)
        parent[left] = np.arange(len(left))
        parent[right[right >= 0]] = np.flatnonzero(right >= 0)
        parents.append(parent)
    found: dict[int, list[Closing]] = {}
    for f, field in enumerate(packing.fields):
        roots = explains[f]
        bound = [walk.is_bound[i] for i in roots]
        if not len(roots) or field.given or any(bound) != all(bound):
            continue
        for g in range(walk.joint if any(bound) else 1):
            nodes = np.unique(plan.leaf[roots, g])
            level = 0
            while len(nodes) > 1:
                nodes = np.unique(parents[level][nodes])
                level += 1
            if level == len(plan.pairs):
                continue
            same = next((closing for closing in found.get(level, []) if closing.field == f), None)
            if same is None:
                same = Closing(f, np.zeros(plan.nodes[level], dtype=bool), field.weights[:, 0] / field.most)
                found.setdefault(level, []).append(same)
            same.at[nodes] = True
    return {level: tuple(closings) for level, closings in found.items()}


@dataclass(frozen=True)
class Up:
    """One pass up: the table of each level and how each came from the one below."""

    plan: Plan
    tables: tuple[Table, ...]
    joined: tuple[Joined, ...]


def pass_up(
    plan: Plan,
    table: Table,
    packing: Packing,
    closings: Mapping[int, Sequence[Closing]],
    *,
    max_pairs: int,
    keep: Keep | None = None,
) -> Up:
    """Join all levels.

    Args:
        plan: the tree.
        table: level 0 (already cut down, if it is to be).
        packing: where the codes lie.
        closings: the fields that are weighed and summed out, by level; those of level 0 have been.
        max_pairs: the most pairs of rows that one level may join, where all are joined.
        keep: chooses what is worked out; None = everything.

    Raises:
        TooManyPairsError: a level has more pairs.
    """
    tables, joined = [table], []
    for level, pairs in enumerate(plan.pairs):
        below = tables[-1]
        if keep is not None:
            met = keep.pairs(below, level)
        elif (many := count_pairs(below.node, plan.nodes[level], pairs)) > max_pairs:
            raise TooManyPairsError(many)
        else:
            met = Pairs(*number_pairs(below.node, plan.nodes[level], pairs))
        above, left, right = met.above, met.left, met.right
        which, codes, chance = join_codes(below, left, right, packing)
        if met.factor is not None:
            chance = chance * met.factor[which]
        for closing in closings.get(level + 1, ()):
            closes = closing.at[above[which]]
            chance = np.where(closes, chance * closing.weights[packing.place_of(codes, closing.field)], chance)
            packing.clear(codes, closing.field, closes)
        if level + 1 in closings:
            possible = np.flatnonzero(chance)
            which, codes, chance = which[possible], codes[possible], chance[possible]
        left, right = left[which], right[which]
        alpha = below.alpha[left] * np.where(right < 0, 1.0, below.alpha[right]) * chance
        fresh, into = merge_rows(above[which], codes, alpha)
        if keep is not None:
            factor = keep.rows(fresh, level + 1)
            kept = factor > 0
            if not kept.all():
                number = np.cumsum(kept, dtype=np.int32) - 1
                stays = kept[into]
                left, right, chance, into = left[stays], right[stays], chance[stays], number[into[stays]]
                fresh = Table(fresh.node[kept], fresh.codes[kept], (fresh.alpha * factor)[kept])
        joined.append(Joined(left, right, chance, into))
        tables.append(fresh)
    return Up(plan, tuple(tables), tuple(joined))


def pass_down(up: Up, alphas: Sequence[Floats], top: Floats) -> tuple[Floats, ...]:
    """Return beta for every row of every level.

    Args:
        up: how the rows were joined.
        alphas: alpha of each level; shape (rows,) or, for several variants at once, (rows, variants).
        top: the weight of each row at the top, shape (rows,).
    """
    variants = alphas[0].shape[1:]
    betas = [np.broadcast_to(top.reshape(-1, *[1] * len(variants)), (len(top), *variants))]
    for alpha, joined in zip(reversed(alphas[:-1]), reversed(up.joined), strict=True):
        flow = _times(betas[-1][joined.into], joined.chance)
        two = np.flatnonzero(joined.right >= 0)
        left, right = joined.left[two], joined.right[two]
        to_left = flow.copy()
        to_left[two] *= alpha[right]
        rows = len(alpha)
        beta = add_up(joined.left, to_left, rows) + add_up(right, flow[two] * alpha[left], rows)
        betas.append(beta)
    return tuple(reversed(betas))


def replay(up: Up, alpha: Floats) -> tuple[Floats, ...]:
    """Return alpha of every level for other weights of the same rows at level 0.

    Args:
        alpha: shape (rows of level 0,) or (rows of level 0, variants).
    """
    alphas = [alpha]
    for level, joined in enumerate(up.joined):
        pair = _times(alphas[-1][joined.left], joined.chance)
        two = np.flatnonzero(joined.right >= 0)
        pair[two] *= alphas[-1][joined.right[two]]
        alphas.append(add_up(joined.into, pair, len(up.tables[level + 1].node)))
    return tuple(alphas)


def add_up(into: Ints | Rows, values: Floats, rows: int) -> Floats:
    """Add up values that go into the same row; shape (rows,) or (rows, variants)."""
    if values.ndim == 1:
        return np.bincount(into, weights=values, minlength=rows).astype(np.float64, copy=False)
    total = np.zeros((rows, *values.shape[1:]), dtype=values.dtype)
    if len(into) <= rows and np.bincount(into, minlength=1).max() <= 1:
        total[into] = values
        return total
    order = np.argsort(into, kind="stable")
    ordered = into[order]
    starts = np.flatnonzero(np.diff(ordered, prepend=-1))
    if len(starts):
        total[ordered[starts]] = np.add.reduceat(values[order], starts, axis=0)
    return total


def _times(values: Floats, factor: Floats) -> Floats:
    """Multiply values of shape (rows,) or (rows, variants) by one factor a row; always a new array."""
    return values * factor.reshape(-1, *[1] * (values.ndim - 1))
