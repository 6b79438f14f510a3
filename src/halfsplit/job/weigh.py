"""A job weighed: folded, put to the engine, and everything said about it in one record.

What is dear is asked for the leading suspicions only: what moved them, and which reading fits worst.
"""

from collections.abc import Iterable

from halfsplit.errors import ImpossibleReadingsError
from halfsplit.infer import compile_readings, weigh_compiled
from halfsplit.infer.conflict import find_conflict, find_misfits
from halfsplit.infer.firm import how_firm
from halfsplit.infer.posterior import Posterior
from halfsplit.infer.retold import Retold
from halfsplit.infer.why import explain
from halfsplit.job.columns import run_column
from halfsplit.job.fold import MOST_MACHINES, fold_job
from halfsplit.job.folded import Folded
from halfsplit.job.weighed import Conflict, FaultSet, FaultSuspicion, Moved, PartSuspicion, Weighed
from halfsplit.model.book import Book
from halfsplit.model.job import Job, Told

SETS = 20
"""Fault sets told."""

EXPLAINED = 3
"""Leading suspicions for which it is worked out what moved them."""

ASIDE_TARGET = 0.05
"""The bound share that questions asked aside may have: what was believed before a reading, or without one."""

ABSURD_LOG_P = -20.0
"""P(all readings) below e to this power for each reading is absurdly small; see ``Weighed.is_absurd``."""


def weigh_job(job: Job, book: Book, *, leave_out: bool = False) -> Weighed:
    """Weigh a job by a fault book.

    Args:
        job: the job.
        book: the fault book.
        leave_out: whether to weigh the job again without each reading in turn, which takes some seconds.  Where
            the readings raise an alarm it is done anyway.

    Returns:
        Everything that is to be said about it.  Readings that cannot all be true are told in ``impossible``.

    Raises:
        ModelError: the job cannot be folded; with all of its mistakes.
    """
    folded = fold_job(job, book)
    rungs = tuple((rung.id, rung.title) for rung in book.ladder.rungs)
    runs = tuple(run_column(run, book) for run in folded.runs)
    compiled = compile_readings(folded.evidence)
    try:
        posterior = weigh_compiled(compiled)
    except ImpossibleReadingsError as error:
        return Weighed(
            job.name, rungs, runs, (), (), (), log_p_readings=float("-inf"), impossible=_entries(folded, error.readings)
        )
    faults = _faults(posterior, folded, book)
    retold = Retold(compiled, given=_complaint(job, folded), target=ASIDE_TARGET)
    retold.know(posterior)
    return Weighed(
        job.name,
        rungs,
        runs,
        faults,
        _parts(posterior, folded, book),
        _sets(posterior, folded, book),
        _moved(retold, folded, faults, leave_out=leave_out),
        _conflict(retold, posterior, folded, leave_out=leave_out),
        posterior.bound_share,
        posterior.log_p,
        posterior.log_p < ABSURD_LOG_P * len(folded.evidence.readings),
    )


def _is_suspicion(root: str, folded: Folded, book: Book) -> bool:
    """Return whether a root is a suspicion: a fault in the machine now, and not what most machines have anyway."""
    note = folded.roots[root]
    if not note.in_machine or not note.fault:
        return False
    fault = book.faults[note.fault]
    return not (fault.is_normal and fault.base.p > MOST_MACHINES)


def _faults(posterior: Posterior, folded: Folded, book: Book) -> tuple[FaultSuspicion, ...]:
    ranges = how_firm(posterior)
    found = []
    for root, p in zip(posterior.evidence.roots, posterior.p_faults, strict=True):
        if not _is_suspicion(root.id, folded, book):
            continue
        note = folded.roots[root.id]
        part = note.things[0] if note.things else ""
        found.append(FaultSuspicion(root.id, note.title, part, float(p), ranges[root.id].low, ranges[root.id].high))
    return tuple(found)


def _parts(posterior: Posterior, folded: Folded, book: Book) -> tuple[PartSuspicion, ...]:
    things = dict.fromkeys(
        thing
        for root in posterior.evidence.roots
        if _is_suspicion(root.id, folded, book)
        for thing in folded.roots[root.id].things
    )
    held = posterior.p_all_held(tuple(things))
    return tuple(PartSuspicion(thing, folded.things.get(thing, thing), p) for thing, p in held.items())


def _sets(posterior: Posterior, folded: Folded, book: Book) -> tuple[FaultSet, ...]:
    """Return the most probable sets of suspicions; sets that differ in other roots only are added up."""
    added: dict[tuple[str, ...], float] = {}
    for roots, p in posterior.sets(4 * SETS):
        named = tuple(sorted(root for root in roots if _is_suspicion(root, folded, book)))
        added[named] = added.get(named, 0.0) + p
    best = sorted(added.items(), key=lambda item: (-item[1], item[0]))
    return tuple(FaultSet(named, p) for named, p in best[:SETS])


def _moved(retold: Retold, folded: Folded, faults: Iterable[FaultSuspicion], *, leave_out: bool) -> tuple[Moved, ...]:
    leading = sorted(faults, key=lambda fault: (-fault.p, fault.id))[:EXPLAINED]
    return tuple(
        Moved(
            fault.id,
            shift.reading,
            folded.lines.get(shift.reading, shift.reading),
            shift.p_before,
            shift.p_after,
            shift.p_without,
        )
        for fault in leading
        for shift in explain(retold, fault.id, leave_out=leave_out)
    )


def _conflict(retold: Retold, posterior: Posterior, folded: Folded, *, leave_out: bool) -> Conflict:
    found = find_conflict(retold)
    fits = find_misfits(retold) if leave_out or found.is_alarm else ()
    without = sorted(((fit.reading, fit.log_m_without) for fit in fits), key=lambda item: item[1])
    p_now = {root.id: float(p) for root, p in zip(posterior.evidence.roots, posterior.p_faults, strict=True)}
    unlisted = {root: p for root, p in p_now.items() if folded.roots[root].is_unlisted}
    none = 1.0
    for p in unlisted.values():
        none *= 1.0 - p
    return Conflict(
        log_m=found.log_m,
        log_alarm=found.log_alarm,
        since=found.since,
        log_since=found.log_since,
        log_since_alarm=found.log_since_alarm,
        without=tuple(without),
        p_unlisted=1.0 - none,
    )


def _complaint(job: Job, folded: Folded) -> tuple[str, ...]:
    """Return the readings that are the complaint: that it was brought in, and what was told."""
    told = {entry.id for entry in (*job.told, *job.log) if isinstance(entry, Told)}
    return tuple(
        reading.id for reading in folded.evidence.readings if told.issuperset(folded.entries.get(reading.id, ()))
    )


def _entries(folded: Folded, readings: Iterable[str]) -> tuple[str, ...]:
    """Return the entries that readings are of, each once; what is of no entry stays by its own name."""
    return tuple(
        dict.fromkeys(entry for reading in readings for entry in folded.entries.get(reading, ()) or (reading,))
    )
