"""Looking at jobs: lists, searches, one job with what it folds to, and how far each fault is to be suspected."""

from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from sqlalchemy import Connection

from halfsplit.actions.bench import Bench
from halfsplit.actions.entering import show_machine
from halfsplit.actions.onfile import OnFile, read_on_file
from halfsplit.errors import InputError, Mistake
from halfsplit.job.changes import Course
from halfsplit.job.lines import book_of, numbered_at
from halfsplit.job.weighed import REACHED, Weighed, by_p
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.store import jobs, search, spells
from halfsplit.store.jobs import JobRow, StateChange
from halfsplit.store.log import LogLine, read_log
from halfsplit.store.photos import Photo, list_photos
from halfsplit.store.shelf import keep_p_bad
from halfsplit.store.spells import Spell

if TYPE_CHECKING:  # the pages come up without the engine
    from halfsplit.job.folded import Folded

_T = TypeVar("_T")

LEADING = 3
"""Leading suspicions whose titles a search finds the job by."""


@dataclass(frozen=True)
class JobView:
    """One job as it stands.

    Args:
        row: as lists show it.
        lines: its log.
        job: what the lines tell, or None.
        course: what the log did to the machine, or None.
        mistakes: why there is no job, or why it cannot be folded.
        is_other_book: whether the fault book is another than the job was opened with.

    What else there is of it is read when it is asked for: few pages ask.
    """

    row: JobRow
    lines: tuple[LogLine, ...]
    job: Job | None
    course: Course | None
    mistakes: tuple[Mistake, ...]
    is_other_book: bool
    _on_file: OnFile = field(repr=False, compare=False)

    @property
    def on_file(self) -> OnFile:
        """The job as it was read."""
        return self._on_file

    @cached_property
    def states(self) -> tuple[StateChange, ...]:
        """The states that it was brought into, in order."""
        return self._read(jobs.list_states)

    @cached_property
    def spells(self) -> tuple[Spell, ...]:
        """The times that somebody worked on it, in order."""
        return self._read(spells.list_spells)

    @cached_property
    def photos(self) -> tuple[Photo, ...]:
        """Its photos, in order."""
        return self._read(list_photos)

    @cached_property
    def spoken(self) -> Book:
        """The fault book to speak of this machine with; see ``lines.book_of``."""
        return book_of(self.course, self._on_file.book)

    def folded(self) -> "Folded | None":
        """Return what the job folds to, or None; worked out when it is asked for."""
        return None if self.course is None else self._on_file.fold()

    def _read(self, read: Callable[[Connection, int], tuple[_T, ...]]) -> tuple[_T, ...]:
        with self._on_file.bench.store.reading() as connection:
            return read(connection, self.row.number)


def list_open_jobs(bench: Bench) -> tuple[JobRow, ...]:
    """Return the open jobs: promised ones first, the earliest day first, then by number."""
    with bench.store.reading() as connection:
        return jobs.list_open(connection)


def list_closed_jobs(bench: Bench, *, before: int | None = None, limit: int = 50) -> tuple[JobRow, ...]:
    """Return the jobs that are collected or put away, the newest first; ``before`` is a number, for the next page."""
    with bench.store.reading() as connection:
        return jobs.list_closed(connection, before=before, limit=limit)


def search_jobs(
    bench: Bench, asked: str, *, first: Collection[int] = (), start: int = 0, limit: int = 50
) -> tuple[JobRow, ...]:
    """Return the jobs that have all the words, or beginnings of words: the open ones first, then the newest first.

    They are looked for among the number, what the job is called, what is known of the machine, what was told and
    noted, and the leading suspicions.  Persons are not looked through: they are sealed.

    Args:
        bench: the bench.
        asked: the words.
        first: numbers of jobs that are found by something else, see ``find_persons``: they come before all others.
        start: so many are left out before the first that comes back.
        limit: the most that come back.
    """
    known = sorted(first, reverse=True)
    shown = known[start : start + limit]
    start, limit = max(0, start - len(known)), limit - len(shown)
    with bench.store.reading() as connection:
        more = search.find_jobs(connection, asked, start=start, limit=limit, beside=known) if limit else ()
        return jobs.list_numbers(connection, (*shown, *more))


def job_view(bench: Bench, number: int) -> JobView:
    """Return one job with its log and what that did to the machine.

    Raises:
        StoreError: HS711 there is no such job.
    """
    with bench.store.reading() as connection:
        on_file = read_on_file(bench, connection, number)
    job, course, mistakes = _walked(on_file)
    is_other = on_file.row.book_hash != bench.book.hash
    return JobView(on_file.row, on_file.lines, job, course, mistakes, is_other, on_file)


def weigh(bench: Bench, number: int) -> Weighed:
    """Return how far each fault, part and set of faults of a job is to be suspected.

    Raises:
        StoreError: HS711 there is no such job.
        JobFileError, ModelError: the fault book does not go with the job any more; with all mistakes.
    """
    with bench.store.reading() as connection:
        return _weigh(read_on_file(bench, connection, number))


def sum_up(bench: Bench, number: int) -> JobRow:
    """Make the summary of a job anew (its last rung, its leading suspicion), and return the job as lists show it.

    Raises:
        StoreError: HS711 there is no such job.
        JobFileError, ModelError: the fault book does not go with the job any more; with all mistakes.
    """
    with bench.store.reading() as connection:
        on_file = read_on_file(bench, connection, number)
    return keep_summary(on_file, _weigh(on_file))


def keep_summary(on_file: OnFile, weighed: Weighed) -> JobRow:
    """Make the summary of a job from what it was weighed to, and keep how the parts lent to it stand; see ``sum_up``.

    Where something was entered since, nothing is changed: the summary is made when that is weighed.

    Args:
        on_file: the job as it was read.
        weighed: how far each fault is to be suspected, as its log stood then.

    Raises:
        StoreError: HS711 there is no such job any more.
    """
    number = on_file.row.number
    leading, book = by_p(weighed.faults)[:LEADING], on_file.book
    titles = [numbered_at(fault.title, fault.id.partition("@")[2], book) for fault in leading]
    marks = weighed.runs[-1].marks if weighed.runs else ()
    reached = [n for n, mark in enumerate(marks) if mark == REACHED]
    with on_file.bench.store.writing() as connection:
        if read_log(connection, number) == on_file.lines:
            jobs.change_job(
                connection,
                number,
                last_rung=weighed.rungs[reached[-1]][1] if reached else "",
                suspicion=titles[0] if titles else "",
                suspicion_p=leading[0].p if leading else None,
                summed_up_to=len(on_file.lines),
            )
            keep_p_bad(connection, number, {part.id: part.p for part in weighed.lent}, on_file.lines[-1].at)
            show_machine(connection, number, on_file.job(), titles)
        return jobs.get_job(connection, number)


def _weigh(on_file: OnFile) -> Weighed:
    from halfsplit.job.weigh import weigh_job  # noqa: PLC0415  the process of the pages weighs nothing

    job = on_file.job()
    return on_file.bench.memory.get(("weigh", *on_file.key), lambda: weigh_job(job, on_file.book))


def _walked(on_file: OnFile) -> tuple[Job | None, Course | None, tuple[Mistake, ...]]:
    job = None
    try:
        job = on_file.job()
        return job, on_file.walk(), ()
    except InputError as error:
        return job, None, error.mistakes
