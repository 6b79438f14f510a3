"""A folded job weighed, though now and then a run is entered as something else than it showed.

Mostly nobody need think of that: the readings are weighed as they stand.  Where nothing is found that shows all of
them, or too little of it, each run that needs a cause may be void.  That is dearer, and where it finds nothing either,
readings are laid aside: each for which, with all before it, nothing is found.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite

from halfsplit.errors import ImpossibleReadingsError
from halfsplit.infer import Compiled, Posterior, compile_readings, irreducible, weigh_readings
from halfsplit.infer.posterior import DEFAULT_TARGET
from halfsplit.job.folded import Folded
from halfsplit.job.wrong_taps import P_MISTAPPED
from halfsplit.model.evidence import Evidence, Reading

P_VOID = P_MISTAPPED
"""The chance that a run is entered as something else than it showed; as with a look."""

IF_VOID = 0.05
"""The chance of just this report where another was meant: some twenty things may be said of a run (estimate)."""

WELL_FOUND = 0.5
"""As long as no more than this share of the answer may be missing, the readings are taken as they stand."""

MOST_ASIDE = 5
"""Readings that are laid aside, at most, before nothing is said at all."""

QUICK_PAIRS = 10_000
ANY = 1e9
"""Pairs that one level may join, and the bound share to aim at, where it only counts whether anything is found."""


@dataclass(frozen=True)
class Answer:
    """A job weighed.

    Args:
        posterior: what its readings say.
        compiled: the readings that were weighed, as they were weighed.
        impossible: readings that cannot all be true, and no fewer of them; () where they can, or it was not asked.
    """

    posterior: Posterior
    compiled: Compiled
    impossible: tuple[str, ...] = ()


def laid_aside(folded: Folded, posterior: Posterior) -> tuple[str, ...]:
    """Return the readings of a job that were laid aside to weigh it."""
    weighed = {reading.id for reading in posterior.evidence.readings}
    return tuple(reading.id for reading in folded.evidence.readings if reading.id not in weighed)


def weigh_folded(
    folded: Folded, *, limit: int | None = None, target: float = DEFAULT_TARGET, explain: bool = False
) -> Answer:
    """Weigh a folded job.

    Args:
        folded: the job.
        limit: the most pairs of rows that one level may join; see ``infer.weigh``.
        target: the bound share to aim at.
        explain: whether to look for the readings that cannot all be true, where it is known that there are some.

    Raises:
        ImpossibleReadingsError: nothing was found that shows its readings, whatever was laid aside; with all of them.
        TooManySignsError: a run is told of by too many signs.
    """
    evidence = folded.evidence
    as_it_stands = compile_readings(evidence)
    posterior = _all_of(as_it_stands, limit, target)
    found = Answer(posterior, as_it_stands)
    doubted = _doubted(folded)
    if isfinite(posterior.log_p) and (posterior.bound_share <= WELL_FOUND or not doubted):
        return found
    impossible = irreducible(as_it_stands) if explain and posterior.is_impossible else ()
    compiled = compile_readings(_with_voids(evidence, frozenset(doubted)), as_it_stands)
    with_voids = _all_of(compiled, limit, target)
    if with_voids.log_p > posterior.log_p:  # both are found from below
        found = Answer(with_voids, compiled, impossible)
    if isfinite(found.posterior.log_p):
        return found
    left = _left_after_laying_aside(as_it_stands)
    compiled = compile_readings(replace(evidence, readings=left), as_it_stands)
    posterior = _all_of(compiled, limit, target)
    if not isfinite(posterior.log_p):
        posterior = _all_of(compiled, QUICK_PAIRS, ANY)
    return Answer(posterior, compiled, impossible)


def _all_of(compiled: Compiled, limit: int | None, target: float) -> Posterior:
    every = [reading.id for reading in compiled.evidence.readings]
    return weigh_readings(compiled, every, limit=limit, target=target)


def _left_after_laying_aside(compiled: Compiled) -> tuple[Reading, ...]:
    """Return the readings but for those for which, with all before them, nothing is found."""

    def is_found(readings: Sequence[Reading]) -> bool:
        names = [reading.id for reading in readings]
        return isfinite(weigh_readings(compiled, names, limit=QUICK_PAIRS, target=ANY).log_p)

    left = list(compiled.evidence.readings)
    for _ in range(MOST_ASIDE):
        lost, step = len(left), 1  # nothing is found for so many of those left; mostly the newest is to blame
        while (found := max(0, lost - step)) and not is_found(left[:found]):
            lost, step = found, 2 * step
        while lost - found > 1:
            middle = (found + lost) // 2
            found, lost = (middle, lost) if is_found(left[:middle]) else (found, middle)
        del left[lost - 1]
        if is_found(left):
            return tuple(left)
    raise ImpossibleReadingsError(tuple(reading.id for reading in compiled.evidence.readings))


def _doubted(folded: Folded) -> tuple[str, ...]:
    """Return the readings of runs that the setup alone cannot have shown, the newest first."""
    runs = {run.id for run in folded.runs}
    return tuple(
        reading.id
        for reading in reversed(folded.evidence.readings)
        if runs.intersection(folded.entries[reading.id])
        and not any(reading.may_show(effect) for p, effect in reading.base if p > 0.0)
    )


def _with_voids(evidence: Evidence, doubted: frozenset[str]) -> Evidence:
    readings = tuple(
        replace(reading, p_void=P_VOID, if_void=IF_VOID) if reading.id in doubted else reading
        for reading in evidence.readings
    )
    return replace(evidence, readings=readings)
