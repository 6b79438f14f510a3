"""The setup of every host, and how an entry of the log changes it: which unit sits in which slot."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from halfsplit.errors import Mistake
from halfsplit.job.machine import facts_of
from halfsplit.job.units import NEW, OWNER, kind_of
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.model.machine import Setup

Setups = Mapping[str, Setup]
"""Host -> its setup."""

RIDES_ON: Mapping[str, str] = MappingProxyType({"system": "drive", "firmware": "board", "settings": "board"})
"""What is stored in another part goes where that part goes; of several, in the first."""


def intake_setups(job: Job, book: Book) -> Setups:
    """Return every host's setup before the first entry: the owner's parts as known, the others' own ones."""
    told: dict[str, list[str]] = {}
    for part in job.parts:
        told.setdefault(kind_of(part.slot), []).append(part.slot)
    facts = facts_of(job, book, [])
    slots = {
        slot: f"{OWNER}.{slot}"
        for kind in book.kinds
        if kind not in job.missing
        for slot in told.get(kind) or _usual_slots(kind, facts, book)
    }
    setups = {OWNER: Setup(OWNER, MappingProxyType(slots))}
    for host in book.hosts.values():
        if host.id != OWNER:
            own = {slot: f"{host.id}.{slot}" for kind in host.own for slot in _default_slots(kind, book, least=1)}
            setups[host.id] = Setup(host.id, MappingProxyType(own))
    return MappingProxyType(setups)


def _usual_slots(kind: str, facts: Mapping[str, object], book: Book) -> list[str]:
    """Return the slots that are filled where nobody told of the kind itself, by what is known of the machine."""
    only = {fact: values for fact, values in book.kinds[kind].only.items() if fact in facts}
    if not all(facts[fact] in values for fact, values in only.items()):
        return []
    return _default_slots(kind, book, least=1 if only else 0)


def _default_slots(kind: str, book: Book, *, least: int = 0) -> list[str]:
    many = max(book.kinds[kind].default, least)
    if book.kinds[kind].many:
        return [f"{kind}.{number}" for number in range(1, many + 1)]
    return [kind] if many else []


class SetupChanger:
    """Applies what entries put where, and keeps the new units that were unpacked on the way.

    Args:
        book: the fault book.
        intake: the setups before the first entry.
        mistakes: HS203 goes here.
    """

    def __init__(self, book: Book, intake: Setups, mistakes: list[Mistake]) -> None:
        self._book = book
        self._intake = intake
        self._mistakes = mistakes
        self._unpacked: dict[str, list[str]] = {}  # slot -> new units fitted there, in order
        self._place = ""

    def aside(self, mistakes: list[Mistake]) -> "SetupChanger":
        """Return a changer that has unpacked the same, to try something with."""
        other = SetupChanger(self._book, self._intake, mistakes)
        other._unpacked = {slot: list(units) for slot, units in self._unpacked.items()}
        return other

    @property
    def unpacked(self) -> frozenset[tuple[str, tuple[str, ...]]]:
        """The new units that were fitted, by slot and in order."""
        return frozenset((slot, tuple(units)) for slot, units in self._unpacked.items())

    def change(  # the fields of an entry
        self, setups: Setups, host: str, swaps: Mapping[str, str], *, output: str = "", case: str = "", place: str = ""
    ) -> Setups:
        """Return the setups after some slots of one host were changed; a unit is always in one place only."""
        self._place = place
        if not (swaps or output or case):
            return setups
        before = setups[host]
        put: dict[str, str] = {}
        for slot, held in swaps.items():
            put |= self._put(setups, host, slot, held)
        after = {name: dict(setup.slots) for name, setup in setups.items()}
        for slots in after.values():
            for slot in [slot for slot, unit in slots.items() if unit in set(put.values())]:
                del slots[slot]
        after[host] |= put
        after[host] = {slot: unit for slot, unit in after[host].items() if unit}
        self._carry_riders(setups, after, {kind_of(slot) for slot in put})
        changed = {
            name: replace(setups[name], slots=MappingProxyType(slots)) if slots != setups[name].slots else setups[name]
            for name, slots in after.items()
        }
        changed[host] = replace(
            changed[host], output=output or before.output, in_case={"in": True, "out": False}.get(case, before.in_case)
        )
        return MappingProxyType(changed)

    def fit(self, setups: Setups, slot: str, fitted: str, place: str) -> Setups:
        """Return the setups after a part of the owner's machine was replaced; what rides on it was moved over."""
        riders = {
            rider: setups[OWNER].slots[rider]
            for rider, carrier in RIDES_ON.items()
            if carrier == kind_of(slot) and rider in setups[OWNER].slots
        }
        self._place = place
        if fitted == NEW and slot in self._unpacked and setups[OWNER].slots.get(slot) == self._unpacked[slot][-1]:
            self._unpack(slot)
        return self.change(setups, OWNER, {slot: fitted, **riders}, place=place)

    def _put(self, setups: Setups, host: str, slot: str, held: str) -> dict[str, str]:
        """Return slot -> unit ("" = empty) for one change; a kind of which there are several means all of them."""
        kind = kind_of(slot)
        if not self._book.kinds[kind].many or slot != kind:
            return {slot: self._unit(host, slot, held)}
        own = [name for name in self._intake[host].slots if kind_of(name) == kind]
        filled = [name for name in setups[host].slots if kind_of(name) == kind]
        slots = sorted(set(own) | set(filled), key=_by_number) or [f"{kind}.1"]
        if held in ("out", NEW):
            return {name: self._unit(host, name, held) for name in slots}
        if held in ("in", OWNER):
            source = self._intake[OWNER if held == OWNER else host].slots
            units = {name: unit for name, unit in source.items() if kind_of(name) == kind}
            if not units:
                self._say_absent(kind, held)
            return {**dict.fromkeys(slots, ""), **units}
        return {**dict.fromkeys(slots, ""), slots[0]: self._unit(host, slots[0], held)}

    def _unit(self, host: str, slot: str, held: str) -> str:
        """Return the unit that one slot gets, or ""."""
        whose, _, what = held.partition(".")
        if held == "out":
            return ""
        if held == NEW:
            return self._unpacked[slot][-1] if slot in self._unpacked else self._unpack(slot)
        if held in ("in", OWNER) or whose in self._intake:
            source = self._intake[host if held == "in" else whose].slots
            found = next((source[name] for name in (what or slot, f"{what}.1") if name in source), "")
            if not found:
                self._say_absent(slot, held)
            return found
        return f"{held}.1" if whose == NEW and "." not in what else held

    def _unpack(self, slot: str) -> str:
        kind = kind_of(slot)
        number = 1 + sum(len(units) for name, units in self._unpacked.items() if kind_of(name) == kind)
        self._unpacked.setdefault(slot, []).append(f"new.{kind}.{number}")
        return self._unpacked[slot][-1]

    def _carry_riders(self, before: Setups, after: dict[str, dict[str, str]], told: set[str]) -> None:
        """Move what rides on parts that were moved, unless the entry itself says where it is."""
        for rider, carrier in RIDES_ON.items():
            if rider not in self._book.kinds or carrier not in self._book.kinds or rider in told:
                continue
            slot = f"{carrier}.1" if self._book.kinds[carrier].many else carrier
            for host, slots in after.items():
                unit = slots.get(slot, "")
                if unit == before[host].slots.get(slot, ""):
                    continue
                slots.pop(rider, None)
                riding = self._rider(rider, slot, unit)
                if riding:
                    for others in after.values():
                        if others.get(rider) == riding:
                            del others[rider]
                    slots[rider] = riding

    def _rider(self, rider: str, slot: str, unit: str) -> str:
        """Return what rides on a unit, or "": the shelf's parts bring one of their own."""
        for setup in self._intake.values():
            if unit in setup.slots.values():
                return setup.slots.get(rider, "") if setup.slots.get(slot) == unit else ""
        return f"{unit}.{rider}" if unit else ""

    def _say_absent(self, slot: str, held: str) -> None:
        so = f"'{slot}' is to hold '{held}', but nothing of that kind was there at intake"
        should = "a slot holds out, in, owner, new, a part of the shelf, or a unit that there is"
        do = "Write a unit that there is, or tell under 'machine' that the part is there"
        self._mistakes.append(Mistake(self._place, "HS203", so, should, do))


def _by_number(slot: str) -> tuple[str, int]:
    kind, _, number = slot.partition(".")
    return kind, int(number or 0)
