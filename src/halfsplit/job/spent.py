"""What a job has cost so far, as far as its log tells: always the log with its corrections applied."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import takewhile

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


@dataclass(frozen=True)
class Agreed:
    """Up to what a job may cost before the owner is asked, in cents.

    Args:
        finding: for finding the faults.
        whole: for the whole job.
        is_owners: whether the owner agreed to it; else it is the bench's own ceiling.
    """

    finding: float
    whole: float
    is_owners: bool = False


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


def finding_of(log: Iterable[Entry]) -> Iterator[Entry]:
    """Yield what was done to find the fault: all of a corrected log before the first repair."""
    return takewhile(lambda entry: not isinstance(entry, RepairDone), log)


def agreed_on(log: Iterable[Entry], rates: Rates) -> Agreed:
    """Return up to what a job may cost: the last sum in a corrected log that was agreed to counts for both."""
    sums = [
        float(entry.cents)
        for entry in log
        if isinstance(entry, Remark) and entry.kind == AGREED and entry.cents is not None
    ]
    return Agreed(sums[-1], sums[-1], is_owners=True) if sums else Agreed(rates.diagnosis, rates.ceiling)
