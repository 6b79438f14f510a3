"""The same evidence asked with fewer readings: what was believed before, and what would be without.

How a reading was taken shows only beside what was believed without it, so that the conflict measure and
"why" put many questions that differ by a reading or two.  They put them here, and each is answered once.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

import numpy as np

from halfsplit.infer.components import Compiled
from halfsplit.infer.moves import merge_moves
from halfsplit.infer.posterior import DEFAULT_TARGET, Posterior, weigh_readings
from halfsplit.model.arrays import Floats


@dataclass(frozen=True)
class Answer:
    """What some of the readings say.

    Args:
        log_p: natural log of P(these readings); minus infinity where nothing was found.
        p_faults: shape (R,): P(there at the end of the log) of each root, in the order of the evidence.
    """

    log_p: float
    p_faults: Floats


class Retold:
    """An evidence and every answer that was asked of it.

    Args:
        compiled: the evidence with its readings compiled.
        given: ids of the readings that every question of conflict takes as they are: those of the complaint.
        limit: the most pairs of rows that one level may join in one question; see ``weigh``.
        target: the bound share to aim at where a question must be cut.

    Attributes:
        order: ids of all readings: those given, then the others, each in the order of the evidence.
        many_given: how many of them are given.
    """

    def __init__(
        self,
        compiled: Compiled,
        *,
        given: Collection[str] = (),
        limit: int | None = None,
        target: float = DEFAULT_TARGET,
    ) -> None:
        self.compiled = compiled
        ids = [reading.id for reading in compiled.evidence.readings]
        first = [name for name in ids if name in given]
        self.order = (*first, *(name for name in ids if name not in given))
        self.many_given = len(first)
        self._limit = limit
        self._target = target
        self._answers: dict[frozenset[str], Answer] = {}
        self._log_p: dict[frozenset[str], float] = {}

    @property
    def given(self) -> tuple[str, ...]:
        """Ids of the readings given."""
        return self.order[: self.many_given]

    @property
    def asked(self) -> tuple[str, ...]:
        """Ids of the readings that are not given."""
        return self.order[self.many_given :]

    def know(self, posterior: Posterior) -> None:
        """Take over the answer to all readings from a posterior that is there already."""
        self._keep(frozenset(self.order), posterior)

    def log_p(self, readings: Iterable[str]) -> float:
        """Return the natural log of P(these readings)."""
        key = frozenset(readings)
        if key not in self._log_p:
            self._log_p[key] = self._weigh(key, to_the_end=False).log_p
        return self._log_p[key]

    def answer(self, readings: Iterable[str]) -> Answer:
        """Return what these readings say."""
        key = frozenset(readings)
        if key not in self._answers:
            self._keep(key, self._weigh(key, to_the_end=True))
        return self._answers[key]

    def after(self, many: int) -> Answer:
        """Return what the first ``many`` readings of ``order`` say; 0 = before any."""
        return self.answer(self.order[:many])

    def without(self, *readings: str) -> Answer:
        """Return what all readings but these say."""
        return self.answer(name for name in self.order if name not in readings)

    def _weigh(self, readings: frozenset[str], *, to_the_end: bool) -> Posterior:
        compiled = merge_moves(self.compiled, readings, to_the_end=to_the_end)
        # whatever holds these readings and more is no likelier than they are
        known = [log_p for more, log_p in self._log_p.items() if readings <= more and log_p > -np.inf]
        log_p_least = max(known, default=np.inf)
        return weigh_readings(compiled, readings, limit=self._limit, target=self._target, log_p_least=log_p_least)

    def _keep(self, key: frozenset[str], posterior: Posterior) -> None:
        # where nothing was found, nothing can be said of any fault
        nothing = np.full(len(self.compiled.evidence.roots), np.nan)
        p_faults = posterior.p_faults if np.isfinite(posterior.log_p) else nothing
        self._answers[key] = Answer(posterior.log_p, p_faults)
        self._log_p[key] = posterior.log_p
