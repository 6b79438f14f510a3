"""A job: the machine as it is known, what was told, and the log; all frozen, all as somebody entered it.

Nothing here is worked out.  What the entries mean for the setup, the roots and the readings is a fold
over the log, made anew at will by the ``job`` room.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from halfsplit.model.machine import Conditions, Standing

YES, NO, UNSURE = "yes", "no", "unsure"


@dataclass(frozen=True)
class StopSeen:
    """How a run ended: its kind ("" = not said which), and when, in seconds (None = not said)."""

    kind: str = ""
    seconds: float | None = None


@dataclass(frozen=True)
class Seen:
    """What one run, or several equal runs, showed.  What is left out was not looked at.

    Args:
        reached: at least this rung was reached, or "".
        not_reached: this rung was not reached, or "".
        stop: how the run ended by itself, or None when nothing was said of that.
        stayed: whether it was watched to the end and did not stop.
        picture: output -> stage ("self_test", "system") -> whether there was a picture.
        signs: sign -> "yes", "no" or "unsure".
    """

    reached: str = ""
    not_reached: str = ""
    stop: StopSeen | None = None
    stayed: bool = False
    picture: Mapping[str, Mapping[str, bool]] = field(default_factory=lambda: MappingProxyType({}))
    signs: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True)
class Entry:
    """One entry of the log.

    Args:
        id: unique in the job.
        place: where it stands in its file ("job.yaml:12:5"), or "".
        by: initials of whoever entered it, or "".
        at: when, as ISO 8601, or "".
    """

    id: str
    place: str = ""
    by: str = ""
    at: str = ""


def unsigned(entry: Entry) -> Entry:
    """Return an entry without where it stands, who entered it, and when."""
    return replace(entry, place="", by="", at="")


@dataclass(frozen=True)
class Told(Entry):
    """One statement of the owner: an event, or what a run at home showed.

    Args:
        event: the event, or "".
        is_true: whether the owner says that it happened (True) or did not (False).
        ago: how long ago, as told.
        seen: what the owner says a run showed, or None.
        always: whether it is always so; None = not said.
        conditions: the conditions told of.
        sure: how sure the teller is: "sure", "fairly" or "guess".
        words: the owner's own words.
    """

    event: str = ""
    is_true: bool = True
    ago: str = ""
    seen: Seen | None = None
    always: bool | None = None
    conditions: Conditions = field(default_factory=Conditions)
    sure: str = "fairly"
    words: str = ""


@dataclass(frozen=True)
class Run(Entry):
    """One power-up of a setup, or several equal ones, with what it showed.

    Args:
        on: the host.
        swaps: slot -> what is in it for this run only ("out", "owner", a shelf part's id, "in").
        output: the output that the monitor is on, "" = as before.
        case: "in", "out", or "" = as before.
        failed, of: ``failed`` of ``of`` equal runs showed ``seen``; the rest ran through.
    """

    on: str = "owner"
    swaps: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    output: str = ""
    case: str = ""
    conditions: Conditions = field(default_factory=Conditions)
    seen: Seen = field(default_factory=Seen)
    failed: int = 1
    of: int = 1


@dataclass(frozen=True)
class Inspect(Entry):
    """A look at a thing: the inspection (``memory_seat.1`` where there are several), with what, what was seen."""

    what: str = ""
    tool: str = "torch"
    seen: str = ""
    on: str = "owner"


@dataclass(frozen=True)
class Measure(Entry):
    """A number from an instrument."""

    what: str = ""
    value: float = 0.0
    load: str = "idle"
    meter: str = ""
    on: str = "owner"


@dataclass(frozen=True)
class ChangeSetup(Entry):
    """A change that stays: slot -> "out", "in", "owner", a unit; the output; in the case or out."""

    on: str = "owner"
    swaps: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    output: str = ""
    case: str = ""


@dataclass(frozen=True)
class RepairDone(Entry):
    """A repair: its id or what it does ("reseat"), the part or joint, and the unit fitted if it is a replacement."""

    do: str = ""
    to: str = ""
    fitted: str = "new"


@dataclass(frozen=True)
class Remark(Entry):
    """An entry that moves no number: ``advise``, ``decide``, ``agree``, ``spend`` or ``note``."""

    kind: str = "note"
    text: str = ""
    cents: int | None = None


@dataclass(frozen=True)
class Correct(Entry):
    """A correction: the entry with this id should have been ``now`` all along; None = it is withdrawn."""

    entry: str = ""
    now: Entry | None = None


@dataclass(frozen=True)
class OwnedPart:
    """A part of the owner's machine as far as it is known: its slot and the facts given of it."""

    slot: str
    fields: Mapping[str, object] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True)
class Job:
    """One machine, one visit to the bench.

    Args:
        machine: fact -> value ("kind": "built", "age_years": 6.0); a fact that is not named is unknown.
        parts: the parts by slot; kinds that are not named are as the book's defaults say.
        missing: kinds of part that the machine certainly does not have.
        complaint: the complaint class, or "".
        shelf: part of the shelf, without ``shelf.`` -> how it stands; one that is not named stands as its grade says.
    """

    name: str = ""
    machine: Mapping[str, object] = field(default_factory=lambda: MappingProxyType({}))
    parts: tuple[OwnedPart, ...] = ()
    missing: tuple[str, ...] = ()
    complaint: str = ""
    told: tuple[Told, ...] = ()
    log: tuple[Entry, ...] = ()
    shelf: Mapping[str, Standing] = field(default_factory=lambda: MappingProxyType({}))
