"""What the entries of the log do to the roots: cures, work that brings faults in, harm done."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.job.changes import Change, LeadOut, Mated, Moment, Opened, Powered, Repaired
from halfsplit.job.matrices import cure_matrix, harm_matrix
from halfsplit.job.plans import Plans
from halfsplit.job.roots import Plan
from halfsplit.job.units import OWNER, Foothold, Pair, number_of
from halfsplit.model.arrays import Floats
from halfsplit.model.bench import REFITS, REPLUGS
from halfsplit.model.book import Book
from halfsplit.model.evidence import Context, Move
from halfsplit.model.faults import Cure, Fault

LEAD_OUT_REPAIR = "power_cycle"
"""The repair that every taking out of the mains lead is as well: lead out, button held."""

LEAST_SECOND = 0.05
"""How likely a second fault that one repair may cure must be at intake for both to share how it was done."""


@dataclass(frozen=True)
class _Step:
    """A matrix, or two of them (done properly, not) where it hangs on how a repair was done."""

    matrix: Floats
    context: str = ""


class MoveMaker:
    """Makes the moves of all roots.

    Args:
        book: the fault book.
        plans: the roots.
    """

    def __init__(self, book: Book, plans: Plans) -> None:
        self._book = book
        self._plans = plans
        self._at_joint: dict[str, list[Fault]] = {}
        for fault in book.faults.values():
            for at in fault.at:
                if at in book.joints:
                    self._at_joint.setdefault(at, []).append(fault)
        self._cures = {fault.id: {cure.repair: cure for cure in fault.cures} for fault in book.faults.values()}
        self._by_repair: dict[str, tuple[Plan, ...]] = {}
        self._by_maker: dict[str, list[Plan]] = {}
        for plan in plans:
            for maker in self._makers(plan):
                self._by_maker.setdefault(maker, []).append(plan)

    def contexts(
        self, moments: Iterable[Moment], p_there: Callable[[Plan], float]
    ) -> tuple[tuple[float, Context], ...]:
        """Return, for each repair that may cure several roots, whether it was done properly, with its weight.

        Only where two of these roots may well be there together; else it is mixed into each root's move.

        Args:
            moments: the log, walked.
            p_there: P(there at intake) of a root.
        """
        found = []
        for moment in moments:
            for change in moment.changes:
                if isinstance(change, Repaired) and change.repair.p_proper is not None:
                    p = change.repair.p_proper.p
                    mine = self._touched_by(change.repair.id)
                    cured = [p_there(plan) for plan in mine if self._goes(plan, change) is not None]
                    second = sum(cured) - max(cured, default=0.0)
                    if second >= LEAST_SECOND and 0.0 < p < 1.0:
                        context = Context(_context_of(change), ("proper", "not"), (p, 1.0 - p))
                        found.append((p * (1.0 - p) * second, context))
        return tuple(found)

    def moves(self, moments: Sequence[Moment], contexts: frozenset[str]) -> dict[str, list[Move]]:
        """Return root id -> its moves, in order of time, one for each entry that moves it.

        Args:
            moments: the log, walked.
            contexts: the contexts that are kept; how other repairs were done is mixed in.
        """
        found: dict[str, list[Move]] = {}
        for moment in moments:
            steps: dict[str, list[_Step]] = {}
            for change in moment.changes:
                for plan, step in self._steps(change, contexts):
                    steps.setdefault(plan.id, []).append(step)
            for name, mine in steps.items():
                found.setdefault(name, []).append(_joined(moment.time, mine))
        return found

    def _makers(self, plan: Plan) -> list[str]:
        """Return the openings that may bring a root in."""
        if plan.fault is None:
            return []
        makers = [name for name in plan.fault.made_by if name in self._book.openings]
        for at in plan.footholds:
            if at in self._at_joint:
                makers += [name for name, opening in self._book.openings.items() if at in opening.disturbs]
        return list(dict.fromkeys(makers))

    def _steps(self, change: Change, contexts: frozenset[str]) -> Iterable[tuple[Plan, _Step]]:
        match change:
            case Opened():
                yield from self._opened(change)
            case Mated():
                yield from self._mated(change)
            case LeadOut():
                yield from self._lead_out(change)
            case Repaired():
                yield from self._repaired(change, contexts)
            case Powered():
                yield from self._powered(change)

    def _opened(self, change: Opened) -> Iterable[tuple[Plan, _Step]]:
        plans = {plan.id: plan for name in change.openings for plan in self._by_maker.get(name, ())}
        for plan in plans.values():
            if plan.all_footholds.isdisjoint(change.reaches):
                continue
            if not self._is_at_number(plan, change.at, change.number):
                continue
            p = _either(self._p_made(plan.fault, opening) for opening in change.openings) if plan.fault else 0.0
            if p > 0.0:
                yield plan, _Step(cure_matrix(plan, comes=p))

    def _p_made(self, fault: Fault, opening: str) -> float:
        """Return the chance that an opening brings a fault in.

        As the fault says; where no fault of the joint names the opening, the joint's chance to be disturbed is
        shared out by base.
        """
        if opening in fault.made_by:
            return fault.made_by[opening].p
        disturbs = self._book.openings[opening].disturbs
        found = 0.0
        for at in fault.at:
            there = self._at_joint.get(at, [])
            if at in disturbs and not any(opening in other.made_by for other in there):
                found = max(found, disturbs[at].p * fault.base.p / sum(other.base.p for other in there))
        return found

    def _mated(self, change: Mated) -> Iterable[tuple[Plan, _Step]]:
        """Yield what putting two units together does: a contact may be bad; one that was bad may be good again."""
        for plan in self._plans.at(change.pair):
            if plan.fault is None:
                continue
            cures = self._cures[plan.fault.id]
            comes = _either(self._p_made(plan.fault, opening) for opening in change.openings)
            if not change.openings:
                comes = self._p_disturbed(plan.fault, change.pair.joint)
            if change.repair in plan.fault.made_by:
                comes = _either([comes, plan.fault.made_by[change.repair].p])
            cure = cures.get(change.repair)
            if change.again:
                refits = [self._book.repairs[name] for name in cures if name in self._book.repairs]
                does = REPLUGS if change.as_it_was else REFITS
                best = [cures[r.id] for r in refits if r.at == change.pair.joint and r.does in does]
                cure = max(best, key=lambda each: each.goes.p, default=None)
            if cure is not None and cure.comes is not None:
                comes = cure.comes.p
            goes = cure.goes.p if cure is not None and change.again else 0.0
            if goes > 0.0 or comes > 0.0:
                yield plan, _Step(cure_matrix(plan, goes=goes, comes=comes))

    def _p_disturbed(self, fault: Fault, joint: str) -> float:
        """Return the least chance by which any opening that disturbs a joint leaves it with this fault."""
        chances = [
            self._p_made(fault, name) for name, opening in self._book.openings.items() if joint in opening.disturbs
        ]
        return min((p for p in chances if p > 0.0), default=0.0)

    def _lead_out(self, change: LeadOut) -> Iterable[tuple[Plan, _Step]]:
        for plan in self._plans.of_faults(self._cured_by(LEAD_OUT_REPAIR)):
            cure = self._cures.get(plan.fault.id if plan.fault else "", {}).get(LEAD_OUT_REPAIR)
            if cure is not None and plan.all_footholds & change.before.footholds:
                yield plan, _Step(cure_matrix(plan, goes=cure.goes.p))

    def _repaired(self, change: Repaired, contexts: frozenset[str]) -> Iterable[tuple[Plan, _Step]]:
        repair = change.repair
        p_proper = repair.p_proper.p if repair.p_proper is not None else 1.0
        name = _context_of(change)
        for plan in self._touched_by(repair.id):
            goes = self._goes(plan, change)
            comes = self._comes(plan, change)
            if goes is None and comes == 0.0:
                continue
            if goes is None:
                yield plan, _Step(cure_matrix(plan, comes=comes))
            elif name in contexts:
                both = [cure_matrix(plan, goes=goes[0], comes=comes, mends=goes[1]), cure_matrix(plan, comes=comes)]
                yield plan, _Step(np.stack(both), name)
            else:
                mends = {fault: p * p_proper for fault, p in goes[1].items()}
                yield plan, _Step(cure_matrix(plan, goes=goes[0] * p_proper, comes=comes, mends=mends))

    def _touched_by(self, repair: str) -> tuple[Plan, ...]:
        """Return the roots that a repair may cure, mend the harm of, or bring in."""
        if repair not in self._by_repair:
            brings = (fault.id for fault in self._book.faults.values() if repair in fault.made_by)
            self._by_repair[repair] = self._plans.of_faults({*self._cured_by(repair), *brings})
        return self._by_repair[repair]

    def _cured_by(self, repair: str) -> Iterable[str]:
        """Return the faults that a repair may cure."""
        return (fault for fault, cures in self._cures.items() if repair in cures)

    def _goes(self, plan: Plan, change: Repaired) -> tuple[float, dict[str, float]] | None:
        """Return the chances that a repair takes a root away, and the harm that it did; None where it does neither.

        A replacement takes the part away, with its faults and those of its joints; what the book says of a cure
        by it is then for faults elsewhere.
        """
        before = change.before.footholds
        mends = {
            victim.fault: self._cures[victim.fault][change.repair.id].goes.p
            for state in plan.states
            for victim in state.victims
            if change.repair.id in self._cures[victim.fault]
            and victim.unit in before
            and victim.unit not in change.taken_out
        }
        goes = 0.0
        cure = self._cure(plan, change)
        if cure is not None and not _is_taken(plan.all_footholds & before, change.taken_out):
            goes = cure.goes.p
        return (goes, mends) if goes > 0.0 or mends else None

    def _comes(self, plan: Plan, change: Repaired) -> float:
        fault = plan.fault
        if fault is None or not plan.all_footholds & change.before.footholds:
            return 0.0
        if _is_taken(plan.all_footholds & change.before.footholds, change.taken_out):
            return 0.0
        cure = self._cure(plan, change)
        comes = [cure.comes.p] if cure is not None and cure.comes is not None else []
        if change.repair.id in fault.made_by and self._is_at_number(plan, change.repair.at, change.number):
            comes.append(fault.made_by[change.repair.id].p)
        return _either(comes)

    def _cure(self, plan: Plan, change: Repaired) -> Cure | None:
        if plan.fault is None or not plan.all_footholds & change.before.footholds:
            return None
        if not self._is_at_number(plan, change.repair.at, change.number):
            return None
        return self._cures[plan.fault.id].get(change.repair.id)

    def _is_at_number(self, plan: Plan, at: str, number: str) -> bool:
        """Return whether work at one of several parts of a kind reaches a root at that kind or at its joints."""
        if not number:
            return True
        kinds = set(self._book.joints[at].between if at in self._book.joints else (at,))
        many = {kind for kind in kinds if self._book.kinds[kind].many}
        slots = {
            slot
            for foothold in plan.all_footholds
            for slot in (
                [slot for slot, _ in foothold.ends] if isinstance(foothold, Pair) else [foothold.partition(".")[2]]
            )
        }
        numbers = {number_of(slot) for slot in slots if slot.partition(".")[0] in many}
        return not numbers or number in numbers

    def _powered(self, change: Powered) -> Iterable[tuple[Plan, _Step]]:
        together = change.together.footholds
        for plan in self._plans.near(together):
            if plan.victims and plan.victims & together:
                matrix = harm_matrix(plan, change)
                if matrix is not None:
                    yield plan, _Step(matrix)
            elif plan.p_harmed > 0.0 and plan.all_footholds & together and self._is_at_risk(change):
                yield plan, _Step(cure_matrix(plan, comes=1.0 - (1.0 - plan.p_harmed) ** change.times))

    def _is_at_risk(self, change: Powered) -> bool:
        """Return whether something of the owner was in a power-up."""
        return any(unit.startswith(f"{OWNER}.") for unit in change.together.setup.slots.values())


def _is_taken(here: frozenset[Foothold], taken_out: frozenset[str]) -> bool:
    """Return whether a replacement took any of these footholds away."""
    return any(
        not foothold.units.isdisjoint(taken_out) if isinstance(foothold, Pair) else foothold in taken_out
        for foothold in here
    )


def _joined(time: int, steps: Sequence[_Step]) -> Move:
    """Return all that one entry does to a root as one move."""
    matrix = steps[0].matrix
    for step in steps[1:]:
        matrix = np.matmul(matrix, step.matrix)
    given = tuple(dict.fromkeys(step.context for step in steps if step.context))
    return Move(time, matrix, given)


def _context_of(change: Repaired) -> str:
    return f"repair:{change.entry}"


def _either(chances: Iterable[float]) -> float:
    """Return the chance that any of several independent things happens."""
    neither = 1.0
    for p in chances:
        neither *= 1.0 - p
    return 1.0 - neither
