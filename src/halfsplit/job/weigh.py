"""A job weighed: folded, put to the engine, and everything said about it in one record.

What is dear is asked within limits, so that a person can wait for it.  What moved the suspicions is worked out
for the leading ones, at the places of the log where they turned; these questions join fewer pairs of rows than
the answer itself does.  Which reading fits worst is asked only where they disagree.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from math import inf, log

from halfsplit.errors import ImpossibleReadingsError
from halfsplit.infer import Posterior
from halfsplit.infer.conflict import Conflict as FoundConflict
from halfsplit.infer.conflict import find_conflict, find_misfits, find_suspects
from halfsplit.infer.firm import how_firm
from halfsplit.infer.retold import Retold
from halfsplit.infer.turns import find_turns
from halfsplit.infer.why import Shift, explain
from halfsplit.job.columns import run_column
from halfsplit.job.doubted import laid_aside, weigh_folded
from halfsplit.job.fold import MOST_MACHINES, fold_job
from halfsplit.job.folded import Folded
from halfsplit.job.suspected import p_of_lent
from halfsplit.job.units import OWNER, SHELF
from halfsplit.job.weighed import Conflict, FaultSet, FaultSuspicion, LeftOut, Moved, PartSuspicion, Weighed
from halfsplit.model.book import Book
from halfsplit.model.evidence import Root
from halfsplit.model.job import Job, Told

SETS = 20
"""Fault sets told."""

LEADING = 3
"""Leading suspicions for which it is worked out what moved them."""

EFFORT = 50
"""Readings that may be weighed again in all to find where they turned."""

ASIDE_PAIRS = 10_000
"""Pairs that one level may join in a question asked aside: what was believed before a reading, or without one."""

ASIDE_TARGET = 1.0
"""What such a question may drop by its bound, over P; what is really lost is far less (0.01 of P in the examples)."""

BLAMED = 4
"""Readings that are left out in turn where they disagree."""

ABSURD_P = 0.01
"""Where the runs and looks are less likely than this each, on average, something told is probably not so (estimate)."""


def weigh_job(job: Job, book: Book, *, leave_out: bool = False) -> Weighed:
    """Weigh a job by a fault book.

    Args:
        job: the job.
        book: the fault book.
        leave_out: whether to look after each reading, and to weigh the job again without each reading in turn,
            which takes some seconds.  Where the readings raise an alarm, those that it may be blamed on are left
            out in turn anyway.

    Returns:
        Everything that is to be said about it.  Readings that cannot all be true are told in ``impossible``.

    Raises:
        ModelError: the job cannot be folded; with all of its mistakes.
    """
    folded = fold_job(job, book)
    rungs = tuple((rung.id, rung.title) for rung in book.ladder.rungs)
    runs = tuple(run_column(run, book) for run in folded.runs)
    try:
        answer = weigh_folded(folded, explain=True)
    except ImpossibleReadingsError as error:
        impossible = _entries(folded, error.readings)
        return Weighed(job.name, rungs, runs, (), (), (), log_p_readings=-inf, impossible=impossible)
    posterior = answer.posterior
    retold = Retold(answer.compiled, given=_complaint(job, folded), limit=ASIDE_PAIRS, target=ASIDE_TARGET)
    suspected = [root for root in folded.evidence.roots if _is_suspicion(folded, root.id, book)]
    faults = _faults(posterior, folded, suspected)
    retold.know(posterior)
    leading = [fault.id for fault in sorted(faults, key=lambda fault: (-fault.p, fault.id))[:LEADING]]
    places = None if leave_out else find_turns(retold, leading, effort=EFFORT)
    found = find_conflict(retold, places=places)
    blamed = retold.asked if leave_out else find_suspects(retold, found, many=BLAMED) if found.is_alarm else ()
    return Weighed(
        job.name,
        rungs,
        runs,
        faults,
        _parts(posterior, folded, suspected, book),
        _sets(posterior, {root.id for root in suspected}),
        _moved(retold, folded, leading, places, without=None if leave_out else blamed),
        _conflict(retold, posterior, folded, faults, found, blamed),
        posterior.bound_share,
        posterior.log_p,
        _is_absurd(retold, posterior.log_p),
        _entries(folded, answer.impossible),
        left_out=_left_out(posterior),
        aside=_entries(folded, laid_aside(folded, posterior)),
        lent=_lent(posterior, folded, book),
    )


def _is_suspicion(folded: Folded, root: str, book: Book) -> bool:
    """Return whether a root is a suspicion: a fault in the machine now, and not what most machines have anyway."""
    note = folded.roots[root]
    if not note.in_machine or not note.fault:
        return False
    fault = book.faults[note.fault]
    return not (fault.is_normal and fault.base.p > MOST_MACHINES)


def _faults(posterior: Posterior, folded: Folded, suspected: Iterable[Root]) -> tuple[FaultSuspicion, ...]:
    p_now = _p_now(posterior)
    ranges = how_firm(posterior)
    return tuple(
        FaultSuspicion(
            root.id,
            folded.roots[root.id].title,
            _likeliest_thing(posterior, folded, root),
            p_now[root.id],
            ranges[root.id].low,
            ranges[root.id].high,
        )
        for root in suspected
    )


def _p_now(posterior: Posterior) -> dict[str, float]:
    return {root.id: float(p) for root, p in zip(posterior.evidence.roots, posterior.p_faults, strict=True)}


def _likeliest_thing(posterior: Posterior, folded: Folded, root: Root) -> str:
    """Return the part or joint that a fault most likely has hold of; of equal ones the first."""
    things = folded.roots[root.id].things
    if len(things) == 1:
        return things[0]
    p_states = posterior.p_states(root.id)
    return max(things, key=lambda thing: sum(p for p, held in zip(p_states, root.held, strict=True) if thing in held))


def _parts(posterior: Posterior, folded: Folded, suspected: Sequence[Root], book: Book) -> tuple[PartSuspicion, ...]:
    """Return the parts and joints of the machine, and parts that were taken out; joints that are apart are none."""
    standing = folded.setups[OWNER].slots.values()
    titles = {}
    for thing in sorted({thing for root in suspected for thing in folded.roots[root.id].things}):
        name, _, apart = thing.partition("(")
        title = folded.things.get(thing, thing)
        if name.partition(".")[0] not in book.joints:
            titles[thing] = title if thing in standing else f"{title}, taken out"
        elif not apart:
            titles[thing] = title
    held = posterior.p_all_held(tuple(titles))
    return tuple(PartSuspicion(thing, titles[thing], p) for thing, p in held.items())


def _lent(posterior: Posterior, folded: Folded, book: Book) -> tuple[PartSuspicion, ...]:
    """Return the parts of the shelf that were in, with how likely each is bad now."""
    lent = p_of_lent(folded, posterior, book)
    return tuple(PartSuspicion(name, folded.things[f"{SHELF}.{name}"], p) for name, p in lent.items())


def _sets(posterior: Posterior, suspected: Collection[str]) -> tuple[FaultSet, ...]:
    """Return the most probable sets of suspicions; sets that differ in other roots only are added up."""
    added: dict[tuple[str, ...], float] = {}
    for roots, p in posterior.sets(4 * SETS):
        named = tuple(sorted(roots & set(suspected)))
        added[named] = added.get(named, 0.0) + p
    best = sorted(added.items(), key=lambda item: (-item[1], item[0]))
    return tuple(FaultSet(named, min(1.0, p)) for named, p in best[:SETS])


def _moved(
    retold: Retold,
    folded: Folded,
    leading: Iterable[str],
    places: Collection[int] | None,
    *,
    without: Collection[str] | None,
) -> tuple[Moved, ...]:
    return tuple(
        _move(folded, fault, shift)
        for fault in leading
        for shift in explain(retold, fault, places=places, without=without)
    )


def _move(folded: Folded, fault: str, shift: Shift) -> Moved:
    first, last = shift.readings[0], shift.readings[-1]
    line = folded.lines[last] if first == last else f"all from {_entry(folded, first)} on, together"
    return Moved(fault, _entry(folded, last), line, shift.p_before, shift.p_after, shift.p_without)


def _conflict(
    retold: Retold,
    posterior: Posterior,
    folded: Folded,
    faults: Iterable[FaultSuspicion],
    found: FoundConflict,
    blamed: Collection[str],
) -> Conflict:
    fits = find_misfits(retold, blamed)
    unlisted = [root for root, note in folded.roots.items() if note.is_unlisted and note.in_machine]
    before = retold.after(retold.many_given).p_faults
    p_before = {root.id: float(p) for root, p in zip(posterior.evidence.roots, before, strict=True)}
    return Conflict(
        found.log_m,
        found.log_alarm,
        _entry(folded, found.since),
        found.log_since,
        found.log_since_alarm,
        tuple((_entry(folded, fit.reading), fit.log_m_without) for fit in fits),
        posterior.p_any(unlisted),
        _explained_by(faults, p_before, max(found.log_m, found.log_since)) if found.is_alarm else "",
    )


def _explained_by(faults: Iterable[FaultSuspicion], p_before: Mapping[str, float], log_conflict: float) -> str:
    """Return the likeliest fault that explains a conflict away, or "".

    A hypothesis h does where log(P(h | readings) / P(h)) >= log M (Jensen et al. 1990): the readings are then a
    rare case of it and no contradiction.
    """
    able = [
        fault
        for fault in faults
        if fault.p > 0.0 and p_before[fault.id] > 0.0 and log(fault.p / p_before[fault.id]) >= log_conflict
    ]
    return max(able, key=lambda fault: (fault.p, fault.id)).id if able else ""


def _left_out(posterior: Posterior) -> LeftOut | None:
    missing = posterior.missing()
    return LeftOut(missing.share, missing.low, missing.high) if missing else None


def _is_absurd(retold: Retold, log_p: float) -> bool:
    counts = {reading.id: reading.count for reading in retold.compiled.evidence.readings}
    runs = sum(counts[reading] for reading in retold.asked)
    return log_p - retold.log_p(retold.given) < runs * log(ABSURD_P)


def _complaint(job: Job, folded: Folded) -> tuple[str, ...]:
    """Return the readings that are the complaint: that the machine was brought in, and what was told."""
    told = {entry.id for entry in (*job.told, *job.log) if isinstance(entry, Told)}
    return tuple(reading.id for reading in folded.evidence.readings if told.issuperset(folded.entries[reading.id]))


def _entries(folded: Folded, readings: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(_entry(folded, reading) for reading in readings))


def _entry(folded: Folded, reading: str) -> str:
    """Return the entry that a reading is of, the first of several; what is of none stays by its own name."""
    entries = folded.entries.get(reading, ())
    return entries[0] if entries else reading
