"""The machine: kinds of part, slots, joints, outputs, hosts, units, and the setup of one moment."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType


@dataclass(frozen=True)
class PartKind:
    """A kind of part, which is also the slot that it sits in ("supply", "memory", "monitor").

    Args:
        id: as written in job files; several of a kind are ``memory.1``, ``memory.2``.
        title: as the trade says it.
        many: whether a machine may have several.
        outside: whether it is outside the case (lead, strip, monitor, keyboard).
        default: how many a machine has when nobody said (0 = none).
        fields: further facts that a job file may give of it ("watts"), each with one line of help.
        only: fact -> the values with which a machine has one; with any other value of it there is none.  Where
            the fact is not known ``default`` says how many.
        worth: what a used good one is worth, in cents.
        price: what a new one costs, in cents.
    """

    id: str
    title: str
    many: bool = False
    outside: bool = False
    default: int = 1
    fields: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    only: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    worth_cents: int = 0
    price_cents: int = 0


@dataclass(frozen=True)
class Joint:
    """Where two parts meet: a plug, a seat, a cable end, a screw that may touch.

    Args:
        between: the kinds of part that meet; for a kind that occurs several times there is one joint for
            each (``memory_seat.1``), and the fault belongs to the pair of that part and that slot.
    """

    id: str
    title: str
    between: tuple[str, ...]


@dataclass(frozen=True)
class Fact:
    """Something about the machine that changes the model ("cooling": air or liquid).

    Args:
        values: each value with its share among machines; the share is used while it is unknown.
            Empty for a plain number (age in years).
        given: another fact -> its value -> the shares among the machines that have that value.
    """

    id: str
    title: str
    values: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    given: Mapping[str, Mapping[str, Mapping[str, float]]] = field(default_factory=lambda: MappingProxyType({}))

    def shares(self, known: Mapping[str, object]) -> Mapping[str, float]:
        """Return each value with its share among the machines of which this is known (fact -> value)."""
        for other, by_value in self.given.items():
            value = known.get(other)
            if isinstance(value, str) and value in by_value:
                return by_value[value]
        return self.values


@dataclass(frozen=True)
class Host:
    """What a run happens on.

    Args:
        own: the kinds of part that this host brings itself; the others must be lent.
        p_good: the chance that all that it brings is good.
        harms: the chance that one power-up together with its parts leaves a part that was lent to it bad.
    """

    id: str
    title: str
    own: tuple[str, ...] = ()
    p_good: float = 1.0
    harms: float = 0.0


@dataclass(frozen=True)
class Grade:
    """A grade of shelf part ("known_good").

    Args:
        p_good: the chance that a part of that grade is good.
        basis: what that rests on.
        fades: the chance that a good one is bad after one year on the shelf.
    """

    id: str
    title: str
    p_good: float
    basis: str
    fades: float = 0.0


@dataclass(frozen=True)
class ShelfPart:
    """One of the bench's own parts.

    Args:
        fits: fact -> the values of the machines that it goes into; empty = any machine.
    """

    id: str
    kind: str
    grade: str
    title: str = ""
    fits: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True)
class Standing:
    """What happened to a part of the shelf until it came into a job.

    Args:
        p_bad: the chance that it was bad when that was last known; None = as its grade says.
        exposures: in how many power-ups it was with parts of others since then.
        days: how long ago that was.
    """

    p_bad: float | None = None
    exposures: int = 0
    days: int = 0


@dataclass(frozen=True)
class Output:
    """A socket for a monitor: "card" or "board"; ``part`` is the kind of part that it is on."""

    id: str
    title: str
    part: str


HEAD_SQUARES = 2
"""The strip along the top of a block that holds others, in squares of the map; its label stands there."""


@dataclass(frozen=True)
class Block:
    """Where a kind of part is drawn on the map of the machine, in squares of its grid.

    Args:
        kind: the kind of part; several of it stand side by side in its block.
        x, y: the upper left corner, counted from the left and from the top.
        w, h: how wide and how high.
        on: the kind of part whose block it is drawn in, or "".
        label: what stands on it: short, as the trade says it.
    """

    kind: str
    x: int
    y: int
    w: int
    h: int
    on: str = ""
    label: str = ""

    @property
    def right(self) -> int:
        """The first column of squares to the right of it."""
        return self.x + self.w

    @property
    def bottom(self) -> int:
        """The first row of squares below it."""
        return self.y + self.h

    def overlaps(self, other: "Block") -> bool:
        """Return whether the two have a square in common."""
        return self.x < other.right and other.x < self.right and self.y < other.bottom and other.y < self.bottom

    def holds(self, other: "Block") -> bool:
        """Return whether the other one lies within it, below the strip for its label."""
        return (
            self.x <= other.x
            and other.right <= self.right
            and self.y + HEAD_SQUARES <= other.y
            and other.bottom <= self.bottom
        )


@dataclass(frozen=True)
class Setup:
    """At one moment, for one host: which unit, or nothing, is in each slot, and how it stands.

    A unit is one physical part: ``owner.supply``, ``owner.memory.2``, ``shelf.supply_a``,
    ``bench.board``, ``new.supply.1``.

    Args:
        host: the host's id.
        slots: slot -> unit; a slot that is not named is empty.
        output: the output that the monitor is on, or "".
        in_case: whether the board is in the case.
    """

    host: str
    slots: Mapping[str, str]
    output: str = ""
    in_case: bool = True

    def has(self, kind_or_slot: str) -> bool:
        """Return whether any slot of that kind, or that very slot, is filled."""
        return any(
            unit and (slot == kind_or_slot or slot.split(".")[0] == kind_or_slot) for slot, unit in self.slots.items()
        )

    def slot_of(self, unit: str) -> str:
        """Return the slot that a unit sits in, or "" when it is not on this host."""
        return next((slot for slot, sitting in self.slots.items() if sitting == unit), "")


@dataclass(frozen=True)
class Conditions:
    """The conditions of one run; None or "" is "not said"."""

    cold: bool | None = None
    load: str = "idle"
    minutes: float | None = None
    lead_out_minutes: float | None = None
    position: str = ""
    touched: str = ""
    started_by: str = ""
    first_after: str = ""
