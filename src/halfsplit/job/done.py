"""What was done already, and would only be done again: the same reading of the same machine, or the same repair."""

from collections.abc import Sequence

from halfsplit.job.corrections import apply_corrections
from halfsplit.model.bench import REFITS, Repair
from halfsplit.model.job import ChangeSetup, Entry, Inspect, Job, Measure, RepairDone, Run


class Done:
    """What the log of a job has of what could be done next.

    Args:
        job: the job.
    """

    def __init__(self, job: Job) -> None:
        _, log = apply_corrections(job, [])
        repairs = [place for place, entry in enumerate(log) if isinstance(entry, RepairDone)]
        changes = [place for place, entry in enumerate(log) if is_work(entry)]
        since = log[changes[-1] + 1 :] if changes else log
        self._readings = {_key(entry) for entry in since}
        self._fails = {_key(entry): is_failed(entry) for entry in since if isinstance(entry, Run)}
        self._last = log[repairs[-1]] if repairs else None
        self._repairs = {(entry.do, entry.to) for entry in log if isinstance(entry, RepairDone)}

    def is_read(self, entries: Sequence[Entry]) -> bool:
        """Return whether all readings of a check were taken since the machine was last worked on or changed.

        Taking them again would show what they showed, but for what comes and goes: for that there are checks of
        several starts, and the proof.
        """
        readings = [entry for entry in entries if isinstance(entry, Run | Inspect | Measure)]
        return all(_key(entry) in self._readings for entry in readings)

    def is_passed(self, entries: Sequence[Entry]) -> bool:
        """Return whether all runs of a check went through the last time, since the machine was last worked on."""
        return not any(self._fails.get(_key(entry), True) for entry in entries if isinstance(entry, Run))

    def is_repaired(self, repair: Repair, at: str) -> bool:
        """Return whether a repair was done there already; what other work may undo can be done again after that."""
        if (repair.id, at) not in self._repairs:
            return False
        last = self._last
        is_last = isinstance(last, RepairDone) and (last.do, last.to) == (repair.id, at)
        return is_last or repair.does not in REFITS


def is_work(entry: Entry) -> bool:
    """Return whether an entry is a repair, or changes more than the output that the monitor is on."""
    return isinstance(entry, RepairDone) or (isinstance(entry, ChangeSetup) and bool(entry.swaps or entry.case))


def is_failed(run: Run) -> bool:
    """Return whether a run, or one of several, did not go through: it ended by itself, missed a rung, or was dark.

    What signs it showed besides is weighed, and may be no more than a habit of the machine.
    """
    lit = [was for stages in run.seen.picture.values() for was in stages.values()]
    is_dark = bool(lit) and not any(lit)
    return run.failed > 0 and (run.seen.stop is not None or bool(run.seen.not_reached) or is_dark)


def _key(entry: Entry) -> tuple[object, ...]:
    """Return what makes two entries the same reading, whatever they showed."""
    match entry:
        case Run():
            return entry.on, tuple(sorted(entry.swaps.items())), entry.output, entry.case, entry.conditions
        case Inspect():
            return entry.on, entry.what, entry.tool
        case Measure():
            return entry.on, entry.what, entry.load
        case _:
            return (entry.id,)
