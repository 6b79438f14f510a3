"""Parts of the shelf that may be bad themselves where they are to show what is wrong: each asks to be tried first."""

from collections.abc import Iterable, Mapping

from halfsplit.job.advised import StopPoint
from halfsplit.job.amounts import amount
from halfsplit.job.foresight import Foreseen
from halfsplit.job.standing import p_bad_of
from halfsplit.job.units import OWNER, SHELF
from halfsplit.model.bench import Check
from halfsplit.model.book import Book
from halfsplit.model.job import ChangeSetup, Job, Run
from halfsplit.model.machine import Standing


class TryFirst:
    """Says of checks which part of the shelf is to be tried first.

    Args:
        job: the job.
        book: the fault book.
        lent: part of the shelf that was in -> how likely it is bad now.
        limit: how likely a part is bad from where on it is doubtful.
    """

    def __init__(self, job: Job, book: Book, lent: Mapping[str, float], limit: float) -> None:
        self._shelf = job.shelf
        self._book = book
        self._lent = lent
        self._limit = limit

    def before_check(self, seen: Foreseen) -> Iterable[StopPoint]:
        """Yield a stop point for each doubtful part that a check puts into the owner's machine.

        A part that the book has no check to try by is used as it is.
        """
        if seen.check.host != OWNER:
            return
        puts = [held for entry in seen.entries if isinstance(entry, Run | ChangeSetup) for held in entry.swaps.values()]
        for name in dict.fromkeys(put.removeprefix(f"{SHELF}.") for put in puts if put.startswith(f"{SHELF}.")):
            first = trying(self._book.shelf[name].kind, self._book)
            p = self.p_bad(name)
            if p >= self._limit and first is not None:
                title = self._book.shelf[name].title or name.replace("_", " ")
                line = f"{title}: it may be bad itself, {_odds(p)}, and what it shows says less"
                where, minutes = self._book.hosts[first.host].title, first.minutes
                time = f"{amount(minutes.hands_on, 'minutes')} of hands, {amount(minutes.place, 'minutes')} in all"
                yield StopPoint("doubtful_part", line, f"Try it first ({where}): {time}.")

    def p_bad(self, name: str) -> float:
        """Return how likely a part of the shelf is bad now."""
        if name in self._lent:
            return self._lent[name]
        return p_bad_of(self._book.shelf[name], self._shelf.get(name, Standing()), self._book)


def trying(kind: str, book: Book) -> Check | None:
    """Return the check that tries a part of a kind where it is known to run, or None: what it takes ours takes as well.

    Of several it is one in a machine that has such a part itself, and the shortest.
    """
    found = [check for check in book.checks.values() if check.host != OWNER and check.setup.get(kind) == OWNER]
    return min(found, key=lambda check: (kind not in book.hosts[check.host].own, check.minutes.hands_on), default=None)


def _odds(p: float) -> str:
    return "more likely than not" if p > 2 / 3 else f"about 1 in {round(1.0 / p)}"
