"""Whether the readings can be had together: the conflict measure, and since which reading it grew.

    log M = sum over j of log P(r_j | given) - log P(all r | given)

(F. V. Jensen, B. Chamberlain, T. Nordahl and F. Jensen, on the analysis of data conflict, UAI 1990;
here everything is conditional on the complaint, natural logs).  Readings that support each other make
log M negative; readings that each make sense alone and not together make it positive.

M after k readings is the ratio of two probabilities of the same reports: that under "each for itself" over
that under the model.  Under a right model its expectation after the next reading is never more than it is
now: M is a supermartingale that starts at 1 (a martingale where every report is possible).  By Ville's
inequality it ever reaches 20 in at most one job of 20.  The same holds for M counted from any later
reading on; with n such starts the limit is 20 n.  So an alarm is a question, with a known rate of false
ones, and no verdict.
"""

from collections.abc import Collection
from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite, log

from halfsplit.infer.retold import Retold

JOBS_A_FALSE_ALARM = 20.0
"""Under a right model at most one job in so many raises an alarm of one kind."""


@dataclass(frozen=True)
class Conflict:
    """How far the readings speak against each other.

    Args:
        readings: ids of the readings asked about, in order; those given are not among them.
        course: pairs of a number of them and log M over the first so many; from (0, 0) to all.
        since: the reading since which it grew most, or "" where it never grew.
        log_since: log M_n - min over k of log M_k: log M over the readings from ``since`` on, given those before.
    """

    readings: tuple[str, ...]
    course: tuple[tuple[int, float], ...]
    since: str
    log_since: float

    @property
    def log_m(self) -> float:
        """Natural log of M over all readings."""
        return self.course[-1][1]

    @property
    def log_alarm(self) -> float:
        """The limit for ``log_m``: log 20."""
        return log(JOBS_A_FALSE_ALARM)

    @property
    def log_since_alarm(self) -> float:
        """The limit for ``log_since``: log(20 n)."""
        return log(JOBS_A_FALSE_ALARM * max(1, len(self.readings)))

    @property
    def is_alarm(self) -> bool:
        """Whether they disagree more than chance lets them."""
        return self.log_m >= self.log_alarm or self.log_since >= self.log_since_alarm


@dataclass(frozen=True)
class Fit:
    """How one reading fits the others.

    Args:
        reading: its id.
        log_p_alone: log P(it | given).
        log_p_last: log P(it | given and all others).
        log_m_without: log M over all readings but this one.
    """

    reading: str
    log_p_alone: float
    log_p_last: float
    log_m_without: float


def log_m_after(retold: Retold, place: int) -> float:
    """Return log M over the readings asked about among the first ``place`` of the order; 0 before them.

    All readings must be possible together.  Where the question found no probability because it was cut, minus
    infinity: it raises no alarm.
    """
    if place <= retold.many_given:
        return 0.0
    given = retold.log_p(retold.given)
    alone = sum(_log_p_alone(retold, reading) for reading in retold.order[retold.many_given : place])
    together = retold.after(place).log_p - given
    return alone - together if isfinite(together) else -inf


def find_conflict(retold: Retold, *, places: Collection[int] | None = None) -> Conflict:
    """Return how far the readings of an evidence speak against each other.

    Args:
        retold: the evidence; what it takes as given is conditioned on.  All its readings must be possible
            together.
        places: the numbers of readings after which M is looked at; None = after each.  With fewer the largest
            conflict since any reading may come out smaller, never larger.

    Returns:
        The conflict.  Costs one question for each reading, and one for each place.
    """
    first, last = retold.many_given, len(retold.order)
    looked_at = range(first, last + 1) if places is None else sorted({first, last, *places})
    course = [(place - first, log_m_after(retold, place)) for place in looked_at if place >= first]
    least, k = min((log_m, k) for k, log_m in course if isfinite(log_m))
    log_since = course[-1][1] - least
    since = retold.asked[k] if log_since > 0.0 else ""
    return Conflict(retold.asked, tuple(course), since, max(0.0, log_since))


def find_suspects(retold: Retold, conflict: Conflict, *, many: int) -> tuple[str, ...]:
    """Return readings that a conflict may be blamed on.

    Args:
        retold: the evidence.
        conflict: what was found of it, at any places.
        many: how many readings to name at most.

    Returns:
        The reading over which M grew most, and those that speak most against it: log M of these two alone.  None
        where M never grew.  Costs a question for each halving of the stretch over which it grew, and one small
        question for each reading.
    """
    places = [(count + retold.many_given, log_m) for count, log_m in conflict.course if isfinite(log_m)]
    rises = [(after - before, a, b, before, after) for (a, before), (b, after) in pairwise(places) if after > before]
    if not rises:
        return ()
    _, a, b, before, after = max(rises)
    while b - a > 1:
        middle = (a + b) // 2
        log_m = log_m_after(retold, middle)
        if log_m - before > after - log_m:
            b, after = middle, log_m
        else:
            a, before = middle, log_m
    grown = retold.order[a]
    others = [reading for reading in retold.asked if reading != grown]
    against = sorted(others, key=lambda other: -_log_m_of_two(retold, grown, other))
    return (grown, *against[: many - 1])


def _log_m_of_two(retold: Retold, one: str, other: str) -> float:
    """Return log M of two readings alone."""
    together = retold.log_p([*retold.given, one, other]) - retold.log_p(retold.given)
    alone = _log_p_alone(retold, one) + _log_p_alone(retold, other)
    return alone - together if isfinite(together) else inf


def find_misfits(retold: Retold, among: Collection[str] | None = None) -> tuple[Fit, ...]:
    """Return how readings fit all others, the worst first.

    What a reading adds to log M is log P(it alone) - log P(it after all others): the worst adds most.

    Args:
        retold: the evidence.
        among: ids of the readings to look at; None = all that are not given.
    """
    given = retold.log_p(retold.given)
    alone = {reading: _log_p_alone(retold, reading) for reading in retold.asked}
    everything = retold.log_p(retold.order) - given
    fits = []
    for reading in retold.asked if among is None else among:
        others = retold.without(reading).log_p - given
        log_m_without = sum(p for name, p in alone.items() if name != reading) - others
        fits.append(Fit(reading, alone[reading], everything - others, log_m_without))
    return tuple(sorted(fits, key=lambda fit: (fit.log_p_last - fit.log_p_alone, fit.reading)))


def _log_p_alone(retold: Retold, reading: str) -> float:
    """Return log P(this reading | given)."""
    return retold.log_p([*retold.given, reading]) - retold.log_p(retold.given)
