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

from dataclasses import replace

from halfsplit.errors import ImpossibleReadingsError
from halfsplit.infer.posterior import Posterior, Samples, compile_evidence, weigh_programs
from halfsplit.model.evidence import Evidence

__all__ = ["ImpossibleReadingsError", "Posterior", "Samples", "log_p_readings", "weigh"]


def weigh(evidence: Evidence, *, limit: int | None = None, target: float = 1e-3) -> Posterior:
    """Weigh all readings of an evidence, exactly.

    Args:
        evidence: contexts, roots and readings.
        limit: the most pairs of rows that one level may join; None = as many as are quick; 0 = never cut.
        target: the bound share to aim at where a program must be cut.

    Returns:
        The posterior, with ``bound_share``: 0 when nothing was cut.

    Raises:
        ImpossibleReadingsError: P(all readings) is 0; carries an irreducible set of such readings.
    """
    posterior = weigh_programs(evidence, compile_evidence(evidence), limit=limit, target=target)
    if posterior.is_impossible:
        raise ImpossibleReadingsError(_irreducible(evidence))
    return posterior


def log_p_readings(evidence: Evidence, *, limit: int | None = None, target: float = 1e-3) -> float:
    """Return the natural log of P(all readings); minus infinity where they cannot all be true."""
    return weigh_programs(evidence, compile_evidence(evidence), limit=limit, target=target).log_p


def _irreducible(evidence: Evidence) -> tuple[str, ...]:
    """Return readings that cannot all be true, while without any one of them they can."""
    needed = list(evidence.readings)
    for reading in evidence.readings:
        fewer = [other for other in needed if other is not reading]
        without = replace(evidence, readings=tuple(fewer))
        if weigh_programs(without, compile_evidence(without), limit=None, target=0.5).is_impossible:
            needed = fewer
    return tuple(reading.id for reading in needed)
