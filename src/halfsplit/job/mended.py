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
class Hold:
    """A hold that a root may have of the owner's machine: its own, or by a part that it harmed.

    Args:
        id: the root's id, with the part.
        root: the root's id.
        unit: the part; "" = its own.
        fault: the fault that the part then has; "" = its own.
        there: the states in which it is there, 1 or 0, shape (states,).
        again: those in which what harmed the part is there itself, and would harm another one, 1 or 0.
    """

    id: str
    root: str
    unit: str
    fault: str
    there: Floats
    again: Floats


@dataclass(frozen=True)
class Mended:
    """What a repair leaves.

    Args:
        goes: root id -> P(the root has no hold of the owner's machine afterwards | state), shape (states,).  Of a root
            that harmed something in it, the id of each hold -> P(that hold is gone | state), 0 where it was not there.
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

    Attributes:
        holds: root id -> the holds of a root that may have harmed something in the machine, its own first.
    """

    def __init__(self, plans: Plans, roots: Roots, doings: Doings, before: frozenset[Foothold]) -> None:
        self._plans = plans
        self._roots = roots
        self._doings = doings
        self._before = before
        self._gone_now: dict[int, Floats] = {}
        self._by_name = {id(plan): plan for plan in plans}
        self._inside = {
            id(plan)
            for plan in plans
            if plan.id in roots.number and not (plan.all_footholds | plan.victims).isdisjoint(before)
        }
        self.holds = {plan.id: self._holds(plan) for plan in plans if plan.id in roots.number and plan.victims & before}
        self._at: dict[Foothold, list[int]] = {}
        for name in self._inside:
            for foothold in self._by_name[name].all_footholds | self._by_name[name].victims:
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
            if plan.id in self.holds:
                goes |= self._holds_gone(plan, moves.get(id(plan)), now)
                continue
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

    def _holds(self, plan: Plan) -> tuple[Hold, ...]:
        """Return the holds of a root that may have harmed something in the machine."""
        harmed = {(victim.unit, victim.fault) for state in plan.states for victim in state.victims}
        own = _held_by(plan, "", self._before)
        there = {("", ""): own}
        there |= {each: _held_by(plan, each[0], self._before) for each in sorted(harmed) if each[0] in self._before}
        return tuple(
            Hold(
                f"{plan.id}>{unit}" if unit else plan.id,
                plan.id,
                unit,
                fault,
                self._roots.of(plan, states),
                self._roots.of(plan, own * states if unit else np.zeros(len(own))),
            )
            for (unit, fault), states in there.items()
        )

    def _holds_gone(self, plan: Plan, moves: Floats | None, now: frozenset[Foothold]) -> dict[str, Floats]:
        """Return id of each hold that a repair may take away -> P(it is gone | state)."""
        found = {}
        for hold in self.holds[plan.id]:
            gone = 1.0 - _held_by(plan, hold.unit, now)
            after = self._roots.of(plan, gone if moves is None else moves @ gone) * hold.there
            if after.any():
                found[hold.id] = after
        return found

    def _gone(self, plan: Plan) -> Floats:
        """Return which states have no hold of the owner's machine as it stands."""
        if id(plan) not in self._gone_now:
            self._gone_now[id(plan)] = _gone_from(plan, self._before)
        return self._gone_now[id(plan)]


def _gone_from(plan: Plan, footholds: frozenset[Foothold]) -> Floats:
    """Return which states of a root have no hold of some footholds, 1 or 0; the first is where it is absent."""
    return np.array([1.0, *(float(plan.held(state).isdisjoint(footholds)) for state in plan.states)])


def _held_by(plan: Plan, unit: str, footholds: frozenset[Foothold]) -> Floats:
    """Return in which states a root has a hold of some footholds, 1 or 0: by a unit that it harmed, or "" its own."""
    holds = (
        plan.own(state) if not unit else {victim.unit for victim in state.victims} & {unit} for state in plan.states
    )
    return np.array([0.0, *(float(not footholds.isdisjoint(each)) for each in holds)])
