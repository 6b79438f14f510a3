"""What a job has cost so far, as far as its log tells: always the log with its corrections applied."""

from collections.abc import Iterable

from halfsplit.job.openings import OpeningsOf
from halfsplit.model.bench import Minutes
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Inspect, Measure, Remark, RepairDone, Run
from halfsplit.model.rates import Rates

RUN_MINUTES = 2.0
"""Hands-on minutes of one run that nobody timed (estimate)."""

LOOK_MINUTES = 1.0
"""Hands-on minutes of one look or number, without the opening (estimate)."""

SPENT, AGREED = "spend", "agree"
"""Remarks that tell of money: paid, and agreed to by the owner."""


def spent_on(log: Iterable[Entry], book: Book, rates: Rates) -> float:
    """Return what a corrected log has cost, in cents: hands-on time by the book, place, and the money entered as spent.

    Each opening counts once: going there and back is shared by all that was done on it.
    """
    openings = OpeningsOf(book)
    made: set[str] = set()
    hands = place = days = cents = 0.0
    for entry in log:
        match entry:
            case Run():
                hands += RUN_MINUTES
                place += max(RUN_MINUTES, entry.conditions.minutes or 0.0)
            case Inspect():
                hands += LOOK_MINUTES
                made |= set(openings.chain(book.inspections[entry.what.partition(".")[0]].opening))
            case Measure():
                hands += LOOK_MINUTES
                made |= set(openings.chain(book.measurements[entry.what.partition(".")[0]].opening))
            case RepairDone():
                repair = book.repairs[entry.do]
                hands += repair.minutes.hands_on
                place += repair.minutes.place
                days += repair.minutes.days
                made |= set(openings.chain(repair.opening))
            case Remark() if entry.kind == SPENT and entry.cents is not None:
                cents += entry.cents
            case _:
                pass
    hands += sum(book.openings[name].minutes_open + book.openings[name].minutes_close for name in made)
    return cents + rates.of(Minutes(hands, place + hands, days))


def agreed_on(log: Iterable[Entry], rates: Rates) -> tuple[float, float]:
    """Return what the owner agreed to for finding the faults and for the whole job, in cents.

    The last sum in the corrected log that was agreed to counts for both; without one the bench's usual ones.
    """
    sums = [
        float(entry.cents)
        for entry in log
        if isinstance(entry, Remark) and entry.kind == AGREED and entry.cents is not None
    ]
    return (sums[-1], sums[-1]) if sums else (rates.diagnosis, rates.ceiling)
