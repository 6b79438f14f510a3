"""What is advised: everything that can be done next with its cost and value, and why; as data, to show or to send."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from halfsplit.model.bench import Minutes
from halfsplit.model.job import Entry

CHECK, REPAIR, END = "check", "repair", "end"

Json = str | float | int | bool | None | list["Json"] | dict[str, "Json"]


@dataclass(frozen=True)
class Leading:
    """A fault and how likely it is."""

    fault: str
    title: str
    p: float


@dataclass(frozen=True)
class Outcome:
    """One result of a check, and what it would mean.

    Args:
        line: the result in words.
        p: the chance of it.
        leading: the likeliest faults after it.
        first: what would come first after it.
        entries: the entries that record it, with this result.
    """

    line: str
    p: float
    leading: tuple[Leading, ...]
    first: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True)
class StopPoint:
    """A place to stop and ask first.

    Args:
        id: the rule or hazard.
        line: what is so.
        do: what to do about it.
        bars: whether nothing may be done here before it is cleared.
    """

    id: str
    line: str
    do: str
    bars: bool = False


@dataclass(frozen=True)
class Proposal:
    """One thing that can be done next.

    Args:
        id: the check or repair, with the number of the part where there are several.
        kind: CHECK, REPAIR or END.
        title: as the trade says it.
        at: the part or joint that a repair is done to, or "".
        cents: what it costs, with getting there, waiting, parts and expected damage.
        total: the least expected cost from here on when it comes first, in cents.
        value: what it saves against doing without it, in cents.
        minutes: hands-on minutes, place and days, with those of the openings.
        risk: expected damage, in cents.
        price: money for parts, in cents.
        openings: what is taken off or out for it, the outermost first.
        p: for a repair the chance that it cures something.
        outcomes: for a check its likely results, likeliest first.
        stop_points: what to stop and ask at before it.
    """

    id: str
    kind: str
    title: str
    at: str
    cents: float
    total: float
    value: float
    minutes: Minutes
    risk: float = 0.0
    price: float = 0.0
    openings: tuple[str, ...] = ()
    p: float = 0.0
    outcomes: tuple[Outcome, ...] = ()
    stop_points: tuple[StopPoint, ...] = ()


@dataclass(frozen=True)
class Advice:
    """What to do next.

    Args:
        proposals: everything that can be done, best first.
        top: the one to show first; it changes only for a gain that is worth it.
        why: the reasons for it, one sentence each.
        to_go: the least expected cost from here on, in cents.
        spent: what the job has cost so far, in cents.
        stop_points: what to stop and ask at, whatever comes next.
        alone: proposals that can run by themselves now.
        step_back: what to look at again where readings disagree or nothing moved, or ().
    """

    proposals: tuple[Proposal, ...]
    top: str
    why: tuple[str, ...]
    to_go: float
    spent: float
    stop_points: tuple[StopPoint, ...] = ()
    alone: tuple[str, ...] = ()
    step_back: tuple[str, ...] = ()
    doubts: Mapping[str, tuple[str, ...]] = MappingProxyType({})
