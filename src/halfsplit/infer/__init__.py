"""The exact engine: from the evidence of a job to suspicions, with every number positive.

The way of a job through this room, one file a step:

    fields      a reading becomes classes of totals, coded so that joining is an OR
    leaves      a root becomes a table: the codes it may leave, the state it is in now
    components  what shares nothing is answered by itself
    joins       tables are joined two by two up a tree, and back down
    bounds      a table that is too large is cut, and the error is bounded
    program     one group, solved
    sets, sampling, posterior   what is asked of it
"""

from halfsplit.errors import ImpossibleReadingsError, TooLargeError
from halfsplit.infer.components import Compiled, compile_readings
from halfsplit.infer.posterior import DEFAULT_TARGET, Missing, Posterior, Samples, weigh_readings
from halfsplit.model.evidence import Evidence

__all__ = [
    "Compiled",
    "ImpossibleReadingsError",
    "Missing",
    "Posterior",
    "Samples",
    "TooLargeError",
    "compile_readings",
    "irreducible",
    "log_p_readings",
    "weigh",
    "weigh_compiled",
    "weigh_readings",
]


def weigh(evidence: Evidence, *, limit: int | None = None, target: float = DEFAULT_TARGET) -> Posterior:
    """Weigh all readings of an evidence, exactly.

    Args:
        evidence: contexts, roots and readings.
        limit: the most pairs of rows that one level may join; None = as many as are quick; 0 = never cut.
        target: the bound share to aim at where a program must be cut.

    Returns:
        The posterior, with ``bound_share``: 0 when nothing was cut.

    Raises:
        ImpossibleReadingsError: P(all readings) is 0; carries an irreducible set of such readings.
        TooLargeError: the limit is 0, and the readings are too rich for that.
    """
    return weigh_compiled(compile_readings(evidence), limit=limit, target=target)


def weigh_compiled(compiled: Compiled, *, limit: int | None = None, target: float = DEFAULT_TARGET) -> Posterior:
    """Weigh all readings of an evidence that is compiled already; see ``weigh``."""
    posterior = weigh_readings(compiled, _ids(compiled.evidence), limit=limit, target=target)
    if posterior.is_impossible:
        raise ImpossibleReadingsError(irreducible(compiled))
    return posterior


def log_p_readings(evidence: Evidence, *, limit: int | None = None, target: float = DEFAULT_TARGET) -> float:
    """Return the natural log of P(all readings); minus infinity where they cannot all be true."""
    return weigh_readings(compile_readings(evidence), _ids(evidence), limit=limit, target=target).log_p


def _ids(evidence: Evidence) -> tuple[str, ...]:
    return tuple(reading.id for reading in evidence.readings)


def irreducible(compiled: Compiled) -> tuple[str, ...]:
    """Return readings that cannot all be true, while without any one of them they can.

    Halves of them are left out at once where that can be (U. Junker, QUICKXPLAIN, AAAI 2004); of those that can be
    left out the earlier ones are.
    """

    def is_impossible(names: tuple[str, ...]) -> bool:
        return weigh_readings(compiled, names, target=_ANY).is_impossible

    def needed(given: tuple[str, ...], names: tuple[str, ...], *, is_new: bool) -> tuple[str, ...]:
        """Return which of some readings are needed beside those given; ``is_new``: whether these were added to."""
        if is_new and is_impossible(given):
            return ()
        if len(names) == 1:
            return names
        earlier, later = names[: len(names) // 2], names[len(names) // 2 :]
        of_earlier = needed((*given, *later), earlier, is_new=True)
        of_later = needed((*given, *of_earlier), later, is_new=bool(of_earlier))
        return (*of_earlier, *of_later)

    every = _ids(compiled.evidence)
    return needed((), every, is_new=False)


_ANY = 1e9  # the bound share to aim at where it only counts whether anything shows all readings
