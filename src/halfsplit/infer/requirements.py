"""Which readings still need what: the requirements that bound what may complete a row.

A bit of a code that every code with a weight has set is a *requirement* of its reading: without it nothing
is explained, or only by a void report.  Beside such bits, or where there are none (a look that may be wrong), one of
the bits may stand without which it weighs little: that which says most.  Without a requirement the reading weighs at
most what its ``unmets`` have for it.

The work doubles with each, so few are looked at: one after the other that which says most beside those
chosen before, but first one of each reading that is nothing without it, so that a row is asked about each of these.
How much one says beside one other is exact; beside several it is taken to say no more than beside any.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement

import numpy as np

from halfsplit.infer.classes import NEVER
from halfsplit.infer.fields import Field
from halfsplit.infer.leaves import Packing, Step, Walk
from halfsplit.model.arrays import Floats, Ints

MAX_REQUIREMENTS = 10
"""Requirements looked at together; each takes twice the time, or three times, and twice the memory."""

SOFT = 0.5
"""A bit without which a reading still weighs this much is no requirement."""

HARD = 5e-3
"""Without a hard requirement a reading weighs no more than this."""

WORTH_LOOKING = 0.999
"""A requirement that is met with more than this chance where another one is says too little."""


@dataclass(frozen=True)
class Requirements:
    """The requirements of one field that are looked at.

    Args:
        field: the field.
        first: the place of its first requirement among all; they lie side by side.
        bits: how many.
        hard: how many of them, the first, are hard: nothing is without them, or only a void report.  One more may be
            such that it weighs little without.
        unmets: a factor for each of them that is not met; where there is one, the most that the reading weighs without
            it, over its largest weight.
        says: for each how much it says beside those chosen before: the natural log of 1 / P(it is met).
        of_code: shape (codes of the field,), by their places: the requirements met by a code, as a small mask.
        brings: shape (states, 2 ** bits): P(one state is not dead and brings just this mask).
    """

    field: int
    first: int
    bits: int
    hard: int
    unmets: tuple[float, ...]
    says: tuple[float, ...]
    of_code: Ints
    brings: Floats


@dataclass(frozen=True)
class Wanted:
    """The requirements that one field has.

    Args:
        step: the step of the field.
        places: the bits of the code of one run; of a lot of equal runs the same bit for each run.
        hard: how many of them, the first, are hard.
        unmets: the most that the reading, or one run of a lot, weighs without each of them.
        is_lot: whether it is a lot of equal runs.
        of: for some of the places, by their numbers, the requirements met by each code, and what each state brings;
            as in ``Requirements``.
    """

    step: Step
    places: tuple[int, ...]
    hard: int
    unmets: tuple[float, ...]
    is_lot: bool
    of: Callable[[Sequence[int]], tuple[Ints, Floats]]


def choose_requirements(
    walk: Walk, steps: Sequence[Step], packing: Packing, lone: frozenset[int]
) -> list[Requirements]:
    """Choose the requirements to look at.

    Args:
        walk, steps, packing: the program.
        lone: the fields that are weighed where a single root left its codes.
    """
    wanted = [_wanted(walk, step, packing) for step in steps if step.field is not None and step.field not in lone]
    chosen = _choose(walk, steps, wanted)
    asked: list[Requirements] = []
    first = 0
    for n, item in enumerate(wanted):
        if item.step.field is not None and chosen[n]:
            some = [k for k, _ in chosen[n]]
            of_code, brings = item.of(some)
            says = tuple(log for _, log in chosen[n])
            hard = sum(k < item.hard for k in some)
            unmets = [item.unmets[k] for k in some]
            if not item.is_lot:  # all hard ones count once
                unmets[:hard] = [unmet ** (1.0 / hard) for unmet in unmets[:hard]]
            asked.append(Requirements(item.step.field, first, len(some), hard, tuple(unmets), says, of_code, brings))
            first += len(some)
    return asked


def _wanted(walk: Walk, step: Step, packing: Packing) -> Wanted:
    field = packing.fields[step.field or 0]
    places, unmets, hard = _required(field)
    if field.join is None:
        return Wanted(
            step, places, hard, unmets, False, lambda some: _of_run(walk, step, field, [places[n] for n in some])
        )
    many = min(field.runs, MAX_REQUIREMENTS) if places else 0
    return Wanted(
        step,
        places[:1] * many,
        many,
        unmets[:1] * many,
        True,
        lambda some: _of_lot(walk, step, field, places, len(some)),
    )


def _choose(walk: Walk, steps: Sequence[Step], wanted: Sequence[Wanted]) -> list[list[tuple[int, float]]]:
    """Return for each field the numbers of its requirements that are looked at, and how much each says."""
    names = [(n, k) for n, item in enumerate(wanted) for k in range(len(item.places))]
    alone, both = _how_likely(walk, steps, wanted, names)
    says = -np.log(alone)
    chosen: list[list[tuple[int, float]]] = [[] for _ in wanted]
    is_hard = np.array([wanted[n].unmets[k] <= HARD for n, k in names], dtype=bool)
    for _ in range(min(MAX_REQUIREMENTS, len(names))):
        is_fresh = is_hard & [not chosen[n] for n, _ in names] & (says >= -np.log(WORTH_LOOKING))
        best = int(np.argmax(np.where(is_fresh, says, -np.inf) if is_fresh.any() else says))
        if says[best] < -np.log(WORTH_LOOKING):
            break
        field, place = names[best]
        chosen[field].append((place, float(says[best])))
        says = np.minimum(says, np.log(alone[best]) - np.log(both[best]))
        says[best] = -np.inf
        if place >= wanted[field].hard:
            says[[n == field and k >= wanted[field].hard for n, k in names]] = -np.inf
    return [sorted(some) for some in chosen]


def _how_likely(
    walk: Walk, steps: Sequence[Step], wanted: Sequence[Wanted], names: Sequence[tuple[int, int]]
) -> tuple[Floats, Floats]:
    """Return for each requirement the mean of what its field weighs at most, and for each two that of both.

    Over P(nothing is dead).  Shapes (requirements,) and (requirements, requirements).
    """
    many = len(names)
    pairs = [(-1, -1), *combinations_with_replacement(range(many), 2)]
    narrow: dict[int, Callable[[Floats, Ints], Floats]] = {}
    for n, item in enumerate(wanted):
        own = [c for c in range(many) if names[c][0] == n]
        if item.step.field is None or not own:
            continue
        _, within = item.of(range(len(own)))
        for k in range(len(own)):  # from "brings just these" to "brings nothing but these"
            halves = within.reshape(len(within), -1, 2, 1 << k)
            halves[:, :, 1] += halves[:, :, 0]
        full = len(within[0]) - 1
        masks = np.array([full & ~sum(1 << k for k, c in enumerate(own) if c in pair) for pair in pairs])
        table = within[:, masks] * item.step.norm[:, None]
        narrow[item.step.field] = lambda z, place, table=table: z * table[place]  # type: ignore[misc]
    root, given, z = walk_sets(walk, steps, narrow, columns=len(pairs))
    total = np.ones((walk.joint, len(pairs)))
    bound = np.array(walk.is_bound, dtype=bool)[root]
    for g in range(walk.joint):
        total[g] = z[~bound | (given == g)].prod(axis=0)
    none = walk.p_given @ total
    none = none / none[0]
    lighter = np.array([1.0 - wanted[n].unmets[k] for n, k in names])
    without = np.ones((many, many))
    for value, (a, b) in zip(none[1:], pairs[1:], strict=True):
        without[a, b] = without[b, a] = value
    single = np.diag(without)
    alone = 1.0 - lighter * single
    both = alone[:, None] + alone[None, :] - 1.0 + lighter[:, None] * lighter[None, :] * without
    np.fill_diagonal(both, alone)
    return np.maximum(alone, _LEAST), np.maximum(both, _LEAST)


_ABOVE = 1.0 + 1e-11  # more than rounding makes of a weight

_LEAST = 1e-13  # what is less likely cannot be told from rounding


def walk_sets(
    walk: Walk,
    steps: Sequence[Step],
    narrow: Mapping[int, Callable[[Floats, Ints], Floats]],
    *,
    columns: int = 1,
) -> tuple[Ints, Ints, Floats]:
    """Walk the states of all roots through the log without a thought of codes, for several questions at once.

    Args:
        walk, steps: the roots and what each reading does to them; a field only scales by P(not dead) unless
        narrow: for a field what is made of the values of shape (rows, questions), given the state of each row.
        columns: how many questions there are at the start.

    Returns:
        The root, the joint context value (0 where it does not matter) and the sum of each block of states; shape
        (blocks,), (blocks,) and (blocks, questions).
    """
    joint = np.where(walk.is_bound, walk.joint, 1)  # blocks of states that each root has
    many = np.array([len(root.states) for root in walk.roots])
    first = np.cumsum(joint * many) - joint * many
    root = np.repeat(np.arange(len(many)), joint * many)
    local = np.arange(len(root)) - first[root]
    place = walk.offset[root] + local % many[root]
    start = walk.as_written
    z: Floats = np.zeros((len(root), columns))
    z[first[start.root] + start.given * many[start.root] + start.state] = start.weight[:, None]
    scale = np.ones(len(root))

    def move(i: int, n: int) -> None:
        for g in range(joint[i]):
            block = slice(first[i] + g * many[i], first[i] + (g + 1) * many[i])
            z[block] = walk.matrices[i][n][g].T @ (z[block] * scale[block, None])
            scale[block] = 1.0

    pending = walk.moves()
    for step in steps:
        while pending and pending[0][0] <= step.time:
            move(*pending.pop(0)[1:])
        if step.field in narrow and step.field is not None:
            z = narrow[step.field](z, place)
        else:
            scale *= (step.draws.living * step.norm)[place]
    for _, i, n in pending:
        move(i, n)
    block = np.concatenate([first[i] + many[i] * np.arange(joint[i]) for i in range(len(many))])
    of_block: Floats = np.add.reduceat(z * scale[:, None], block, axis=0)
    return root[block], local[block] // many[root[block]], of_block


def _required(field: Field) -> tuple[tuple[int, ...], tuple[float, ...], int]:
    """Return the places of what one run requires, the most that the reading weighs without each, and how many are hard.

    The hard ones come first, then the bits without which it weighs little.
    """
    codes, weights = _of_one_run(field)
    weights = weights / field.most
    least = float(weights[codes == field.void].max(initial=0.0))
    possible = codes[weights > least * _ABOVE]
    required = int(np.bitwise_and.reduce(possible)) if len(possible) else -1
    every = [place for place in range(field.bits) if required >> place & 1] if required > 0 else []
    hard = tuple(every[:MAX_REQUIREMENTS])
    if field.join is not None:
        return hard, (least ** (1.0 / field.runs) * _ABOVE,) * len(hard), len(hard)
    lacks = codes[:, None] >> np.arange(field.bits) & 1 == 0
    without = np.where(lacks, weights[:, None], 0.0).max(axis=0)
    # a void report is without all of them, and weighs more than without one after the other
    is_soft = (without < SOFT) & ~np.isin(np.arange(field.bits), every) & (not (every and least > 0.0))
    most_said = np.argsort(without, kind="stable")
    soft = sorted(most_said[is_soft[most_said]][:MAX_REQUIREMENTS].tolist())
    return (*hard, *soft), (*(least * _ABOVE for _ in hard), *without[soft].tolist()), len(hard)


def _of_one_run(field: Field) -> tuple[Ints, Floats]:
    """Return the codes that one run may have, and the most that each weighs."""
    if field.join is None:
        return field.codes, field.weights.max(axis=1)
    codes = sorted({code for members in field.multisets for code in members})
    rows = [field.multisets[(code,) * field.runs] for code in codes]
    return np.array(codes, dtype=np.int64), field.weights[rows].max(axis=1)


def _of_run(walk: Walk, step: Step, field: Field, places: Sequence[int]) -> tuple[Ints, Floats]:
    """Return the requirements met by each code, and what each state brings, for a single run."""
    many = len(places)
    of_code = np.array(
        [sum((code >> place & 1) << n for n, place in enumerate(places)) for code in field.codes.tolist()],
        dtype=np.int64,
    )
    if field.void != NEVER:
        of_code[field.codes == field.void] = 0  # no more can be met then
    state, code, chance = step.draws.listed()
    met = of_code[field.place(code)]
    brings: Floats = np.bincount(state << many | met, chance, walk.states << many).astype(np.float64)
    return of_code, brings.reshape(walk.states, 1 << many)


def _of_lot(walk: Walk, step: Step, field: Field, places: Sequence[int], many: int) -> tuple[Ints, Floats]:
    """The same for a lot of equal runs, each with one requirement.

    By symmetry any run may be called the first, so those that meet it come first.  Given the state the runs are
    drawn apart: P(brings) is a product over the runs.
    """
    met = np.array(
        [sum(code != field.void and code >> places[0] & 1 for code in members) for members in field.multisets],
        dtype=np.int64,
    )
    of_code = (1 << np.minimum(met, many)) - 1
    state, code, chance = step.draws.listed()
    lives = np.bincount(state, weights=chance, minlength=walk.states) ** (1 / field.runs)
    none = met[code] == 0
    brings_none = np.bincount(state[none], weights=chance[none], minlength=walk.states) ** (1 / field.runs)
    brings_it = np.maximum(lives - brings_none, 0.0)
    brings = np.empty((walk.states, 1 << many))
    for mask in range(1 << many):
        these = mask.bit_count()
        brings[:, mask] = brings_it**these * brings_none ** (many - these) * lives ** (field.runs - many)
    return of_code, brings
