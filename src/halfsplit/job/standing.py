"""How a part of the shelf stands: how likely it is bad, by what it was exposed to and the time since it was proven."""

from collections.abc import Mapping
from math import exp, log
from types import MappingProxyType

from halfsplit.job.units import OWNER
from halfsplit.model.book import Book
from halfsplit.model.machine import ShelfPart, Standing

YEAR_DAYS = 365.25

STEP = 0.2
"""Nothing of a part is known closer than this, in log odds; jobs that begin alike share what was worked out of them."""

NO_STANDINGS: Mapping[str, Standing] = MappingProxyType({})
"""Of a shelf of which nothing is known but the grades."""


def p_bad_of(part: ShelfPart, standing: Standing, book: Book) -> float:
    """Return the chance that a part of the shelf is bad.

    P(bad) = 1 - (1 - p) x (1 - harms) ^ exposures x (1 - fades) ^ years: bad when that was last known, or by one of
    the power-ups since, or by lying there.  What is outside the case is not at risk in a power-up.

    Args:
        part: the part.
        standing: what happened to it.
        book: the fault book: ``harms`` of the owner's machine, ``p_good`` and ``fades`` of the part's grade.
    """
    grade = book.grades[part.grade]
    good = grade.p_good if standing.p_bad is None else 1.0 - standing.p_bad
    exposures = 0 if book.kinds[part.kind].outside else standing.exposures
    stays: float = (1.0 - book.hosts[OWNER].harms) ** exposures * (1.0 - grade.fades) ** (standing.days / YEAR_DAYS)
    return 1.0 - good * stays


def p_at_start(part: ShelfPart, standing: Standing, book: Book) -> float:
    """Return the chance that a part of the shelf is bad as a job begins with it: ``p_bad_of`` in steps of ``STEP``.

    The steps are counted from what its grade says.
    """
    p, graded = p_bad_of(part, standing, book), 1.0 - book.grades[part.grade].p_good
    if not (0.0 < p < 1.0 and 0.0 < graded < 1.0):
        return p
    steps = round((_log_odds(p) - _log_odds(graded)) / STEP)
    return 1.0 / (1.0 + exp(-_log_odds(graded) - STEP * steps)) if steps else graded


def p_bad_proven(book: Book) -> float:
    """Return the chance that a part is bad that has just shown that it is good: as parts of the best grade are.

    What comes and goes does not show in one try.
    """
    return 1.0 - max(grade.p_good for grade in book.grades.values())


def _log_odds(p: float) -> float:
    return log(p / (1.0 - p))
