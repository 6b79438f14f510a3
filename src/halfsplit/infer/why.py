"""Why a fault is suspected: what each reading did to it, in the order of the log, and what it does now.

The states asked about are those at the end of the log, before each reading as after it: what a repair did
counts from the start, and only what was read is told apart.
"""

from dataclasses import dataclass

from halfsplit.infer.retold import Retold


@dataclass(frozen=True)
class Shift:
    """What one reading did to one root.

    Args:
        reading: its id.
        p_before, p_after: P(the fault is there now) before and after it, in the order of the log.
        p_without: P(there now) with this reading alone left out of all; None = not asked for.
    """

    reading: str
    p_before: float
    p_after: float
    p_without: float | None = None

    @property
    def odds_before(self) -> float:
        """Odds that it is there, before the reading."""
        return odds(self.p_before)

    @property
    def odds_after(self) -> float:
        """Odds that it is there, after the reading."""
        return odds(self.p_after)


def odds(p: float) -> float:
    """Return p / (1 - p); infinite for certainty."""
    return p / (1.0 - p) if p < 1.0 else float("inf")


def explain(retold: Retold, root_id: str, *, leave_out: bool = True) -> tuple[Shift, ...]:
    """Return what each reading did to a root, in the order of the log, those given first.

    Args:
        retold: the evidence.
        root_id: the root.
        leave_out: whether to say as well what all readings but each one come to.

    Returns:
        One shift for each reading.  Costs one question for each reading, and one more if it is left out; all
        roots share the answers.
    """
    at = [root.id for root in retold.compiled.evidence.roots].index(root_id)
    p = [float(retold.after(many).p_faults[at]) for many in range(len(retold.order) + 1)]
    return tuple(
        Shift(
            reading,
            before,
            after,
            float(retold.without(reading).p_faults[at]) if leave_out else None,
        )
        for reading, before, after in zip(retold.order, p[:-1], p[1:], strict=True)
    )
