"""A job with its log walked: what it did to the machine, and the state of the bench from which the log goes on."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from halfsplit.errors import Mistake, ModelError
from halfsplit.job.changes import Course, Moment
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.machine import facts_of
from halfsplit.job.moments import Walker
from halfsplit.job.numbers import find_bad_numbers
from halfsplit.job.units import Gatherer, gatherer_of
from halfsplit.job.words import find_unknown_words
from halfsplit.model.book import Book
from halfsplit.model.job import Correct, Job, Told


@dataclass(frozen=True)
class Trail:
    """A job with its log walked.

    Args:
        job: the job.
        book: the fault book.
        told: its statements, corrected.
        facts: what is known of the machine.
        walker: the bench after the last entry; it must not be walked on.
        moments: one for each entry of the corrected log.
    """

    job: Job
    book: Book
    told: tuple[Told, ...]
    facts: Mapping[str, object]
    walker: Walker
    moments: tuple[Moment, ...]

    @cached_property
    def course(self) -> Course:
        """What the log did to the machine, with what was lent put back."""
        put_back = self.walker.aside().put_back(2 * len(self.moments) + 2)
        return Course(self.walker.intake, (*self.moments, put_back), self.walker.standing)

    def further(self, job: Job) -> "Trail":
        """Return the trail of the same job with more in its log; what is only put on is walked alone.

        Raises:
            ModelError: see ``fold_job``.
        """
        known = len(self.job.log)
        new = job.log[known:]
        is_put_on = job.log[:known] == self.job.log and not any(isinstance(entry, Correct | Told) for entry in new)
        if not is_put_on or _of_intake(job) != _of_intake(self.job):
            return trail_of(job, self.book, self.walker.gatherer)
        unknown = find_unknown_words(job, (), new, self.book)
        if unknown:
            raise ModelError(unknown)
        walker = self.walker.aside()
        moments = tuple(walker.step(2 * n, entry) for n, entry in enumerate(new, len(self.moments) + 1))
        mistakes = find_bad_numbers(new, self.book) + walker.mistakes
        if mistakes:
            raise ModelError(mistakes)
        return Trail(job, self.book, self.told, self.facts, walker, (*self.moments, *moments))


def trail_of(job: Job, book: Book, gatherer: Gatherer) -> Trail:
    """Return a job with its log walked.

    Raises:
        ModelError: see ``fold_job``.
    """
    mistakes: list[Mistake] = []
    told, log = apply_corrections(job, mistakes)
    facts = facts_of(job, book, mistakes)
    unknown = find_unknown_words(job, told, log, book)
    if unknown:
        raise ModelError([*mistakes, *unknown])
    mistakes += find_bad_numbers(log, book)
    walker = Walker(job, book, gatherer, mistakes)
    moments = tuple(walker.step(2 * number, entry) for number, entry in enumerate(log, 1))
    if mistakes:
        raise ModelError(mistakes)
    return Trail(job, book, told, facts, walker, moments)


def walk_job(job: Job, book: Book) -> Course:
    """Return what the log of a job did to the machine, without weighing any of it: a few ms.

    Raises:
        ModelError: see ``fold_job``; what can be walked can be folded.
    """
    return trail_of(job, book, gatherer_of(book)).course


def _of_intake(job: Job) -> tuple[object, ...]:
    """Return what is known of a job beside its log, but for how the shelf stands."""
    return job.machine, job.parts, job.missing, job.complaint, job.told
