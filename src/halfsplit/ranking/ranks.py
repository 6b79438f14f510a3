"""What a ranker does, in this process or in another: a program that asks one need not hold what ranks."""

from collections.abc import Mapping
from typing import Protocol

from halfsplit.job.advised import Advice
from halfsplit.job.weighed import Weighed
from halfsplit.model.job import Job
from halfsplit.model.machine import ShelfPart
from halfsplit.model.rates import Rates

Shelf = Mapping[str, ShelfPart]


class Ranks(Protocol):
    """Weighs jobs and advises on them."""

    def weigh(self, job: Job, shelf: Shelf) -> Weighed:
        """Return how far each fault, part and set of faults of a job is to be suspected.

        Args:
            job: the job.
            shelf: the bench's own parts as they are graded now, by id.

        Raises:
            InputError: the job cannot be folded; with all of its mistakes.
        """
        ...

    def advise(self, job: Job, shelf: Shelf, rates: Rates, *, shown: str) -> Advice:
        """Return what to do next; see ``halfsplit.job.advise``.

        Raises:
            InputError: the job cannot be folded, or its readings cannot all be true.
        """
        ...

    def break_off(self) -> None:
        """Leave what is asked now; may be called by any thread, and waits for nothing."""

    def rest(self) -> None:
        """Let what is asked now rest for a moment; may be called by any thread, and waits for nothing."""

    def close(self) -> None:
        """End, whatever is being done."""
