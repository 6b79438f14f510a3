"""Parts of the shelf that the next checks of several jobs want: each can be in one machine at a time."""

from collections.abc import Iterable, Mapping

from halfsplit.job.advised import Proposal
from halfsplit.job.units import SHELF
from halfsplit.model.book import Book
from halfsplit.model.job import ChangeSetup, Run
from halfsplit.web.texts import say


def wanted_twice(cards: Mapping[int, Proposal], book: Book) -> tuple[str, ...]:
    """Return a line for each part of the shelf that more than one job wants next.

    Leads, monitors and what else stands around a machine are left out: a bench moves them all day.

    Args:
        cards: number of the job -> what comes next in it.
        book: the fault book, with the parts of the bench's own shelf.
    """
    jobs: dict[str, list[str]] = {}
    for number, card in cards.items():
        for part in dict.fromkeys(_lent_for(card)):
            if part in book.shelf and not book.kinds[book.shelf[part].kind].outside:
                jobs.setdefault(part, []).append(f"{number}")
    return tuple(
        say("bench.wanted", part=book.shelf[part].title or part, jobs=", ".join(numbers))
        for part, numbers in jobs.items()
        if len(numbers) > 1
    )


def _lent_for(card: Proposal) -> Iterable[str]:
    """Yield the parts of the shelf that a card puts into a machine."""
    for outcome in card.outcomes:
        for entry in outcome.entries:
            if isinstance(entry, Run | ChangeSetup):
                units = [held.partition(".") for held in entry.swaps.values()]
                yield from (part for whose, _, part in units if whose == SHELF)
