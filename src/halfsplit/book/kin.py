"""Faults that nothing in the book can tell apart are one kin group, and say so."""

from collections.abc import Hashable

from halfsplit.book.desk import Desk
from halfsplit.model.book import Book
from halfsplit.model.faults import Act, Fault, Pattern, Strength


def check_kin(desk: Desk, book: Book) -> None:
    """Note faults that show and mend alike but are not declared kin (HS324), and groups that are none.

    A group has two faults at least (HS325), and one repair that cures any of them (HS338): as no check tells them
    apart, it is the one question that is left.
    """
    first_with: dict[Hashable, Fault] = {}
    for fault in book.faults.values():
        if ("faults", fault.id) in desk.marred:
            continue
        first = first_with.setdefault(signature_of(fault), fault)
        if first is not fault and not (fault.kin and fault.kin == first.kin):
            desk.say(
                desk.place_in("faults", fault.id),
                "HS324",
                f"nothing tells fault '{fault.id}' from fault '{first.id}'",
                "they act, look, read and mend alike, so they are one kin group",
                f"Give both the same 'kin', as 'kin: {first.kin or first.id}', or say what tells them apart",
            )
    groups: dict[str, list[Fault]] = {}
    for fault in book.faults.values():
        if fault.kin:
            groups.setdefault(fault.kin, []).append(fault)
    for kin, faults in groups.items():
        if len(faults) == 1:
            desk.say(
                desk.place_in("faults", faults[0].id, "kin"),
                "HS325",
                f"fault '{faults[0].id}' is alone in the kin group '{kin}'",
                "a kin group has two faults at least",
                "Correct the name of the group, or leave 'kin' out",
            )
        elif not _shared_repairs(faults) and all(("faults", fault.id) not in desk.marred for fault in faults):
            desk.say(
                desk.place_in("faults", faults[0].id, "kin"),
                "HS338",
                f"no repair cures all faults of the kin group '{kin}': {', '.join(fault.id for fault in faults)}",
                "a kin group has one repair for all of them, which is the one question that is left",
                "Add one repair to the 'cures' of each, or take out of the group what mends otherwise",
            )


def _shared_repairs(faults: list[Fault]) -> frozenset[str]:
    """Return the repairs that cure each of some faults; what stands for the unknown is cured by any."""
    cures = [frozenset(cure.repair for cure in fault.cures) for fault in faults if fault.cures]
    return frozenset.intersection(*cures) if cures else frozenset()


def signature_of(fault: Fault) -> Hashable:
    """Return all by which a check or a repair could tell a fault from another one.

    How likely it and its patterns are is left out: that tells nothing apart.
    """
    return (
        frozenset(fault.at),
        fault.together,
        frozenset((fact, frozenset(values)) for fact, values in fault.only.items()),
        frozenset((cure.repair, cure.goes.p, _p(cure.comes)) for cure in fault.cures),
        frozenset(_pattern(fault, pattern) for pattern in fault.patterns),
    )


def _pattern(fault: Fault, pattern: Pattern) -> Hashable:
    harm = pattern.harm
    return (
        frozenset(pattern.at or fault.at),
        tuple(_act(act) for act in pattern.acts),
        frozenset((look.inspection, look.word, look.catch.p) for look in pattern.looks),
        frozenset((read.measurement, read.state, read.q.p, read.when) for read in pattern.reads),
        None if harm is None else (harm.part, harm.chance.p, harm.as_fault),
    )


def _act(act: Act) -> Hashable:
    endings = frozenset(
        (
            ending.share,
            ending.not_reached,
            ending.kind,
            ending.seconds,
            ending.from_start,
            frozenset(ending.dark),
            frozenset(ending.shows),
            frozenset(ending.hides),
        )
        for ending in act.endings
    )
    return (act.q.p, act.when, act.of, endings)


def _p(strength: Strength | None) -> float:
    return 0.0 if strength is None else strength.p
