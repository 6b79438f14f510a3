"""Hard rules: what no price overrides.  What the log raised and did not clear bars acts, or asks before them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from halfsplit.job.advised import StopPoint
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.units import OWNER, kind_of
from halfsplit.model.bench import NEVER, Check, Hazard, Repair, Trigger
from halfsplit.model.book import Book
from halfsplit.model.job import YES, Entry, Inspect, Job, Measure, RepairDone, Run, Told

POWER, OWNERS_DRIVE, NAMED = "power", "owners_drive", "named"
"""What a rule bars while it is raised."""

DRIVE = "drive"
OUT = "out"


@dataclass(frozen=True)
class _Raised:
    """A rule that is raised, and why."""

    rule: Hazard
    why: str

    def stop(self) -> StopPoint:
        line = f"{self.rule.title}: {self.why}" if self.why else self.rule.title
        return StopPoint(self.rule.id, line, self.rule.caution, bars=self.rule.bars != NAMED)


class Rules:
    """The rules that are raised in a job.

    Args:
        job: the job.
        book: the fault book.
        facts: what is known of the machine.
        p_of_faults: fault -> how far it is suspected; empty before anything is weighed: what the log alone raises
            is then raised all the same.
    """

    def __init__(self, job: Job, book: Book, facts: Mapping[str, object], p_of_faults: Mapping[str, float]) -> None:
        self._book = book
        self._facts = facts
        told, log = apply_corrections(job, [])
        self._entries: tuple[Entry, ...] = (*told, *(entry for entry in log if not isinstance(entry, Told)))
        self._p = p_of_faults
        self._raised = tuple(self._all_raised())

    def whatever_comes(self) -> tuple[StopPoint, ...]:
        """Return the rules that hold whatever is done next."""
        return tuple(each.stop() for each in self._raised if each.rule.bars in (POWER, OWNERS_DRIVE))

    def before_check(self, check: Check, entries: Sequence[Entry]) -> tuple[StopPoint, ...]:
        """Return what to stop at before a check; ``entries`` are what it would add to the log."""
        powers = any(isinstance(entry, Run | Measure) and entry.on == OWNER for entry in entries)
        starts = any(isinstance(entry, Run) and not _is_drive_out(entry) for entry in entries)
        bars = {POWER: powers, OWNERS_DRIVE: starts, NAMED: False}
        return self._stops(check.rules, bars)

    def before_repair(self, repair: Repair) -> tuple[StopPoint, ...]:
        """Return what to stop at before a repair."""
        return self._stops(repair.rules, {})

    def _stops(self, named: Iterable[str], bars: Mapping[str, bool]) -> tuple[StopPoint, ...]:
        names = set(named)
        return tuple(
            each.stop()
            for each in self._raised
            if bars.get(each.rule.bars, False) or (each.rule.bars == NAMED and each.rule.id in names)
        )

    def _all_raised(self) -> Iterable[_Raised]:
        for rule in self._book.hazards.values():
            if not rule.bars or self._is_fact(rule.cleared):
                continue
            why = None if rule.raised != NEVER else ""
            for entry in self._entries:
                raising = self._why(rule.raised, entry)
                if raising:
                    why = raising
                elif why is not None and self._why(rule.cleared, entry):
                    why = None
            if why is None:
                why = self._suspected(rule)
            if why is not None:
                yield _Raised(rule, why)

    def _suspected(self, rule: Hazard) -> str | None:
        """Return the fault whose suspicion alone raises a rule, or None; what was done since may have cleared it."""
        if any(self._why(rule.cleared, entry) for entry in self._entries):
            return None
        for fault, least in rule.raised.faults.items():
            if self._p.get(fault, 0.0) >= least:
                return self._book.faults[fault].title
        return None

    def _is_fact(self, trigger: Trigger) -> bool:
        return any(self._facts.get(fact) in values for fact, values in trigger.facts.items())

    def _why(self, trigger: Trigger, entry: Entry) -> str:
        """Return what of an entry sets off a trigger, in words; "" if nothing does."""
        book, found = self._book, ""
        match entry:
            case Told() if entry.event in trigger.told and entry.is_true:
                found = book.events[entry.event].title
            case Told() if entry.seen is not None:
                found = self._shown(trigger, entry.seen.signs)
            case Run():
                found = self._shown(trigger, entry.seen.signs)
            case Inspect():
                what = entry.what.partition(".")[0]
                if entry.seen in trigger.seen.get(what, ()):
                    found = f"{book.inspections[what].title}: {entry.seen.replace('_', ' ')}"
            case Measure():
                what = entry.what.partition(".")[0]
                found = book.measurements[what].title if what in trigger.measured else ""
            case RepairDone():
                found = book.repairs[entry.do].title if entry.do in trigger.repairs else ""
            case _:
                pass
        return found

    def _shown(self, trigger: Trigger, signs: Mapping[str, str]) -> str:
        return next((self._book.signs[name].title for name in trigger.shows if signs.get(name) == YES), "")


def _is_drive_out(run: Run) -> bool:
    return any(kind_of(slot) == DRIVE and held == OUT for slot, held in run.swaps.items()) or run.on not in (OWNER,)
