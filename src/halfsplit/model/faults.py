"""Faults: what may be wrong, how it shows, and how the number behind each is known."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType


@dataclass(frozen=True)
class Strength:
    """A probability with its basis.

    Args:
        p: the probability, in [0, 1].
        spread: standard deviation of its log odds (a factor of two either way is about 0.7); 0 only for
            "always" and "never".
        word: the strength word that it was written with, or "" for a number of its own.
        basis: ``source: id``, ``common practice`` or ``estimate``.
    """

    p: float
    spread: float
    word: str = ""
    basis: str = "estimate"


@dataclass(frozen=True)
class When:
    """A condition on one run; everything named must hold, what is not named does not matter.

    Args:
        load: names of what the run's load must stress ("card", "processor", "memory", "drive", "supply"),
            any of them; empty = any load, idle too.
        cold: the run started cold (True) or warm (False); a run that does not say is half of each.
        minutes_over: the run lasted longer than this, in minutes.
        lead_out: the mains lead had been out just before.
        position, touched, started_by, first_after: any of these words.
        output: the monitor is on one of these outputs.
        in_case: the board is in (True) or out of (False) the case.
        has, lacks: kinds of part or slots that are in, or are not in, the setup.
        host: any of these hosts.
    """

    load: tuple[str, ...] = ()
    cold: bool | None = None
    minutes_over: float | None = None
    lead_out: bool | None = None
    position: tuple[str, ...] = ()
    touched: tuple[str, ...] = ()
    started_by: tuple[str, ...] = ()
    first_after: tuple[str, ...] = ()
    output: tuple[str, ...] = ()
    in_case: bool | None = None
    has: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    host: tuple[str, ...] = ()


ALWAYS = When()


@dataclass(frozen=True)
class Ending:
    """One way in which an act shows, drawn jointly.

    Args:
        share: its share among the endings of the act.
        not_reached: the rung that the run does not reach, or "" for none.
        kind: how it stops: one of ``ladder.KINDS``.
        seconds: when it stops.  With ``not_reached`` this is only told; without, it is after log-in, or
            after the start when ``from_start``; None = no timed stop.
        dark: outputs without picture: "card", "board", "used" (the one that the monitor is on), "all", each
            with an optional stage ("card.self_test", "card.system").
        shows, hides: signs.
    """

    share: float = 1.0
    not_reached: str = ""
    kind: str = "stays"
    seconds: float | None = None
    from_start: bool = False
    dark: tuple[str, ...] = ()
    shows: tuple[str, ...] = ()
    hides: tuple[str, ...] = ()


@dataclass(frozen=True)
class Act:
    """What a pattern does in runs of one kind.

    Of the acts of a pattern the first whose ``when`` holds in a run is the one that is drawn.

    Args:
        of: the foothold (kind of part or joint) that must be in the setup; "" = any foothold of the pattern.
        q: the chance to act in one run.
        endings: the shares add up to 1.
    """

    q: Strength
    endings: tuple[Ending, ...]
    when: When = ALWAYS
    of: str = ""


@dataclass(frozen=True)
class Looks:
    """What an inspection of a place finds when this pattern is there: the word, and how surely one look sees it."""

    inspection: str
    word: str
    catch: Strength


@dataclass(frozen=True)
class Reads:
    """Where a measurement lies when this pattern is there: "low", "high" or "absent", in runs of one kind."""

    measurement: str
    state: str
    q: Strength
    when: When = ALWAYS


@dataclass(frozen=True)
class Harm:
    """Harm done while a pattern is powered up on a host: another part goes, and stays gone.

    Args:
        part: the kind of part that may be hit.
        chance: for each power-up together with it.
        as_fault: the fault that the hit part then has (its first pattern).
    """

    part: str
    chance: Strength
    as_fault: str


@dataclass(frozen=True)
class Pattern:
    """How a fault shows in this machine; drawn once, then fixed for the job.

    Args:
        share: its share among the fault's patterns.
        at: the footholds that this pattern has; empty = all of the fault's.
    """

    id: str
    share: float
    acts: tuple[Act, ...] = ()
    looks: tuple[Looks, ...] = ()
    reads: tuple[Reads, ...] = ()
    harm: Harm | None = None
    at: tuple[str, ...] = ()


@dataclass(frozen=True)
class Cure:
    """What a repair does to a fault: chance that it goes, chance that doing it brings the fault in."""

    repair: str
    goes: Strength
    comes: Strength | None = None


@dataclass(frozen=True)
class Fault:
    """One way in which one or more parts or joints are bad (a failure mode, IEC 60812).

    Args:
        id: never changes.
        title: as the trade says it.
        at: footholds: kinds of part or joints.  A kind or joint that occurs several times gives one root for each.
        together: acts only while all footholds are in the setup (mixed memory; a card and a small supply).
        base: the chance that it is there at intake in a machine of five years, brought in with any complaint.
        wear: Weibull shape of its hazard by age: 1 = constant, above 1 = wear-out.
        only: facts of the machine that it needs: fact -> values.
        likelier: fact -> value -> how much likelier it is with that value than with one that is not named.
        after: event told -> chance added by it.
        made_by: opening or repair -> chance that doing it brings this fault in.
        cures: what each repair does to it.
        patterns: shares add up to 1.
        matters: whether it must be mended before the machine is handed back.
        is_normal: normal behaviour taken for a fault.
        is_unlisted: stands for all that the book does not know of this part.
        kin: the group of faults that no check can tell apart from this one, or "".
        owner_says: the sentence for the owner.
        words: how owners put it.
        told_by: ids of the checks that best tell it from its neighbours.
        cause: the number of the common cause ("T06"), or "".
    """

    id: str
    title: str
    at: tuple[str, ...]
    base: Strength
    patterns: tuple[Pattern, ...]
    together: bool = False
    wear: float = 1.0
    only: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    likelier: Mapping[str, Mapping[str, float]] = field(default_factory=lambda: MappingProxyType({}))
    after: Mapping[str, Strength] = field(default_factory=lambda: MappingProxyType({}))
    made_by: Mapping[str, Strength] = field(default_factory=lambda: MappingProxyType({}))
    cures: tuple[Cure, ...] = ()
    matters: bool = True
    is_normal: bool = False
    is_unlisted: bool = False
    kin: str = ""
    owner_says: str = ""
    words: tuple[str, ...] = ()
    told_by: tuple[str, ...] = ()
    cause: str = ""
