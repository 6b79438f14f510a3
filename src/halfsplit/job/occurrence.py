"""How likely each fault is there at intake, given what the owner says happened before."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from types import MappingProxyType

import numpy as np

from halfsplit.job.machine import AGE, USUAL_AGE_YEARS, factor_of
from halfsplit.job.roots import Plan
from halfsplit.model.arrays import Floats
from halfsplit.model.book import Book
from halfsplit.model.evidence import Context
from halfsplit.model.faults import Fault
from halfsplit.model.job import Told

MOST_BASE = 0.5
"""However old, no fault is likelier than this at intake before anything was told (estimate)."""

SURENESS: Mapping[str, float] = MappingProxyType({"fairly": 1.0, "guess": 0.7})
"""How sure a teller is -> the factor on the chance that it is so (estimate)."""

P_SURE = 0.99
"""The chance that an event is true which a teller saw and is certain of (estimate)."""

P_DENIED = 0.02
"""The chance that an event is true although the owner says that it did not happen (estimate)."""

LEAST_SHARED = 0.1
"""What is shared by several roots is looked at value by value where it makes at least so much of a difference."""


@dataclass(frozen=True)
class EventTold:
    """An event as far as it was told.

    Args:
        id: the event.
        p: the chance that it is true.
        is_told: whether the owner says that it happened.
    """

    id: str
    p: float
    is_told: bool

    @property
    def context(self) -> str:
        """The id of its context."""
        return f"event:{self.id}"


def events_told(told: Iterable[Told], book: Book) -> tuple[EventTold, ...]:
    """Return the events that statements tell of, each once; the last word on an event stands."""
    found: dict[str, EventTold] = {}
    for statement in told:
        if statement.event:
            p = P_DENIED
            if statement.is_true:
                usual = book.events[statement.event].p_true
                p = max(usual, P_SURE) if statement.sure == "sure" else usual * SURENESS[statement.sure]
            found[statement.event] = EventTold(statement.event, p, statement.is_true)
    return tuple(found.values())


def touching(plan: Plan, events: Sequence[EventTold], book: Book) -> tuple[EventTold, ...]:
    """Return the events that change how likely a root is at intake."""
    if plan.fault is None or not plan.at_intake:
        return ()
    wears = plan.fault.wear > 1.0
    return tuple(
        event
        for event in events
        if event.id in plan.fault.after or (wears and event.is_told and book.events[event.id].eases != 1.0)
    )


def event_contexts(plans: Sequence[Plan], events: Sequence[EventTold], book: Book) -> tuple[tuple[float, Context], ...]:
    """Return the events that several roots share as contexts, each with how much hangs on it.

    That two faults share an event with P(true) = p makes both together likelier by the share (1 - p) / p, at
    most.  Where that is less than ``LEAST_SHARED``, where one root only hangs on it, or where the owner denies
    it, the event is part of each root's start.
    """
    found = []
    for event in events:
        touched = sum(event in touching(plan, (event,), book) for plan in plans)
        shared = (1.0 - event.p) / event.p
        if event.is_told and touched > 1 and shared >= LEAST_SHARED:
            found.append((shared * touched, Context(event.context, ("true", "false"), (event.p, 1.0 - event.p))))
    return tuple(found)


def base_at_age(fault: Fault, facts: Mapping[str, object]) -> float:
    """Return the base of a fault at the machine's age.

    Weibull hazard by age: base x (age / 5 years) ^ (shape - 1), at most ``MOST_BASE``.
    """
    age = facts.get(AGE)
    if not isinstance(age, int | float) or fault.wear == 1.0:
        return fault.base.p
    factor = float((age / USUAL_AGE_YEARS) ** (fault.wear - 1.0))
    return min(fault.base.p * factor, max(MOST_BASE, fault.base.p))


def start_of(
    plan: Plan, events: Sequence[EventTold], contexts: frozenset[str], facts: Mapping[str, object], book: Book
) -> tuple[Floats, tuple[str, ...]]:
    """Return the start of a root.

    P(there) = 1 - (1 - base) x product over true events of (1 - added by it).

    Args:
        plan: the root.
        events: the events told.
        contexts: the contexts that are kept; other events are mixed in.
        facts: what is known of the machine.
        book: the fault book.

    Returns:
        Shape (2 for each context ..., 1 + states), and the contexts in order.
    """
    shares = np.array([0.0, *(state.share for state in plan.states)])
    touched = touching(plan, events, book)
    kept = tuple(event for event in touched if event.context in contexts)
    mixed = tuple(event for event in touched if event.context not in contexts)
    there = np.zeros((2,) * len(kept))
    for values in product((0, 1), repeat=len(kept)):
        true = [event for event, value in zip(kept, values, strict=True) if value == 0]
        there[values] = sum(weight * _p_there(plan, [*true, *more], facts, book) for weight, more in _true_sets(mixed))
    start = there[..., None] * shares
    start[..., 0] = 1.0 - there
    return start, tuple(event.context for event in kept)


def _true_sets(events: Sequence[EventTold]) -> Iterable[tuple[float, list[EventTold]]]:
    """Yield each set of true events with its probability."""
    for values in product((True, False), repeat=len(events)):
        weight = 1.0
        for event, is_true in zip(events, values, strict=True):
            weight *= event.p if is_true else 1.0 - event.p
        yield weight, [event for event, is_true in zip(events, values, strict=True) if is_true]


def _p_there(plan: Plan, true: Sequence[EventTold], facts: Mapping[str, object], book: Book) -> float:
    fault = plan.fault
    if fault is None or not plan.at_intake:
        return plan.p
    base = min(base_at_age(fault, facts) * factor_of(fault.likelier, facts, book), max(MOST_BASE, fault.base.p))
    absent = 1.0
    for event in true:
        if fault.wear > 1.0:
            base *= book.events[event.id].eases
        if event.id in fault.after:
            absent *= 1.0 - fault.after[event.id].p
    return (1.0 - (1.0 - base) * absent) * plan.p
