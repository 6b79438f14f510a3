"""What entries of the log change in the machine, and the moments at which they do; nothing here has a probability."""

from dataclasses import dataclass

from halfsplit.job.setups import Setups
from halfsplit.job.units import Foothold, Pair, Together
from halfsplit.model.bench import Repair
from halfsplit.model.job import Entry


@dataclass(frozen=True)
class Opened:
    """Openings made in the owner's machine.

    Args:
        openings: the openings, the outermost first.
        reaches: the units and pairs that they may disturb.
        at, number: the part or joint that was worked at, with its slot's number (".2") if there are several.
    """

    openings: tuple[str, ...]
    reaches: frozenset[Foothold]
    at: str = ""
    number: str = ""


@dataclass(frozen=True)
class Mated:
    """Two units put together.

    Args:
        pair: the units, each in its slot.
        again: whether they had been together before.
        openings: the openings that led there.
        repair: the repair that did it, or "".
        as_it_was: whether it is a cable that went back into the socket that it was in.
    """

    pair: Pair
    again: bool
    openings: tuple[str, ...] = ()
    repair: str = ""
    as_it_was: bool = False


@dataclass(frozen=True)
class LeadOut:
    """The mains lead of a host taken out, with what was together."""

    before: Together


@dataclass(frozen=True)
class Repaired:
    """A repair done to the owner's machine; ``taken_out`` are the units that it took out."""

    entry: str
    repair: Repair
    number: str
    before: Together
    taken_out: frozenset[str]


@dataclass(frozen=True)
class Powered:
    """A host powered up so many times."""

    together: Together
    times: int


Change = Opened | Mated | LeadOut | Repaired | Powered


@dataclass(frozen=True)
class Moment:
    """One entry of the log.

    Args:
        time: its place in the log; its changes come before its reading.
        entry: the entry; None after the last one, when what was lent is put back.
        together: what is together on its host.
        changes: what was changed just before, in order.
        lead_out: whether the lead was out just before.
        first_after: the openings and repairs since the run before.
        stretch: how often the place that it looks at was worked at before.
        looked_at: the units or pairs that it looks at or measures.
    """

    time: int
    entry: Entry | None
    together: Together
    changes: tuple[Change, ...]
    lead_out: bool = False
    first_after: frozenset[str] = frozenset()
    stretch: int = 0
    looked_at: frozenset[str | Pair] = frozenset()


@dataclass(frozen=True)
class Course:
    """The whole log: its moments, and the setups at intake and now."""

    intake: Setups
    moments: tuple[Moment, ...]
    standing: Setups
