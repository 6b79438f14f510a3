"""The way ahead of a job as a tree: what is done next, and what after each result, down to the end."""

from dataclasses import dataclass

import numpy as np

from halfsplit.job.advise import PROVED, fold_and_weigh, title_of_action
from halfsplit.job.advised import PROVE
from halfsplit.job.kept import Kept
from halfsplit.job.lines import result_line
from halfsplit.job.outlook import Outlook, look_out
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.model.rates import Rates
from halfsplit.plan import ASK_AGAIN, STOP, Grower, Place

PLACES = 30
"""Places of the tree: as many as fit on a printed page."""

LEAST_P = 0.03
"""Branches that are got to less often than this are not shown."""

_ENDS = {STOP: "hand it back, or replace it, whichever is cheaper", ASK_AGAIN: "ask again"}

STILL_BAD = "a fault still shows"


@dataclass(frozen=True)
class Step:
    """One place of the tree.

    Args:
        after: the result that leads here, in words; "" at the top.
        title: what is done here.
        p: the chance to get here from the top.
        cents: the expected cost from here on, in cents.
        steps: what comes after each of its results, likeliest first.
    """

    after: str
    title: str
    p: float
    cents: float
    steps: tuple["Step", ...] = ()


def plan_ahead(job: Job, book: Book, rates: Rates | None = None, *, places: int = PLACES) -> Step:
    """Return the way ahead of a job.

    Args:
        job: the job.
        book: the fault book.
        rates: what time and mishaps cost this bench; None = the defaults.
        places: the most places of the tree.

    Raises:
        ModelError: the job cannot be folded; with all of its mistakes.
        ImpossibleReadingsError: its readings cannot all be true.
    """
    folded, posterior = fold_and_weigh(job, book)
    outlook = look_out(job, folded, posterior, rates or Rates(), Kept(book))
    thumb = outlook.thumb()
    done = np.zeros(len(outlook.situation.actions), dtype=bool)
    grown = Grower(thumb, outlook.waits).grow(outlook.situation.weights, thumb.open_now, done, places=places)
    return _step(grown.place, "", outlook, folded.spoken)


def _step(place: Place, after: str, outlook: Outlook, book: Book) -> Step:
    p = place.p
    cents = place.cents / p if p > 0.0 else 0.0
    if place.action in _ENDS:
        return Step(after, _ENDS[place.action], p, cents)
    name = outlook.situation.actions[place.action].id
    steps = [
        _step(child, _after(name, result, outlook, book), outlook, book)
        for result, child in place.branches
        if child.p >= LEAST_P
    ]
    return Step(after, title_of_action(name, outlook, book), p, cents, tuple(steps))


def _after(name: str, result: int, outlook: Outlook, book: Book) -> str:
    if name == PROVE:
        return PROVED[result]
    if name not in outlook.foreseen:
        return STILL_BAD
    seen = outlook.foreseen[name]
    return result_line(seen.entries, seen.results[result], book)
