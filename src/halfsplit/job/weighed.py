"""What the readings of a job come to, as one frozen record: for the terminal, for pages and for JSON.

Nothing is worked out here, and nothing is a sentence for a person yet: probabilities are numbers, and
whoever shows them puts them into words.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeVar

Json = str | int | float | bool | None | list["Json"] | dict[str, "Json"]

REACHED, NOT_REACHED, STOPPED, UNKNOWN = "reached", "not_reached", "stopped", "unknown"
"""What a run says of a rung: it was reached; it was not; the run stopped just below it; nothing."""


@dataclass(frozen=True)
class RunColumn:
    """One run, drawn on the ladder.

    Args:
        id: the id of its entry.
        heads: a few words each: host, load, count, what was swapped; most telling first.
        marks: for each rung, lowest first, one of REACHED, NOT_REACHED, STOPPED and UNKNOWN.
        ended: how it ended by itself ("resets"), "none" when it was watched to the end and did not, or "".
        ended_after_seconds: when it ended, in seconds, as told; None = not told.
    """

    id: str
    heads: tuple[str, ...]
    marks: tuple[str, ...]
    ended: str = ""
    ended_after_seconds: float | None = None


@dataclass(frozen=True)
class FaultSuspicion:
    """One fault and how far it is to be suspected.

    Args:
        id: unique in the job ("memory_bad", or "memory_bad@memory.2" where there are several).
        title: as the trade says it.
        part: the part or joint that it is in.
        p: P(there now | all readings).
        low, high: P when the book's numbers are moved within their spreads: the middle nine tenths.
    """

    id: str
    title: str
    part: str
    p: float
    low: float
    high: float


@dataclass(frozen=True)
class PartSuspicion:
    """One part or joint and P(at least one fault has hold of it now)."""

    id: str
    title: str
    p: float


_Suspicion = TypeVar("_Suspicion", FaultSuspicion, PartSuspicion)


@dataclass(frozen=True)
class FaultSet:
    """Faults that are there now together, and nothing else that is likely enough to be named.

    Args:
        faults: ids of ``FaultSuspicion``; empty = none of those named.
        p: P(exactly these).
    """

    faults: tuple[str, ...]
    p: float


@dataclass(frozen=True)
class Moved:
    """What one reading did to one suspicion.

    Args:
        fault: the id of the suspicion.
        reading: the id of the entry.
        line: what the reading told, in a few words.
        p_before, p_after: the suspicion before and after it, in the order of the log.
        p_without: the suspicion now if this reading alone is left out; None = not worked out.
    """

    fault: str
    reading: str
    line: str
    p_before: float
    p_after: float
    p_without: float | None = None


@dataclass(frozen=True)
class Conflict:
    """Whether the readings can be had together: M = prod P(r) / P(all r).

    Args:
        log_m: natural logarithm of M over all readings; minus infinity where nothing was found that shows all.
        log_alarm: the natural logarithm above which it is asked about (log 20: one false alarm in 20 jobs).
        since: the reading since which it grew most, or "".
        log_since: natural logarithm of M over the readings from there on.
        log_since_alarm: the limit for that one.
        without: pairs of a reading and log M when it alone is left out, the most telling first.
        p_unlisted: P(a fault that the book does not know is there).
        explained_by: the suspicion that would explain the conflict away, or "".
    """

    log_m: float = 0.0
    log_alarm: float = math.log(20.0)
    since: str = ""
    log_since: float = 0.0
    log_since_alarm: float = math.inf
    without: tuple[tuple[str, float], ...] = ()
    p_unlisted: float = 0.0
    explained_by: str = ""

    @property
    def is_alarm(self) -> bool:
        """Whether the readings disagree more than chance lets them."""
        return self.log_m >= self.log_alarm or self.log_since >= self.log_since_alarm


@dataclass(frozen=True)
class LeftOut:
    """What was left out of the answer, as a share of it: an estimate, and the ends of its 95 % interval."""

    share: float
    low: float
    high: float


@dataclass(frozen=True)
class Weighed:
    """All that is to be said about a job after its last reading.

    Args:
        name: what the job is called.
        rungs: pairs of id and title, lowest first.
        runs: the runs on the ladder, in the order of the log.
        faults, parts, sets: the suspicions, in any order.
        moved: what moved the leading suspicions, in the order of the log.
        conflict: whether the readings agree with each other.
        bound_share: a true bound on the share of the answer that was left out to be fast; 0 = exact.
        log_p_readings: natural logarithm of P(all readings); minus infinity when they cannot all be true.
        is_absurd: whether P(all readings) is so small that something is likely wrong with them.
        impossible: ids of readings that cannot all be true, and no fewer of them; () when they can.
        alike: groups of suspicions that no check at hand can tell apart.
        left_out: what was left out, where the bound does not say that it is little; None = the bound says so.
        aside: ids of the readings that were laid aside, as nothing was found that shows all of them.
        lent: parts of the shelf that were in, by their ids without ``shelf.``, and how likely each is bad now.
    """

    name: str
    rungs: tuple[tuple[str, str], ...]
    runs: tuple[RunColumn, ...]
    faults: tuple[FaultSuspicion, ...]
    parts: tuple[PartSuspicion, ...]
    sets: tuple[FaultSet, ...]
    moved: tuple[Moved, ...] = ()
    conflict: Conflict = Conflict()
    bound_share: float = 0.0
    log_p_readings: float = 0.0
    is_absurd: bool = False
    impossible: tuple[str, ...] = ()
    alike: tuple[tuple[str, ...], ...] = ()
    left_out: LeftOut | None = None
    aside: tuple[str, ...] = ()
    lent: tuple[PartSuspicion, ...] = ()

    def to_json(self) -> dict[str, Json]:
        """Return the record as plain data, suspicions sorted by p; keys are documented in docs/jobfile.md.

        Odds and logarithms that are infinite are null, because JSON has no word for them.
        """
        conflict = self.conflict
        return {
            "name": self.name,
            "faults": [
                {
                    "id": fault.id,
                    "title": fault.title,
                    "part": fault.part,
                    "p": fault.p,
                    "low": fault.low,
                    "high": fault.high,
                }
                for fault in by_p(self.faults)
            ],
            "parts": [{"id": part.id, "title": part.title, "p": part.p} for part in by_p(self.parts)],
            "lent": [{"id": part.id, "title": part.title, "p": part.p} for part in by_p(self.lent)],
            "sets": [
                {"faults": list(one.faults), "p": one.p}
                for one in sorted(self.sets, key=lambda one: (-one.p, one.faults))
            ],
            "moved": [
                {
                    "fault": move.fault,
                    "reading": move.reading,
                    "line": move.line,
                    "p_before": move.p_before,
                    "p_after": move.p_after,
                    "p_without": move.p_without,
                    "odds_before": _odds(move.p_before),
                    "odds_after": _odds(move.p_after),
                }
                for move in self.moved
            ],
            "conflict": {
                "is_alarm": conflict.is_alarm,
                "log_m": _finite(conflict.log_m),
                "log_alarm": conflict.log_alarm,
                "since": conflict.since,
                "log_since": _finite(conflict.log_since),
                "log_since_alarm": _finite(conflict.log_since_alarm),
                "without": [{"reading": name, "log_m": _finite(log_m)} for name, log_m in conflict.without],
                "p_unlisted": conflict.p_unlisted,
                "explained_by": conflict.explained_by,
            },
            "bound_share": self.bound_share,
            "estimate": _left_out(self.left_out),
            "log_p_readings": _finite(self.log_p_readings),
            "is_absurd": self.is_absurd,
            "impossible": list(self.impossible),
            "aside": list(self.aside),
            "alike": [list(group) for group in self.alike],
            "ladder": {
                "rungs": [name for name, _ in self.rungs],
                "runs": [
                    {
                        "id": run.id,
                        "heads": list(run.heads),
                        "marks": list(run.marks),
                        "ended": run.ended,
                        "ended_after_seconds": run.ended_after_seconds,
                    }
                    for run in self.runs
                ],
            },
        }


def by_p(suspicions: Iterable[_Suspicion]) -> list[_Suspicion]:
    """Return suspicions, the strongest first; equal ones by id."""
    return sorted(suspicions, key=lambda suspicion: (-suspicion.p, suspicion.id))


def _left_out(left_out: LeftOut | None) -> Json:
    if left_out is None:
        return None
    return {"share": left_out.share, "low": left_out.low, "high": left_out.high}


def _odds(p: float) -> float | None:
    return p / (1.0 - p) if p < 1.0 else None


def _finite(number: float) -> float | None:
    return number if math.isfinite(number) else None
