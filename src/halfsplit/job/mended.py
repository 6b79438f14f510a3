"""What a repair leaves of the roots of a job, worked out once for a state of the bench."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from halfsplit.job.cells import Roots
from halfsplit.job.changes import Moment, Repaired
from halfsplit.job.doings import Doings, composed
from halfsplit.job.plans import Plans
from halfsplit.job.roots import Plan
from halfsplit.job.units import Foothold
from halfsplit.model.arrays import Floats


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


class Mender:
    """Tells what repairs leave.

    Args:
        plans: the plans of the job.
        roots: its roots.
        doings: what plans do.
        before: the footholds of the owner's machine as it stands.
    """

    def __init__(self, plans: Plans, roots: Roots, doings: Doings, before: frozenset[Foothold]) -> None:
        self._plans = plans
        self._roots = roots
        self._doings = doings
        self._before = before
        self._gone_now: dict[int, Floats] = {}
        self._by_name = {id(plan): plan for plan in plans}
        self._inside = {
            id(plan) for plan in plans if plan.id in roots.number and not plan.all_footholds.isdisjoint(before)
        }
        self._at: dict[Foothold, list[int]] = {}
        for name in self._inside:
            for foothold in self._by_name[name].all_footholds:
                self._at.setdefault(foothold, []).append(name)

    def by(self, moment: Moment, now: frozenset[Foothold]) -> Mended:
        """Return what a repair leaves.

        Args:
            moment: the repair.
            now: the footholds of the owner's machine after it.
        """
        changes = [(change, self._doings.moves(self._plans, change, moment.together)[1]) for change in moment.changes]
        moves = composed([moves for _, moves in changes])
        hit = {name for foothold in self._before - now for name in self._at.get(foothold, ())}
        hit |= self._inside & moves.keys()
        changed = self._before ^ now
        goes: dict[str, Floats] = {}
        for plan in sorted((self._by_name[name] for name in hit), key=lambda plan: plan.id):
            is_as_it_was = plan.all_footholds.isdisjoint(changed) and plan.victims.isdisjoint(changed)
            gone = self._gone(plan) if is_as_it_was else _gone_from(plan, now)
            after = moves[id(plan)] @ gone if id(plan) in moves else gone
            if after[1:].any():
                goes[plan.id] = self._roots.of(plan, after)
        brings = [
            Brought(self._roots.number.get(plan.id), plan.p, 1.0 - float(matrix[0, 0]))
            for change, matrices in changes
            if isinstance(change, Repaired)
            for plan, matrix in matrices.values()
            if plan.matters and id(plan) in self._by_name
        ]
        return Mended(goes, tuple(each for each in brings if each.comes > 0.0))

    def _gone(self, plan: Plan) -> Floats:
        """Return which states have no hold of the owner's machine as it stands."""
        if id(plan) not in self._gone_now:
            self._gone_now[id(plan)] = _gone_from(plan, self._before)
        return self._gone_now[id(plan)]


def _gone_from(plan: Plan, footholds: frozenset[Foothold]) -> Floats:
    """Return which states of a root have no hold of some footholds, 1 or 0; the first is where it is absent."""
    return np.array([1.0, *(float(plan.held(state).isdisjoint(footholds)) for state in plan.states)])
