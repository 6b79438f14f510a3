"""Which roots a job has: each fault at each of its places, and the bench's own parts that may be bad as well."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import combinations
from operator import itemgetter
from types import MappingProxyType

from halfsplit.job.changes import Course, Powered
from halfsplit.job.machine import share_of
from halfsplit.job.standing import NO_STANDINGS, p_at_start
from halfsplit.job.units import NEW, OWNER, SHELF, Foothold, Gatherer, Pair, kind_of, kind_of_unit, number_of
from halfsplit.model.book import Book
from halfsplit.model.faults import Act, Ending, Fault, Pattern, Strength
from halfsplit.model.machine import Standing

MOST_STATES = 12
"""A root has at most so many states; further harm is left out."""

P_NEW_PART_BAD = 0.02
"""New parts are 1 to 3 % bad on arrival (estimate of the trade)."""

_LIKELY_FAULTS = 3  # a bad part of the shelf is bad in one of so many ways, the commonest of its kind
_ALWAYS = Strength(1.0, 0.0, "always")


@dataclass(frozen=True)
class Victim:
    """A unit that was harmed: it shows the pattern of another fault.

    Args:
        unit: the unit.
        fault: that fault.
        pattern: of that fault.
        at: the foothold of that fault: the kind of part.
    """

    unit: str
    fault: str
    pattern: Pattern
    at: frozenset[str]


SPENT = Pattern("", 0.0)
"""What a fault does whose cause is mended: nothing by itself, only the harm that it did is left."""


@dataclass(frozen=True)
class State:
    """One state of a root in which the fault is there.

    Args:
        name: the pattern's id, with what it harmed.
        fault: the id of the fault whose pattern it is.
        pattern: how it shows.
        share: its share among all these states at the start.
        at: the footholds that it has, as the book names them.
        victims: what it harmed.
    """

    name: str
    fault: str
    pattern: Pattern
    share: float
    at: frozenset[str]
    victims: tuple[Victim, ...] = ()


@dataclass(frozen=True)
class Plan:
    """One root before its numbers.

    Args:
        id: unique in the job.
        fault: the fault, or None for a part of the bench's own.
        title: as the trade says it.
        footholds: part or joint of the book -> the units or pairs.
        states: the states in which it is there.
        p: the chance that it is there, for a part of the bench's own; the share of machines that it can be
            in, for a fault.
        at_intake: whether it may be there at intake.
        needs_all: whether it acts only while all its footholds are together.
        p_harmed: for a part that is lent, the chance that one power-up with parts of the owner leaves it bad.
    """

    id: str
    fault: Fault | None
    title: str
    footholds: Mapping[str, frozenset[Foothold]]
    states: tuple[State, ...]
    p: float
    at_intake: bool = True
    needs_all: bool = False
    p_harmed: float = 0.0
    all_footholds: frozenset[Foothold] = field(init=False)
    victims: frozenset[str] = field(init=False)
    patterns: tuple[Pattern, ...] = field(init=False)

    def __post_init__(self) -> None:
        every = frozenset(foothold for group in self.footholds.values() for foothold in group)
        object.__setattr__(self, "all_footholds", every)
        victims = frozenset(victim.unit for state in self.states for victim in state.victims)
        object.__setattr__(self, "victims", victims)
        patterns = {id(p): p for state in self.states for p in (state.pattern, *(v.pattern for v in state.victims))}
        object.__setattr__(self, "patterns", tuple(patterns.values()))

    @property
    def matters(self) -> bool:
        """Whether it must be mended before the machine is handed back; a bad part of the bench's own counts."""
        return self.fault is None or (self.fault.matters and not self.fault.is_normal)

    @cached_property
    def told_by(self) -> frozenset[str]:
        """The inspections and measurements that tell something of it."""
        looks = (look.inspection for pattern in self.patterns for look in pattern.looks)
        return frozenset((*looks, *(read.measurement for pattern in self.patterns for read in pattern.reads)))

    def present(self, footholds: frozenset[Foothold]) -> frozenset[str]:
        """Return which of its footholds, as the book names them, are among these."""
        if self.all_footholds.isdisjoint(footholds):
            return frozenset()
        return frozenset(at for at, group in self.footholds.items() if not group.isdisjoint(footholds))

    def held(self, state: State) -> frozenset[Foothold]:
        """Return the units and pairs that it has a foothold on in one state, those that it harmed among them."""
        return self.own(state) | {victim.unit for victim in state.victims}

    def own(self, state: State) -> frozenset[Foothold]:
        """Return the units and pairs that the fault itself has a foothold on in one state."""
        return frozenset(foothold for at in state.at for foothold in self.footholds.get(at, ()))


def plan_roots(
    book: Book,
    course: Course,
    gatherer: Gatherer,
    facts: Mapping[str, object],
    shelf: Mapping[str, Standing] = NO_STANDINGS,
) -> tuple[Plan, ...]:
    """Return the roots of a job, those of the owner's machine first.

    Args:
        book: the fault book.
        course: the log, walked.
        gatherer: says what is together.
        facts: what is known of the machine.
        shelf: how parts of the shelf stand that do not stand as their grade says.
    """
    intake = gatherer.together(course.intake[OWNER]).footholds
    met = {foothold for moment in course.moments for foothold in moment.together.footholds}
    fresh = sorted((pair for pair in met - intake if isinstance(pair, Pair) and _is_ours(pair, book)), key=str)
    powered = dict.fromkeys(
        change.together.footholds
        for moment in course.moments
        for change in moment.changes
        if isinstance(change, Powered)
    )
    hosts = [(footholds, _by_part(footholds, book)) for footholds in powered]
    sitting = _by_kind(intake)
    plans: list[Plan] = []
    for fault in book.faults.values():
        share = share_of(fault.only, facts, book)
        for name, places in _places(fault, sitting, book):
            plan = _plan_fault(book, fault, name, places, share)
            if plan is not None:
                plans.append(_with_harm(plan, book, hosts))
        for pair in fresh:
            if fault.at == (pair.joint,):
                plan = _plan_fault(
                    book, fault, f"{fault.id}@{name_of_pair(pair)}", {pair.joint: frozenset({pair})}, 1.0
                )
                if plan is not None:
                    plans.append(replace(plan, p=0.0, at_intake=False))
    lent = sorted(unit for unit in met if isinstance(unit, str) and not unit.startswith(f"{OWNER}."))
    plans += [plan for unit in lent if (plan := _plan_lent(book, unit, shelf)) is not None]
    return tuple(plans)


def name_of_pair(pair: Pair) -> str:
    """Return what sets a pair apart from the one at intake: ``memory.2:owner.memory.1``, ``shelf.supply_a``."""
    slot = next((slot for slot, _ in pair.ends if number_of(slot)), "")
    others = [unit for slot, unit in pair.ends if unit != f"{OWNER}.{slot}"]
    return ":".join(filter(None, [slot, "+".join(others)]))


def _is_ours(pair: Pair, book: Book) -> bool:
    """Return whether a pair is more than a contact between two own parts of a host."""
    hosts = {unit.partition(".")[0] for unit in pair.units}
    return len(hosts) > 1 or not hosts <= book.hosts.keys() - {OWNER}


def _places(
    fault: Fault, intake: Mapping[str, Sequence[Foothold]], book: Book
) -> Iterable[tuple[str, Mapping[str, frozenset[Foothold]]]]:
    """Yield the name and the footholds of each root that a fault gives at intake."""
    at_each = {at: intake.get(at, ()) for at in fault.at}
    if len(fault.at) > 1:
        yield fault.id, {at: frozenset(found) for at, found in at_each.items() if found}
        return
    (at,) = fault.at
    for foothold in at_each[at]:
        name = fault.id
        number = foothold.number if isinstance(foothold, Pair) else number_of(foothold.partition(".")[2])
        if number:
            many = [end for end in (book.joints[at].between if at in book.joints else (at,)) if book.kinds[end].many]
            name = f"{fault.id}@{many[0]}{number}"
        yield name, {at: frozenset({foothold})}


def _by_kind(intake: Iterable[Foothold]) -> dict[str, list[Foothold]]:
    """Return the units of each kind of part and the pairs of each joint, in order."""
    found: dict[str, list[Foothold]] = {}
    for foothold in sorted(intake, key=str):
        at = foothold.joint if isinstance(foothold, Pair) else kind_of(foothold.removeprefix(f"{OWNER}."))
        found.setdefault(at, []).append(foothold)
    return found


def _by_part(footholds: frozenset[Foothold], book: Book) -> dict[str, list[str]]:
    """Return kind of part -> the units of it, whosever they are."""
    found: dict[str, list[str]] = {}
    for unit in footholds:
        if isinstance(unit, str) and unit not in book.hosts:
            found.setdefault(kind_of_unit(unit, book), []).append(unit)
    return found


def _plan_fault(
    book: Book, fault: Fault, name: str, places: Mapping[str, frozenset[Foothold]], share: float
) -> Plan | None:
    """Return the plan of a fault at some places, or None where it cannot be in this machine."""
    states = []
    for pattern in fault.patterns:
        at = frozenset(pattern.at or fault.at) & places.keys()
        if at:
            states.append(State(pattern.id, fault.id, pattern, pattern.share, at))
    left = sum(state.share for state in states)
    if share * left <= 0.0 or (fault.together and len(places) < len(fault.at)):
        return None
    return Plan(
        name,
        fault,
        fault.title,
        MappingProxyType(dict(places)),
        _shared_out(states),
        share * left,
        needs_all=fault.together,
    )


def _shared_out(states: Iterable[State]) -> tuple[State, ...]:
    found = tuple(states)
    total = sum(state.share for state in found)
    return tuple(replace(state, share=state.share / total) for state in found)


def _with_harm(plan: Plan, book: Book, powered: Sequence[tuple[frozenset[Foothold], Mapping[str, list[str]]]]) -> Plan:
    """Return a plan with the states of the harm that it may have done to what was powered up with it, the likeliest.

    Args:
        plan: the plan.
        book: the fault book.
        powered: for each power-up what was together, and kind of part -> its units.
    """
    if not any(state.pattern.harm for state in plan.states):
        return plan
    more: list[tuple[float, State]] = []
    spent: dict[str, tuple[float, State]] = {}
    for state in plan.states:
        harm = state.pattern.harm
        if harm is None or harm.as_fault not in book.faults:
            continue
        shown = book.faults[harm.as_fault].patterns[0]
        units = sorted(
            {
                unit
                for footholds, units in powered
                if not plan.held(state).isdisjoint(footholds)
                for unit in units.get(harm.part, ())
            }
        )
        victims = [Victim(unit, harm.as_fault, shown, frozenset({harm.part})) for unit in units]
        for many in range(1, len(victims) + 1):
            for group in combinations(victims, many):
                harmed = [f"harm:{victim.unit}" for victim in group]
                p = state.share * harm.chance.p**many
                more.append(
                    (p, State("+".join([state.name, *harmed]), state.fault, state.pattern, 0.0, state.at, group))
                )
                left = State("+".join(harmed), state.fault, SPENT, 0.0, frozenset(), group)
                spent[left.name] = max((p, left), spent.get(left.name, (0.0, left)), key=itemgetter(0))
    found = [sorted(each, key=lambda harmed: (-harmed[0], len(harmed[1].victims))) for each in (more, spent.values())]
    states = (*plan.states, *(state for each in found for _, state in each))[: MOST_STATES - 1]
    return replace(plan, states=states)


def _plan_lent(book: Book, unit: str, shelf: Mapping[str, Standing]) -> Plan | None:
    """Return the root of a part of the shelf, a new part, or a host's own parts; None for what has none."""
    if unit in book.hosts:
        return _plan_host(book, unit)
    whose, _, what = unit.partition(".")
    if whose == SHELF and what in book.shelf:
        part = book.shelf[what]
        kind, title, p = part.kind, part.title or what, p_at_start(part, shelf.get(what, Standing()), book)
    elif whose == NEW and kind_of(what) in book.kinds and what.count(".") == 1:
        kind = kind_of(what)
        title, p = f"new {book.kinds[kind].title}", P_NEW_PART_BAD
    else:
        return None
    known = sorted((f for f in book.faults.values() if f.at == (kind,)), key=lambda f: (-f.base.p, f.id))
    known = [fault for fault in known if not fault.is_normal][:_LIKELY_FAULTS]
    if not known or p <= 0.0:
        return None
    at = frozenset({kind})
    states = [State(f"{f.id}.{f.patterns[0].id}", f.id, f.patterns[0], f.base.p, at) for f in known]
    places: Mapping[str, frozenset[Foothold]] = {kind: frozenset({unit})}
    harmed = book.hosts[OWNER].harms if whose == SHELF and not book.kinds[kind].outside else 0.0
    name = f"bad:{unit}"
    return Plan(name, None, f"{title} is bad", MappingProxyType(places), _shared_out(states), p, False, p_harmed=harmed)


def _plan_host(book: Book, host: str) -> Plan | None:
    """Return the root of all that a host brings itself: dead, or it gets no further than its self-test."""
    noun = book.hosts[host]
    if not noun.own or noun.p_good >= 1.0:
        return None
    rungs = [rung.id for rung in book.ladder.rungs]
    states = [
        State(
            name,
            f"bad:{host}",
            Pattern(name, 0.5, (Act(_ALWAYS, (Ending(not_reached=rung),)),)),
            0.5,
            frozenset({host}),
        )
        for name, rung in (("dead", rungs[1]), ("stands", rungs[len(rungs) // 2]))
    ]
    places: Mapping[str, frozenset[Foothold]] = {host: frozenset({host})}
    return Plan(
        f"bad:{host}", None, f"{noun.title} is bad", MappingProxyType(places), tuple(states), 1.0 - noun.p_good, False
    )
