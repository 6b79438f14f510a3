"""Opening a job, and putting lines on its log: read, checked as a whole, and added, or nothing at all."""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime

from sqlalchemy import Connection

from halfsplit.actions.bench import Bench, Memory, in_utc
from halfsplit.actions.onfile import INTAKE, OnFile, book_with_shelf, read_on_file, words_of
from halfsplit.actions.taps import UNDO, last_tap
from halfsplit.errors import InputError, JobFileError, Mistake, StoreError
from halfsplit.job.trail import Trail
from halfsplit.job.units import OWNER
from halfsplit.jobfile import parse_entries, parse_machine, write_job
from halfsplit.jobfile.entries import ITEM, KINDS_OF_ENTRY, kind_of
from halfsplit.jobfile.write import write_entries
from halfsplit.model.book import Book
from halfsplit.model.job import Correct, Entry, Job, Run
from halfsplit.store.jobs import add_job, change_job
from halfsplit.store.log import LogLine, OvertakenError, append_lines
from halfsplit.store.persons import Person, PersonKept, set_person
from halfsplit.store.search import set_words
from halfsplit.store.shelf import EXPOSED, TAKEN_BACK, ShelfEvent, change_part, list_parts, still_counts

MOST_TRIES = 50
"""How often a line is put on again after somebody else was faster; a bench has a handful of tablets."""

_NAMED = re.compile(rf"({'|'.join((INTAKE, *KINDS_OF_ENTRY))})_[0-9]+")
_SHELF = "shelf."


def open_job(
    bench: Bench,
    text: str = "",
    *,
    by: str,
    now: datetime,
    comeback_of: int | None = None,
    told: str = "",
    promised: date | None = None,
    person: Person | None = None,
) -> int:
    """Open a job with all that was told at the counter, or with a mistake in any of it none, and return its number.

    Args:
        bench: the bench.
        text: what is known of the machine, and the complaint, as at the top of a job file; may be left out.
        by: initials.
        now: the moment.
        comeback_of: the number of the earlier job that this one comes back from.
        told: the first entries of its log, as for ``record``; may be left out.
        promised: the day that it is promised for.
        person: who brought the machine, kept apart and sealed.

    Raises:
        JobFileError, ModelError: a text has mistakes, or does not fit what is there; with all of them.
        StoreError: HS711 there is no such earlier job; HS714 an id that is not free.
    """
    at = in_utc(now)
    with bench.store.writing() as connection:
        book = book_with_shelf(bench.book, connection)
        job, mistakes = parse_machine(text, "", book) if text.strip() else (Job(), ())
        if job is None:
            raise JobFileError(mistakes)
        number = add_job(connection, book_hash=book.hash, initials=by, at=at, comeback_of=comeback_of)
        append_lines(connection, number, [intake_line(job, book, 1, 1, by, at)])
        show_machine(connection, number, job)
        if told:
            # nothing is remembered of a job that may yet not come to be: its number is then another's
            on_file = read_on_file(replace(bench, memory=Memory()), connection, number)
            job, lines = _told(on_file, told, by, at)
            _put_on(connection, on_file, job, lines, _walk(job, on_file))
        if promised is not None:
            change_job(connection, number, promised_on=promised.isoformat())
        if person is not None:
            set_person(connection, bench.store.vault, number, PersonKept(person))
    return number


def describe(bench: Bench, number: int, text: str, *, by: str, now: datetime) -> LogLine:
    """Enter what more is known of the machine, or of the complaint; what was known before stays in the log.

    Args:
        bench: the bench.
        number: the job's.
        text: as at the top of a job file; each field takes the place of the one before, ``~`` takes it away.
        by: initials.
        now: the moment.

    Raises:
        JobFileError, ModelError: the text has mistakes, or the log does not fit it; with all of them.
        StoreError: HS711 there is no such job; HS713 it is put away.
    """

    def make(on_file: OnFile) -> tuple[Job, Sequence[LogLine]]:
        job, mistakes = parse_machine(text, on_file.text, on_file.book)
        if job is None:
            raise JobFileError(mistakes)
        n = sum(line.kind == INTAKE for line in on_file.lines) + 1
        return job, [intake_line(job, on_file.book, len(on_file.lines) + 1, n, by, in_utc(now))]

    return _add(bench, number, make)[0]


def record(bench: Bench, number: int, text: str, *, by: str, now: datetime) -> tuple[LogLine, ...]:
    """Enter something in the log of a job.

    Args:
        bench: the bench.
        number: the job's.
        text: one entry in the job file's form (``run: {reached: log_in}``), or a list of them.
        by: initials; an entry that has its own keeps them.
        now: the moment; an entry that says when keeps that.

    Returns:
        The lines that were added.

    Raises:
        JobFileError, ModelError: the text has mistakes, or does not fit what is there; with all of them, and then
            nothing is added.
        StoreError: HS711 there is no such job; HS713 it is put away; HS714 an id that is not free.
    """

    return _add(bench, number, lambda on_file: _told(on_file, text, by, in_utc(now)))


def undo(bench: Bench, number: int, entry: str, *, by: str, now: datetime) -> tuple[LogLine, ...]:
    """Take back what somebody entered last in a job, by corrections; a second time, what they entered before that.

    Args:
        bench: the bench.
        number: the job's.
        entry: the id of the last entry of what is to be taken back: whoever asked for it saw that, and nothing else.
        by: initials.
        now: the moment.

    Returns:
        The lines that were added.

    Raises:
        StoreError: HS711 there is no such job; HS713 it is put away; HS715 there is nothing to take back, or it was
            entered more than ten seconds ago; HS717 something else was entered last.
    """

    def make(on_file: OnFile) -> tuple[Job, Sequence[LogLine]]:
        at, known = in_utc(now), on_file.as_told()
        tap = last_tap(on_file.lines, known.log, by=by, now=now)
        if not tap:
            raise StoreError([_too_late(number, by)])
        if tap[-1].entry != entry:
            raise StoreError([_not_last(number, entry, by)])
        if tap[-1].kind == INTAKE:
            heads = [line for line in on_file.lines if line.kind == INTAKE]
            before = [line.text for line in heads if line.seq < tap[-1].seq]
            seq = len(on_file.lines) + 1
            line = LogLine(seq, f"{INTAKE}_{len(heads) + 1}", INTAKE, before[-1], by, at, tap=seq)
            job, mistakes = replace(on_file, lines=(*on_file.lines, line)).parse()
            if job is None:
                raise JobFileError(mistakes)
            return job, [line]
        log = known.log
        for line in reversed(tap):
            log = (*log, _takes_back(log, line.entry))
        return with_lines(replace(known, log=log), len(known.log), on_file, by, at)

    return _add(bench, number, make)


def with_lines(job: Job, known: int, on_file: OnFile, by: str, at: str) -> tuple[Job, Sequence[LogLine]]:
    """Return a job with its new entries signed, and the lines to be added for them.

    Args:
        job: the job with the new entries in its log.
        known: how many entries of its log are on file already.
        on_file: what is on file.
        by: initials for those that have none.
        at: the moment for those that have none.

    Raises:
        StoreError: HS714 an id is one of those that halfsplit gives.
    """
    new = [replace(entry, by=entry.by or by, at=entry.at or at) for entry in job.log[known:]]
    mistakes = _taken_ids(job.log, known)
    if mistakes:
        raise StoreError(mistakes)
    job = replace(job, log=(*job.log[:known], *new))
    texts = write_entries(job, on_file.book, first=known)
    seq = len(on_file.lines)
    lines = [
        LogLine(seq + n, entry.id, kind_of(entry), text.removeprefix(ITEM), by, at, tap=seq + 1)
        for n, (entry, text) in enumerate(zip(new, texts, strict=True), 1)
    ]
    return job, lines


def show_machine(connection: Connection, number: int, job: Job, suspicions: Sequence[str] = ()) -> None:
    """Let lists and searches show what is known of a job now."""
    age = job.machine.get("age_years")
    change_job(
        connection,
        number,
        name=job.name,
        complaint=job.complaint,
        kind=str(job.machine.get("kind", "")),
        age_years=float(age) if isinstance(age, int | float) else None,
    )
    set_words(connection, number, words_of(number, job, suspicions))


def _add(bench: Bench, number: int, make: Callable[[OnFile], tuple[Job, Sequence[LogLine]]]) -> tuple[LogLine, ...]:
    """Add lines to a log: made from what is on file, and made anew where somebody else was faster."""
    for _ in range(MOST_TRIES):
        with bench.store.reading() as connection:
            on_file = read_on_file(bench, connection, number)
        if on_file.row.put_away_at:
            so, should = "it is put away", "only a job that is not put away is worked on"
            raise StoreError([Mistake(f"job {number}", "HS713", so, should, "Bring it back first")])
        job, lines = make(on_file)
        walked = _walk(job, on_file)
        try:
            with bench.store.writing() as connection:
                _put_on(connection, on_file, job, lines, walked)
        except OvertakenError:
            continue
        _remember(replace(on_file, lines=(*on_file.lines, *lines)), job, walked[1] if walked is not None else None)
        return tuple(lines)
    so, should = f"{MOST_TRIES} others were faster", "a line can be put on a log"
    raise StoreError([Mistake(f"job {number}", "HS716", so, should, "Enter it again")])


def _told(on_file: OnFile, text: str, by: str, at: str) -> tuple[Job, Sequence[LogLine]]:
    """Return a job with what a text tells further of it, and the lines to be added for that."""
    job, mistakes = parse_entries(text, on_file.text, on_file.book, known=on_file.as_told())
    if job is None:
        raise JobFileError(mistakes)
    return with_lines(job, len(_entries(on_file)), on_file, by, at)


def _put_on(
    connection: Connection, on_file: OnFile, job: Job, lines: Sequence[LogLine], walked: tuple[Trail, Trail] | None
) -> None:
    """Put lines on the log of a job, which is then as told, and let lists and the shelf show what follows."""
    number = on_file.row.number
    append_lines(connection, number, lines)
    show_machine(connection, number, job, [on_file.row.suspicion])
    if walked is not None:
        _note_risks(connection, number, *walked, lines[0])


def _remember(on_file: OnFile, job: Job, trail: Trail | None) -> None:
    """Keep what was worked out to check the new lines: whoever looks at the job next needs just that."""
    memory = on_file.bench.memory
    memory.keep(("job", *on_file.key), (job, ()))
    if trail is not None:
        memory.keep(("trail", *on_file.key), trail)


def _walk(job: Job, on_file: OnFile) -> tuple[Trail, Trail] | None:
    """Return the job with its log walked, as it was and as it is; None where that could not be said before.

    It must not get stuck by what is on file already.

    Raises:
        ModelError: what is new does not fit.
    """
    try:
        known = on_file.trail()
    except InputError:
        return None
    return known, known.further(job)


def _entries(on_file: OnFile) -> list[LogLine]:
    return [line for line in on_file.lines if line.kind != INTAKE]


def intake_line(job: Job, book: Book, seq: int, n: int, by: str, at: str) -> LogLine:
    """Return the line, the ``n``-th of its kind, that says what is known of the machine, and the complaint."""
    text = write_job(replace(job, told=(), log=()), book)
    return LogLine(seq, f"{INTAKE}_{n}", INTAKE, "" if text == "{}\n" else text, by, at, tap=seq)


def _takes_back(log: Sequence[Entry], last: str) -> Correct:
    """Return the correction that puts an entry back to what it was before the entry ``last``."""
    states: dict[str, list[Entry | None]] = {}
    touched = last
    for entry in log:
        touched = entry.entry if isinstance(entry, Correct) else entry.id
        states.setdefault(touched, [None]).append(entry.now if isinstance(entry, Correct) else entry)
        if entry.id == last:
            break
    number = sum(isinstance(entry, Correct) for entry in log) + 1
    return Correct(f"correct_{number}", entry=touched, now=states[touched][-2])


def _taken_ids(log: Sequence[Entry], known: int) -> list[Mistake]:
    """Return a mistake for each new entry with an id that another entry will get by its kind and number."""
    mistakes, counts = [], dict[str, int]()
    for n, entry in enumerate(log):
        kind = kind_of(entry)
        counts[kind] = counts.get(kind, 0) + 1
        if n >= known and _NAMED.fullmatch(entry.id) and entry.id != f"{kind}_{counts[kind]}":
            so, should = f"the id '{entry.id}' is not free", "ids such as run_3 are given by kind and number"
            mistakes.append(Mistake(entry.place or entry.id, "HS714", so, should, "Write another id"))
    return mistakes


def _note_risks(connection: Connection, number: int, before: Trail, after: Trail, by: LogLine) -> None:
    """Note which parts of the shelf were in a run with parts of the owner, and which were not after all, by a line."""
    on_shelf = {part.id for part in list_parts(connection) if not part.is_gone}
    known, now = _risks(before), _risks(after)
    changes = [(EXPOSED, *risk) for risk in now if risk not in known]
    changes += [(TAKEN_BACK, *risk) for risk in known if risk not in now and still_counts(connection, number, *risk)]
    for what, run, part in changes:
        if part in on_shelf:
            change_part(connection, ShelfEvent(part, what, run, number, by.initials, by.at))


def _risks(trail: Trail) -> dict[tuple[str, str], None]:
    """Return each run and part of the shelf that was in it with parts of the owner, in order."""
    found: dict[tuple[str, str], None] = {}
    for moment in trail.moments:
        if isinstance(moment.entry, Run):
            units = moment.together.setup.slots.values()
            if any(unit.startswith(f"{OWNER}.") for unit in units):
                parts = sorted({unit.removeprefix(_SHELF) for unit in units if unit.startswith(_SHELF)})
                found |= dict.fromkeys((moment.entry.id, part) for part in parts)
    return found


def _too_late(number: int, by: str) -> Mistake:
    so = f"nothing was entered by '{by}' in the last {UNDO.seconds} s"
    should, do = "only what was just entered is taken back so", "Correct it in the log"
    return Mistake(f"job {number}", "HS715", so, should, do)


def _not_last(number: int, entry: str, by: str) -> Mistake:
    so = f"'{entry}' is not what '{by}' entered last: it is taken back already, or more was entered"
    should, do = "one tap takes back what its page shows as entered last", "Look at the log, and correct it there"
    return Mistake(f"job {number}", "HS717", so, should, do)
