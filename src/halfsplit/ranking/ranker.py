"""Weighing a job and saying what to do next, with what was worked out before at hand."""

from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType

from halfsplit.job.advise import advise
from halfsplit.job.advised import Advice
from halfsplit.job.kept import Kept, go_on
from halfsplit.job.weigh import weigh_job
from halfsplit.job.weighed import Weighed
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.model.rates import Rates
from halfsplit.ranking.ranks import Shelf

MOST_RUNS = 250
"""Runs of which is kept what they may come to, some 120 for each state of a machine; fewer than one state has would be
of no use."""

MOST_SCALES = 800
"""Looks and numbers of which that is kept, some 270 for each state; beyond them all is forgotten."""


class Ranker:
    """Weighs jobs and advises on them, here and now.

    Args:
        book: the fault book.
        pause: called between the parts of an advice; what it raises ends it.
    """

    def __init__(self, book: Book, pause: Callable[[], None] = go_on) -> None:
        self._pause = pause
        self._kept = self._kept_for(book)

    def weigh(self, job: Job, shelf: Shelf) -> Weighed:
        """Return what ``Ranks.weigh`` says."""
        return weigh_job(job, self._book_with(shelf))

    def advise(self, job: Job, shelf: Shelf, rates: Rates, *, shown: str) -> Advice:
        """Return what ``Ranks.advise`` says."""
        book = self._book_with(shelf)
        advice = advise(job, book, rates, shown=shown, kept=self._kept)
        self._make_room()
        return advice

    def break_off(self) -> None:
        """Leave what is asked now where it is: here nobody asks for anything else as long as it lasts."""

    def rest(self) -> None:
        """Let what is asked now rest for a moment: here nothing else goes on meanwhile."""

    def close(self) -> None:
        """Forget what was kept."""
        self._kept = self._kept_for(self._kept.book)

    def _make_room(self) -> None:
        """Forget the runs that were thought of longest ago: mostly of setups that are no more."""
        runs = self._kept.asks.runs
        for key in list(runs)[: max(0, len(runs) - MOST_RUNS)]:
            del runs[key]
        if len(self._kept.asks.scales) > MOST_SCALES:
            self._kept = self._kept_for(self._kept.book)

    def _book_with(self, shelf: Shelf) -> Book:
        """Return the book with a shelf; the same one, with what was kept, as long as the shelf is."""
        if self._kept.book.shelf != shelf:
            self._kept = self._kept_for(replace(self._kept.book, shelf=MappingProxyType(dict(shelf))))
        return self._kept.book

    def _kept_for(self, book: Book) -> Kept:
        return Kept(book, self._pause)
