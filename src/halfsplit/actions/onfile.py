"""A job as it is on file: its row, its lines, the job that they tell, and what it folds to."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from sqlalchemy import Connection

from halfsplit.actions.bench import Bench
from halfsplit.errors import JobFileError, Mistake
from halfsplit.job.changes import Course
from halfsplit.job.standing import NO_STANDINGS
from halfsplit.job.trail import Trail, trail_of
from halfsplit.job.units import gatherer_of
from halfsplit.jobfile import parse_job
from halfsplit.jobfile.entries import ITEM
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.model.machine import ShelfPart, Standing
from halfsplit.store.jobs import JobRow, get_job, list_open
from halfsplit.store.loans import read_all_loans
from halfsplit.store.log import LogLine, read_logs
from halfsplit.store.shelf import PartOnShelf, list_parts

if TYPE_CHECKING:  # the pages come up without the engine
    from halfsplit.job.folded import Folded

INTAKE = "intake"
"""The kind of line that says what is known of the machine, and the complaint; the last one counts."""


@dataclass(frozen=True)
class OnFile:
    """A job as read from the store.

    Args:
        bench: that it was read at.
        row: as lists show it.
        lines: its log.
        book: the fault book with the shelf as it is graded.
        shelf: how its parts stood when they came into the job, or stand if they were not in it yet.
    """

    bench: Bench
    row: JobRow
    lines: tuple[LogLine, ...]
    book: Book
    shelf: Mapping[str, Standing] = field(default_factory=lambda: NO_STANDINGS)

    @property
    def text(self) -> str:
        """The job file that the lines make."""
        head = next((line.text for line in reversed(self.lines) if line.kind == INTAKE), "")
        entries = [f"{ITEM}{line.text}\n" for line in self.lines if line.kind != INTAKE]
        return f"{head}{'log:' if entries else ''}\n{''.join(entries)}"

    @property
    def key(self) -> tuple[object, ...]:
        """What all that is worked out of the job hangs on."""
        return self.row.number, len(self.lines), *self.book_key, frozenset(self.shelf.items())

    @property
    def book_key(self) -> tuple[object, ...]:
        """What all that is worked out of the fault book, with the shelf as it is graded, hangs on."""
        return self.book.hash, tuple((part.id, part.kind, part.grade, part.title) for part in self.book.shelf.values())

    def job(self) -> Job:
        """Return the job, with the shelf as it stands.

        Raises:
            JobFileError: see ``as_told``.
        """
        told = self.as_told()
        return replace(told, shelf=MappingProxyType({**told.shelf, **self.shelf}))

    def as_told(self) -> Job:
        """Return the job as its lines tell it.

        Raises:
            JobFileError: the fault book does not have a word of it any more; with all of its mistakes.
        """
        job, mistakes = self.bench.memory.get(("job", *self.key), self.parse)
        if job is None:
            raise JobFileError(mistakes)
        return job

    def fold(self) -> "Folded":
        """Return the job folded.

        Raises:
            JobFileError: see ``job``.
            ModelError: it cannot be folded.
        """
        from halfsplit.job.fold import fold_job  # noqa: PLC0415  the pages only walk a job

        job = self.job()
        return self.bench.memory.get(("fold", *self.key), lambda: fold_job(job, self.book))

    def walk(self) -> Course:
        """Return what the log did to the machine, without weighing any of it.

        Raises:
            JobFileError: see ``job``.
            ModelError: it cannot be folded.
        """
        return self.trail().course

    def trail(self) -> Trail:
        """Return the job with its log walked.

        Raises:
            JobFileError, ModelError: see ``walk``.
        """
        job = self.job()
        return self.bench.memory.get(("trail", *self.key), lambda: trail_of(job, self.book, gatherer_of(self.book)))

    def parse(self) -> tuple[Job | None, tuple[Mistake, ...]]:
        """Return the job read anew, or None, and all its mistakes."""
        if not self.text.strip():
            return Job(), ()
        return parse_job(self.text, self.book)


def read_on_file(bench: Bench, connection: Connection, number: int) -> OnFile:
    """Return a job as it is on file.

    Raises:
        StoreError: HS711 there is no such job.
    """
    return read_rows(bench, connection, [get_job(connection, number)])[0]


def read_open(bench: Bench, connection: Connection) -> tuple[OnFile, ...]:
    """Return all open jobs as they are on file, in the order of ``list_open``; see ``read_rows``."""
    return read_rows(bench, connection, list_open(connection))


def read_rows(bench: Bench, connection: Connection, rows: Sequence[JobRow]) -> tuple[OnFile, ...]:
    """Return jobs as they are on file, in the order of their rows; what they share is read once."""
    parts, numbers = list_parts(connection), [row.number for row in rows]
    book, logs = _with_parts(bench.book, parts), read_logs(connection, numbers)
    loans = read_all_loans(connection, numbers)
    found = []
    for row in rows:
        lines = logs[row.number]
        at = lines[-1].at if lines else row.opened_at
        shelf = {part.id: part.standing(at) for part in parts} | {**loans[row.number]}
        found.append(OnFile(bench, row, lines, book, MappingProxyType(shelf)))
    return tuple(found)


def book_with_shelf(book: Book, connection: Connection) -> Book:
    """Return the fault book with the parts of the bench's own shelf, as they are graded now."""
    return _with_parts(book, list_parts(connection))


def _with_parts(book: Book, parts: Iterable[PartOnShelf]) -> Book:
    own = {}
    for part in parts:
        known = book.shelf.get(part.id, ShelfPart(part.id, part.kind, part.grade))
        own[part.id] = replace(known, kind=part.kind, grade=part.grade, title=part.title)
    return replace(book, shelf=MappingProxyType({**book.shelf, **own}))


def words_of(number: int, job: Job, suspicions: Sequence[str]) -> str:
    """Return what a job is found by: its number, what it is called, the machine, what was told and noted.

    Args:
        number: the job's.
        job: the job.
        suspicions: titles of its leading suspicions.
    """
    said = [str(number), job.name, job.complaint, *map(str, job.machine.values())]
    said += [f"{part.slot} {' '.join(map(str, part.fields.values()))}" for part in job.parts]
    for entry in (*job.told, *job.log):
        said += [getattr(entry, name, "") for name in ("words", "event", "text")]
    return " ".join([*said, *suspicions]).replace("_", " ")
