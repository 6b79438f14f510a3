"""The most probable sets of faults: the joins once more, with names attached.

After the passes up and down, beta of each row is known, so that a row with the names of its faults attached
has an exact share of the answer: alpha x beta / P.  Rows are dropped by that share and what is dropped is
added up: no set that is not found has more than that.
"""

from collections.abc import Sequence

import numpy as np

from halfsplit.infer.program import Solved
from halfsplit.model.arrays import Floats, Ints, Rows

MAX_ROWS = 500
"""Named rows kept on one level of a large group: those with the largest shares of the answer."""

LARGE_SHARE = 1e-3
"""A named row with this share of the answer is kept whatever the number of rows."""

MAX_NAMED = 60
"""Names that fit in one machine word; the likeliest are kept."""


def group_sets(
    solved: Solved, named: Sequence[int], max_rows: int | None
) -> tuple[list[tuple[frozenset[str], float]], float]:
    """Return the sets of one group, best first, and the probability of all that was dropped.

    Args:
        solved: the group.
        named: its roots that are told apart.
        max_rows: the most named rows of one level; None = all.

    Returns:
        Pairs of (ids of the named roots present now, probability), and a bound on any set not among them.
    """
    named = sorted(named, key=lambda i: -solved.p_states(i)[1:].sum())[:MAX_NAMED]
    bit = np.zeros(len(solved.program.group.roots), dtype=np.int64)
    for n, i in enumerate(named):
        bit[i] = 1 << n
    leaves, up, betas = solved.leaves, solved.likely, solved.betas
    names = np.where(leaves.state > 0, bit[leaves.root], 0)
    row, names, alpha = _merge(solved.row, names, leaves.weight)
    dropped = 0.0
    for level, joined in enumerate(up.joined):
        first = np.searchsorted(row, np.arange(len(up.tables[level].node) + 1))
        many = np.diff(first)
        alone = joined.right < 0
        n_right = np.where(alone, 1, many[joined.right])
        count = many[joined.left] * n_right
        record = np.repeat(np.arange(len(count)), count)
        local = np.arange(len(record)) - np.repeat(np.cumsum(count) - count, count)
        left = first[joined.left[record]] + local // n_right[record]
        single = alone[record]
        right = np.where(single, 0, first[joined.right[record]] + local % n_right[record])
        weight = alpha[left] * joined.chance[record] * np.where(single, 1.0, alpha[right])
        both = names[left] | np.where(single, 0, names[right])
        row, names, alpha = _merge(joined.into[record], both, weight)
        share = alpha * betas[level + 1][row] / solved.p
        if max_rows is not None and len(share) > max_rows:
            # the shares of each node add up to 1, so that every node keeps what is large in it
            small = np.argsort(-share, kind="stable")[max_rows:]
            small = small[share[small] < LARGE_SHARE]
            dropped += float(share[small].sum())
            stays = np.ones(len(share), dtype=bool)
            stays[small] = False
            row, names, alpha = row[stays], names[stays], alpha[stays]
    p = alpha * solved.top[row] / solved.p
    _, names, p = _merge(np.zeros(len(p), dtype=np.int32), names, p)
    ids = [solved.program.group.roots[i].id for i in named]
    found = [
        (frozenset(ids[n] for n in range(len(ids)) if mask >> n & 1), float(share))
        for mask, share in zip(names.tolist(), p, strict=True)
    ]
    return sorted(found, key=lambda item: (-item[1], sorted(item[0]))), dropped


def _merge(row: Rows, names: Ints, alpha: Floats) -> tuple[Rows, Ints, Floats]:
    order = np.lexsort((names, row))
    row, names = row[order], names[order]
    new = np.ones(len(order), dtype=bool)
    new[1:] = (row[1:] != row[:-1]) | (names[1:] != names[:-1])
    starts = np.flatnonzero(new)
    total = np.add.reduceat(alpha[order], starts) if len(starts) else alpha[:0]
    return row[starts], names[starts], total
