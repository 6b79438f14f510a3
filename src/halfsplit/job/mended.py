"""What a repair leaves of the roots of a job, worked out once for a state of the bench."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.job.cells import Roots
from halfsplit.job.changes import Moment, Repaired
from halfsplit.job.doings import Doings, composed
from halfsplit.job.roots import Plan
from halfsplit.job.units import Foothold
from halfsplit.model.evidence import Floats


@dataclass(frozen=True)
class Brought:
    """A fault that matters which a repair itself may bring.

    Args:
        root: its number among the roots that are weighed, or None.
        p: how likely it is there at the start.
        comes: how likely the repair brings it where it is absent.
    """

    root: int | None
    p: float
    comes: float


@dataclass(frozen=True)
class Mended:
    """What a repair leaves.

    Args:
        goes: root id -> P(the root has no hold of the owner's machine afterwards | state), shape (states,).
        brings: the faults that it may bring.
    """

    goes: Mapping[str, Floats]
    brings: tuple[Brought, ...]


def mended_by(
    moment: Moment,
    plans: Sequence[Plan],
    roots: Roots,
    doings: Doings,
    before: frozenset[Foothold],
    now: frozenset[Foothold],
) -> Mended:
    """Return what a repair leaves.

    Args:
        moment: the repair.
        plans: the plans of the job.
        roots: its roots.
        doings: what plans do.
        before, now: the footholds of the owner's machine before it and after it.
    """
    changes = [(change, doings.moves(plans, change, moment.together)[1]) for change in moment.changes]
    moves = composed([moves for _, moves in changes])
    goes: dict[str, Floats] = {}
    lost = before - now
    for plan in sorted(plans, key=lambda plan: plan.id):
        if plan.id not in roots.number or plan.all_footholds.isdisjoint(before):
            continue
        moved = moves.get(id(plan))
        if moved is None and plan.all_footholds.isdisjoint(lost):
            continue
        gone = np.array([1.0, *(float(plan.held(state).isdisjoint(now)) for state in plan.states)])
        after = gone if moved is None else moved @ gone
        if after[1:].any():
            goes[plan.id] = roots.of(plan, after)
    there = {id(plan) for plan in plans}
    brings = [
        Brought(roots.number.get(plan.id), plan.p, 1.0 - float(matrix[0, 0]))
        for change, matrices in changes
        if isinstance(change, Repaired)
        for plan, matrix in matrices.values()
        if plan.matters and id(plan) in there
    ]
    return Mended(goes, tuple(each for each in brings if each.comes > 0.0))
