"""Parts of the shelf that the next checks and repairs of several jobs want: each can be in one machine at a time."""

from collections.abc import Iterable, Mapping

from halfsplit.actions.onfile import read_open
from halfsplit.job.advised import Proposal
from halfsplit.job.lines import title_of
from halfsplit.job.units import SHELF, kind_of
from halfsplit.model.bench import REPLACES
from halfsplit.model.book import Book
from halfsplit.model.job import ChangeSetup, Run
from halfsplit.store.jobs import JobRow
from halfsplit.store.states import READY
from halfsplit.web.answers import fitted_from
from halfsplit.web.standing import Standing
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

AWAY = ("on_trial", READY, "uncollected", "declined")
"""States of a machine that is not worked on: nothing is proposed to run in it."""


def next_cards(rows: Iterable[JobRow], known: Mapping[int, Standing]) -> Mapping[int, Proposal]:
    """Return number -> what comes next, of the jobs that are worked on."""
    found = {}
    for row in rows:
        standing = known.get(row.number)
        advice = standing.advice if standing is not None and row.state not in AWAY else None
        if advice is not None and (top := advice.proposal(advice.top)) is not None:
            found[row.number] = top
    return found


def wanted_twice(cards: Mapping[int, Proposal], book: Book) -> tuple[str, ...]:
    """Return a line for each part of the shelf that more than one job wants next.

    Args:
        cards: number of the job -> what comes next in it.
        book: the fault book, with the parts of the bench's own shelf.
    """
    jobs: dict[str, list[str]] = {}
    for number, card in cards.items():
        for part in parts_used(card, book):
            jobs.setdefault(part, []).append(f"{number}")
    return tuple(
        say("bench.wanted", part=title_of(f"{SHELF}.{part}", book), jobs=", ".join(numbers))
        for part, numbers in jobs.items()
        if len(numbers) > 1
    )


def wanted_elsewhere(visit: Visit, number: int, card: Proposal, book: Book) -> tuple[str, ...]:
    """Return a line for each part of the shelf that a card uses, and that other jobs want next as well.

    Args:
        visit: whose bench the other jobs are on; they are looked at only where the card uses a part of the shelf.
        number: of the job that the card is of.
        card: what comes next in it.
        book: the fault book, with the parts of the bench's own shelf.
    """
    used = parts_used(card, book)
    if not used:
        return ()
    bench = visit.desk.bench
    with bench.store.reading() as connection:
        on_file = read_open(bench, connection)
    cards = next_cards([each.row for each in on_file], visit.desk.weigher.known(on_file))
    wants = {other: parts_used(each, book) for other, each in cards.items() if other != number}
    found = {part: [f"{other}" for other, parts in wants.items() if part in parts] for part in used}
    return tuple(
        say("card.wanted", part=title_of(f"{SHELF}.{part}", book), jobs=", ".join(jobs), many=len(jobs))
        for part, jobs in found.items()
        if jobs
    )


def parts_used(card: Proposal, book: Book) -> tuple[str, ...]:
    """Return the parts of the shelf that a card puts into a machine: lent, or fitted where there is no other.

    Leads, monitors and what else stands around a machine are left out: a bench moves them all day.
    """
    return tuple(
        part
        for part in dict.fromkeys((*_lent(card), *_fitted(card, book)))
        if part in book.shelf and not book.kinds[book.shelf[part].kind].outside
    )


def _lent(card: Proposal) -> Iterable[str]:
    for outcome in card.outcomes:
        for entry in outcome.entries:
            if isinstance(entry, Run | ChangeSetup):
                units = [held.partition(".") for held in entry.swaps.values()]
                yield from (part for whose, _, part in units if whose == SHELF)


def _fitted(card: Proposal, book: Book) -> Iterable[str]:
    for part in card.parts:
        name, _, at = part.partition("@")
        repair = book.repairs.get(name)
        if repair is not None and repair.does == REPLACES:
            there = fitted_from(kind_of(at or repair.at), book)
            yield from (each.id for each in there if len(there) == 1)
