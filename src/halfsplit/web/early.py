"""Advice before anybody asks for it: on a job as each answer of its card would leave it.

While the technician does what the card says nothing else is to be ranked.  The answers are known, and so is what each
would put on the log: what is to be done after it can be there when it is tapped.
"""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from halfsplit.actions import JobView
from halfsplit.actions.onfile import OnFile
from halfsplit.errors import InputError
from halfsplit.job.advised import Advice
from halfsplit.jobfile import parse_entries
from halfsplit.model.job import Job, unsigned
from halfsplit.model.machine import ShelfPart
from halfsplit.model.rates import Rates
from halfsplit.web.answers import answers_of
from halfsplit.web.number_field import numbers_of
from halfsplit.web.passing import WITHOUT_NUMBERS, chosen_of, passed_over, passing_text

MOST_ANSWERS = 4
"""Answers of one card that are thought through, the likeliest; the rare ones are not."""

MOST_JOBS_AHEAD = 3
"""Jobs of which is kept what was thought ahead: one for each tablet of a small bench."""


@dataclass(frozen=True)
class Case:
    """A job as one answer of its card would leave it.

    Args:
        job: the job; who made the new entries, and when, is left out.
        known: how many entries of its log are on file.
        shown: what would be on the card until it is advised on.
        advice: what to do next, or None as long as that is not worked out.
    """

    job: Job
    known: int
    shown: str
    advice: Advice | None = None

    def is_of(self, job: Job, shown: str) -> bool:
        """Return whether a job has come to stand as this one does, whoever entered it and when."""
        log = (*job.log[: self.known], *map(unsigned, job.log[self.known :]))
        return shown == self.shown and replace(job, log=log) == self.job


@dataclass(frozen=True)
class Early:
    """What a job may be next, as far as that was thought through.

    Args:
        of: what the job stood as.
        book_key: the fault book, as ``OnFile`` says it.
        rates: what time and mishaps cost.
        shelf: the bench's own parts as they are graded, by id.
        cases: what it may be.
    """

    of: tuple[object, ...]
    book_key: tuple[object, ...] = ()
    rates: Rates = field(default_factory=Rates)
    shelf: Mapping[str, ShelfPart] = field(default_factory=lambda: MappingProxyType({}))
    cases: tuple[Case, ...] = ()

    @property
    def next(self) -> Case | None:
        """The first case that is not advised on yet."""
        return next((case for case in self.cases if case.advice is None), None)

    def advised(self, case: Case, advice: Advice) -> "Early":
        """Return it with what to do next in one of its cases."""
        cases = tuple(replace(each, advice=advice) if each is case else each for each in self.cases)
        return replace(self, cases=cases)

    def advice(self, on_file: OnFile, rates: object, shown: str) -> Advice | None:
        """Return what to do next in a job that has come to stand as one of the cases does, or None.

        Raises:
            JobFileError: see ``OnFile.job``.
        """
        if (self.book_key, self.rates) != (on_file.book_key, rates):
            return None
        job = on_file.job()
        return next((case.advice for case in self.cases if case.advice and case.is_of(job, shown)), None)


class EarlyJobs:
    """What was thought ahead of the last few jobs."""

    def __init__(self) -> None:
        self._of: dict[int, Early] = {}

    def of(self, number: int, key: Hashable) -> Early | None:
        """Return what a job may be next as it stands by a key, or None where that was not thought of."""
        early = self._of.get(number)
        return early if early is not None and early.of == key else None

    def keep(self, number: int, early: Early) -> None:
        """Keep what a job may be next; the one that was kept first is forgotten."""
        self._of.pop(number, None)
        self._of[number] = early
        if len(self._of) > MOST_JOBS_AHEAD:
            del self._of[next(iter(self._of))]

    def advice(self, on_file: OnFile, rates: object, shown: str) -> Advice | None:
        """Return what to do next in a job, where it was thought that it may come to stand so; else None."""
        early = self._of.get(on_file.row.number)
        try:
            return None if early is None else early.advice(on_file, rates, shown)
        except InputError:  # whoever weighs it says so
            return None


def cases_of(view: JobView, job: Job, advice: Advice) -> tuple[Case, ...]:
    """Return what a job may be next: the likely answers of the card that its page shows.

    Args:
        view: the job as it stands now.
        job: the same, with the shelf as it stands.
        advice: what to do next in it.
    """
    card = chosen_of(advice, {each.proposal for each in passed_over(job)})
    if card is None:
        return ()
    answers = [each for each in answers_of(advice, card, view, is_likely=False) if not each.is_rare]
    asks_numbers = any(numbers_of(outcome.entries) for outcome in card.outcomes)
    besides = f"\n{passing_text(WITHOUT_NUMBERS, card.title, card.id)}" if asks_numbers else ""
    found = []
    for each in answers[:MOST_ANSWERS]:
        told, _ = parse_entries(each.entry + besides, view.on_file.text, view.on_file.book, known=view.job)
        if told is not None:
            known = len(job.log)
            log = (*job.log, *map(unsigned, told.log[known:]))
            found.append(Case(replace(told, shelf=job.shelf, log=log), known, each.then or advice.top))
    return tuple(found)
