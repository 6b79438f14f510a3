"""Units, the pairs in which they meet, and what of them is together in one setup.

A unit is one physical part: ``owner.memory.2``, ``shelf.supply_a``, ``new.supply.1``, ``bench.board``.  A fault
has a foothold on a unit, or on a pair: two units that meet at a joint, each in its slot.  The pair is the
contact; the same module in another slot is another pair.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

from halfsplit.model.book import Book
from halfsplit.model.machine import Setup

OWNER = "owner"
"""The host that is the owner's machine; also whose a unit is."""

NEW = "new"
"""Whose a unit is that was bought or taken from stock for the job."""

SHELF = "shelf"
"""Whose a unit is that is one of the bench's own parts."""

MOST_SLOTS = 4_096
"""Slots of which the kind and the number are kept."""

OUT_WITH_CASE = ("case", "front_panel", "front_usb")
"""What the board leaves behind when it is taken out of the case (common practice)."""


@dataclass(frozen=True)
class Pair:
    """Two units that meet at a joint.

    Args:
        joint: the joint's id.
        ends: for each of the two, the slot and the unit in it, in the order of the joint's ``between``.
    """

    joint: str
    ends: tuple[tuple[str, str], ...]

    @property
    def number(self) -> str:
        """The number of the slot where there may be several (".2"), or ""."""
        return next((f".{slot.partition('.')[2]}" for slot, _ in self.ends if "." in slot), "")

    @property
    def name(self) -> str:
        """The joint with its number: ``memory_seat.2``."""
        return self.joint + self.number

    @property
    def units(self) -> frozenset[str]:
        """The units that meet."""
        return frozenset(unit for _, unit in self.ends)


Foothold = str | Pair
"""A unit's id or a pair; a host's id stands for all that this host brings itself."""


@dataclass(frozen=True)
class Together:
    """What is together on one host in one setup.

    Args:
        setup: the setup.
        footholds: every unit and every pair; the host's own id too, if it is not the owner's machine.
        has: the kinds of part and the slots that are filled.
        used: the outputs that the monitor is on.
    """

    setup: Setup
    footholds: frozenset[Foothold]
    has: frozenset[str]
    used: tuple[str, ...]

    @cached_property
    def pairs(self) -> frozenset[Pair]:
        """The pairs."""
        return frozenset(foothold for foothold in self.footholds if isinstance(foothold, Pair))

    def at_work(self, rests: Collection[str]) -> frozenset[Foothold]:
        """Return the units and pairs at work where the kinds of part in ``rests`` are not (a system on no run yet)."""
        if not rests:
            return self.footholds
        return frozenset(
            foothold
            for foothold in self.footholds
            if not any(
                kind_of(unit.partition(".")[2]) in rests
                for unit in (foothold.units if isinstance(foothold, Pair) else (foothold,))
            )
        )


@lru_cache(MOST_SLOTS)
def kind_of(slot: str) -> str:
    """Return the kind of part of a slot: ``memory.2`` -> ``memory``."""
    return slot.partition(".")[0]


def kind_of_unit(unit: str, book: Book) -> str:
    """Return the kind of part of a unit: ``shelf.supply_a`` -> ``supply``, ``new.drive.1.system`` -> ``system``."""
    whose, _, what = unit.partition(".")
    if whose == SHELF and what in book.shelf:
        return book.shelf[what].kind
    rides = what.rpartition(".")[2]
    return rides if rides in book.kinds else kind_of(what)


@lru_cache(MOST_SLOTS)
def number_of(slot: str) -> str:
    """Return the number of a slot with its dot (".2"), or ""."""
    return slot[len(kind_of(slot)) :]


class Gatherer:
    """Says what is together in a setup; equal setups are worked out once.

    Args:
        book: the fault book.
        joints: the joints that matter; pairs at others are not looked for.
    """

    def __init__(self, book: Book, joints: Iterable[str]) -> None:
        self._book = book
        self._joints = [book.joints[name] for name in book.joints if name in set(joints)]
        parts = {output.part for output in book.outputs.values()}
        self._sockets: dict[str, str] = {}  # joint of a cable with the part of an output -> that part
        for kind in book.kinds.values():
            met = {
                joint.id: part
                for joint in book.joints.values()
                for part in parts
                if kind.outside and set(joint.between) == {kind.id, part}
            }
            if len(set(met.values())) > 1:  # a cable that goes to either output is a video cable
                self._sockets |= met
        self._known: dict[tuple[object, ...], Together] = {}

    def is_socket(self, joint: str) -> bool:
        """Return whether a joint is that of a video cable with the part of an output."""
        return joint in self._sockets

    def together(self, setup: Setup, outputs: tuple[str, ...] = ()) -> Together:
        """Return what is together in a setup.

        Args:
            setup: the setup of one host.
            outputs: the outputs that the monitor is put on in turn; () = where the setup says.
        """
        key = (setup.host, tuple(sorted(setup.slots.items())), setup.output, setup.in_case, outputs)
        if key not in self._known:
            self._known[key] = self._gather(setup, outputs or self.used_outputs(setup))
        return self._known[key]

    def used_outputs(self, setup: Setup) -> tuple[str, ...]:
        """Return the output that the monitor is on; where nobody said, the first whose part is in."""
        if setup.output:
            return (setup.output,)
        return tuple(output.id for output in self._book.outputs.values() if setup.has(output.part))[:1]

    def _gather(self, setup: Setup, used: tuple[str, ...]) -> Together:
        slots = sitting(setup)
        by_kind: dict[str, list[str]] = {}
        for slot in slots:
            by_kind.setdefault(kind_of(slot), []).append(slot)
        lit = {self._book.outputs[output].part for output in used}
        footholds: set[Foothold] = set(slots.values())
        if setup.host != OWNER:
            footholds.add(setup.host)
        for joint in self._joints:
            if joint.id in self._sockets and self._sockets[joint.id] not in lit:
                continue
            footholds.update(_pairs(joint.id, [by_kind.get(kind, []) for kind in joint.between], slots))
        return Together(setup, frozenset(footholds), frozenset(slots) | frozenset(by_kind), used)


def sitting(setup: Setup) -> Mapping[str, str]:
    """Return slot -> unit of what is connected in a setup; outside the case less is."""
    if setup.in_case:
        return setup.slots
    return {slot: unit for slot, unit in setup.slots.items() if kind_of(slot) not in OUT_WITH_CASE}


def _pairs(joint: str, ends: list[list[str]], slots: Mapping[str, str]) -> list[Pair]:
    found: list[tuple[tuple[str, str], ...]] = [()]
    for options in ends:
        found = [(*before, (slot, slots[slot])) for before in found for slot in options]
    return [Pair(joint, pair) for pair in found]


def gatherer_of(book: Book) -> Gatherer:
    """Return a gatherer that looks for pairs at the joints that a fault of the book may have hold of."""
    return Gatherer(book, [at for fault in book.faults.values() for at in fault.at if at in book.joints])
