"""What is seen, asked and done at the bench: signs, events, inspections, measurements, checks, repairs, openings."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from halfsplit.model.faults import Ending, Strength, When


@dataclass(frozen=True)
class Sign:
    """Anything seen, heard, smelt or felt in a run besides where it stopped.

    Args:
        needs: the rung that must be reached for it to show.
        proves: the rung that it proves when it is there (never above ``needs``).
        on_screen: seen on a screen: hidden where no output in use has a picture.
        is_on: there by default in a sound machine (fans turn, standby light), if ``has`` is in.
        has: the kinds of part that must be in the setup for it to show at all.
        words: how owners put it.
        told_anyway: how often owners say it whatever is true.
        absent: how it is said that it is not there; "" = its title with "not" before it.
    """

    id: str
    title: str
    needs: str
    proves: str
    on_screen: bool = False
    is_on: bool = False
    has: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    told_anyway: float = 0.05
    absent: str = ""

    def said(self, *, was: bool) -> str:
        """Return in words that it is there, or that it is not."""
        return self.title if was else self.absent or f"not: {self.title}"


@dataclass(frozen=True)
class Event:
    """Something that happened to the machine before it came in.

    Args:
        p_true: the chance that it is true when an owner says so.
        eases: faults by wear that it makes less likely: factor on the wear-out share (recent work: 0.5).
        words: how owners put it.
    """

    id: str
    title: str
    p_true: float = 0.95
    eases: float = 1.0
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Forced:
    """What the setup itself does: a machine without memory has an expected stop and complaint."""

    when: When
    q: Strength
    endings: tuple[Ending, ...]


@dataclass(frozen=True)
class Inspection:
    """A look at one thing.

    Args:
        at: the kind of part or joint that is looked at.
        seen: words for what may be seen, worst first; the last is "fine".
        false_alarm: the chance that a look says the first word that fits when nothing is there.
        tools: tool -> the factor on what a look with it catches, torch = 1.
    """

    id: str
    title: str
    at: str
    seen: tuple[str, ...]
    opening: str
    false_alarm: Strength
    asks: str = ""

    @property
    def fine(self) -> str:
        """The word for a thing at which nothing is wrong."""
        return self.seen[-1]


@dataclass(frozen=True)
class Tool:
    """Something to look with: how much of what is there its looks can catch at all (same eyes, same light)."""

    id: str
    title: str
    reach: float


@dataclass(frozen=True)
class Measurement:
    """A number from an instrument at one point.

    Args:
        unit: "volts", "ohms", "watts", "celsius" or "rpm".
        rail: the rail in the published tables that gives its limits, or "".
        low, high: limits when there is no rail; either may be open.
        spread: how far a bad value typically lies outside its limits, in the unit.
        source: where the limits are from.
    """

    id: str
    title: str
    unit: str
    at: str
    rail: str = ""
    low: float | None = None
    high: float | None = None
    spread: float = 0.5
    opening: str = ""
    source: str = "common practice"


@dataclass(frozen=True)
class Opening:
    """What must be off or out to do something.

    Args:
        inside: the opening that must be made first, or "" for none.
        minutes_open, minutes_close: hands-on, in minutes.
        disturbs: joints that going there may disturb, with the chance.
        uses: consumables that closing it takes (paste).
        hazards: hazard ids.
        stays: whether the machine may be powered up with it open.
    """

    id: str
    title: str
    inside: str
    minutes_open: float
    minutes_close: float
    disturbs: Mapping[str, Strength] = field(default_factory=lambda: MappingProxyType({}))
    uses: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    stays: bool = False


@dataclass(frozen=True)
class Minutes:
    """Three kinds of time: hands-on (billed), the place taken on the bench, and calendar days."""

    hands_on: float
    place: float
    days: float = 0.0


@dataclass(frozen=True)
class Trigger:
    """What raises or clears a rule; any one thing does, and so do the looks under ``all_seen`` together.

    Args:
        told: events that the owner tells of.
        shows: signs that a run showed.
        seen: inspection -> the words that count.
        all_seen: inspection -> the words that count, where one look alone proves nothing.
        measured: measurement -> the sides of its limits that count: "low", "inside", "high".
        repairs: repairs that were done.
        facts: fact of the machine -> the values that count.
        faults: fault -> the suspicion from which on it counts.
    """

    told: tuple[str, ...] = ()
    shows: tuple[str, ...] = ()
    seen: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    all_seen: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    measured: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    repairs: tuple[str, ...] = ()
    facts: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    faults: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))


NEVER = Trigger()


@dataclass(frozen=True)
class Hazard:
    """Something that can hurt somebody, or lose data: what it is, and the caution that goes with it.

    Args:
        bars: what it keeps from being done while it is raised, whatever that would cost: "power" (the owner's
            machine is not powered up, nor a part of it elsewhere), "owners_drive" (no start with the owner's drive
            in), "supply" (the supply that was measured feeds no board), "named" (the checks and repairs that name it),
            or "" for a caution only.
        raised: what raises it; a rule that bars and has nothing to raise it is raised from the start.
        cleared: what clears it again.
        mended: inspection -> the repairs there that clear what such a look raised; besides them only a newer look there
            that raises nothing does, and nothing of ``cleared``.
    """

    id: str
    title: str
    caution: str
    bars: str = ""
    raised: Trigger = NEVER
    cleared: Trigger = NEVER
    mended: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True)
class Check:
    """Something the technician may do to get readings.

    Args:
        kind: "run", "inspect", "measure" or "ask".
        setup: changes to the setup that it asks for, as in a job file ("memory": "out").
        conditions: the conditions of its run ("load", "cold", ...).
        asks: signs, pictures or ids of inspections and measurements that it reads.
        needs: the rung that the owner's machine must get to for it to be of use, or "".
        steps: a few imperative lines.
        results: what each result looks like: word -> line.
    """

    id: str
    title: str
    kind: str
    opening: str
    minutes: Minutes
    steps: tuple[str, ...]
    why: str = ""
    setup: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    conditions: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    host: str = "owner"
    asks: tuple[str, ...] = ()
    results: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    tools: tuple[str, ...] = ()
    shelf: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    only: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    needs: str = ""


REPLACES, LEAVES_OFF, REFERS = "replace", "leave_off", "refer"
"""What repairs do that put another part in, leave one out for good, or are done by somebody else, who checks it."""

REFITS = ("reseat", "set")
"""What a repair does that happens as well whenever two parts are put together again ..."""

REPLUGS = ("reseat",)
"""... and when a cable goes back into the socket that it was in: it goes home there, and into no other one."""


@dataclass(frozen=True)
class Repair:
    """Something that may remove a fault.

    Args:
        does: reseat, clean, straighten, reset, flash, replace, refit, set, leave_off, watch or refer.
        at: the kind of part or joint that it is done to.
        recheck: the check that shows whether it held.
        shared: whether all faults it may cure hang on this one act being done properly.
    """

    id: str
    title: str
    does: str
    at: str
    opening: str
    minutes: Minutes
    steps: tuple[str, ...]
    recheck: str
    part: str = ""
    p_proper: Strength | None = None
    hazards: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    only: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True)
class Load:
    """What a run is busy with, what that stresses, and which kinds of part are not at work in it."""

    id: str
    title: str
    stresses: tuple[str, ...]
    rests: tuple[str, ...] = ()


@dataclass(frozen=True)
class Word:
    """Any other word that a job file may use, with its line of help."""

    id: str
    title: str
