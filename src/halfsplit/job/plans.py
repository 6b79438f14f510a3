"""The plans of a job together: found by where they are and by what tells of them."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar, overload

from halfsplit.job.roots import Plan
from halfsplit.job.units import Foothold

Key = TypeVar("Key")


@dataclass(frozen=True)
class Met:
    """What some footholds have of a plan.

    Args:
        plan: the plan.
        present: which of its own footholds, as the book names them, are among them.
        harmed: what it harms of them.
    """

    plan: Plan
    present: frozenset[str]
    harmed: frozenset[Foothold]


class Plans(Sequence[Plan]):
    """Some plans; whatever is found among them comes in their order.

    Args:
        plans: the plans, each with an id of its own.
    """

    def __init__(self, plans: Iterable[Plan]) -> None:
        self._plans = tuple(plans)
        self._near: dict[frozenset[Foothold], tuple[Plan, ...]] = {}
        self._met: dict[frozenset[Foothold], tuple[Met, ...]] = {}

    @overload
    def __getitem__(self, at: int) -> Plan: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[Plan]: ...
    def __getitem__(self, at: int | slice) -> Plan | Sequence[Plan]:
        return self._plans[at]

    def __len__(self) -> int:
        return len(self._plans)

    def __iter__(self) -> Iterator[Plan]:
        return iter(self._plans)

    @cached_property
    def ids(self) -> frozenset[int]:
        """The identities of the plans."""
        return frozenset(map(id, self._plans))

    @cached_property
    def by_id(self) -> Mapping[str, Plan]:
        """Id -> plan."""
        return {plan.id: plan for plan in self._plans}

    def near(self, footholds: frozenset[Foothold]) -> tuple[Plan, ...]:
        """Return the plans with a foothold, or something that they harm, among these."""
        if footholds not in self._near:
            self._near[footholds] = self._some({n for foothold in footholds for n in self._touching.get(foothold, ())})
        return self._near[footholds]

    def met(self, footholds: frozenset[Foothold]) -> tuple[Met, ...]:
        """Return the plans that are near, each with what these footholds have of it."""
        if footholds not in self._met:
            near = self.near(footholds)
            self._met[footholds] = tuple(Met(plan, plan.present(footholds), plan.victims & footholds) for plan in near)
        return self._met[footholds]

    def at(self, foothold: Foothold) -> tuple[Plan, ...]:
        """Return the plans with this foothold."""
        return self._some(self._at.get(foothold, ()))

    def told_by(self, what: str) -> tuple[Plan, ...]:
        """Return the plans of which an inspection or a measurement tells something."""
        return self._some(self._told_by.get(what, ()))

    def of_faults(self, faults: Iterable[str]) -> tuple[Plan, ...]:
        """Return the plans of some faults, and those that may do harm which is one of these faults."""
        return self._some({n for fault in faults for n in self._of_fault.get(fault, ())})

    def _some(self, numbers: Iterable[int]) -> tuple[Plan, ...]:
        return tuple(self._plans[n] for n in sorted(numbers))

    @cached_property
    def _at(self) -> Mapping[Foothold, Sequence[int]]:
        return _numbers(plan.all_footholds for plan in self._plans)

    @cached_property
    def _touching(self) -> Mapping[Foothold, Sequence[int]]:
        return _numbers(plan.all_footholds | plan.victims for plan in self._plans)

    @cached_property
    def _told_by(self) -> Mapping[str, Sequence[int]]:
        return _numbers(plan.told_by for plan in self._plans)

    @cached_property
    def _of_fault(self) -> Mapping[str, Sequence[int]]:
        return _numbers(
            ({plan.fault.id} if plan.fault is not None else set())
            | {victim.fault for state in plan.states for victim in state.victims}
            for plan in self._plans
        )


def _numbers(keys: Iterable[Iterable[Key]]) -> dict[Key, list[int]]:
    """Return key -> the numbers of the plans that have it, in order."""
    found: dict[Key, list[int]] = {}
    for number, own in enumerate(keys):
        for key in own:
            found.setdefault(key, []).append(number)
    return found
