"""One entry more from one state of the bench, walked for every check and repair; kept as long as that state is met.

What an entry does hangs on the state of the bench alone: what is together and was before, what is open, what was worked
at.  A look, or a run of a closed machine, mostly leaves it as it was.
"""

from collections.abc import Callable, Collection, Hashable, Mapping

from halfsplit.job.asked import entries_of, numbers_at, place_entries
from halfsplit.job.asks import Asks
from halfsplit.job.changes import Moment
from halfsplit.job.mended import Mended
from halfsplit.job.moments import Walker
from halfsplit.job.units import OWNER
from halfsplit.model.bench import Check, Repair
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Inspect, Measure, RepairDone, Run
from halfsplit.model.machine import Setup


class Walks:
    """What can come next from one state of the bench.

    Args:
        walker: the state; it must not be walked on.
        book: the fault book.
        facts: what is known of the machine.
        asked: the entries of checks on machines of which this is known, as far as they were asked for.

    Attributes:
        again: the moment of starting it once more as it stands.
        asks: what its checks ask, by their steps and the roots of the job.
        mended: what its repairs leave, by their moments and the roots of the job.
    """

    def __init__(
        self, walker: Walker, book: Book, facts: Mapping[str, object], asked: dict[str, tuple[Entry, ...]]
    ) -> None:
        self._walker = walker
        self._book = book
        self._facts = facts
        self._asked = asked
        self._standing = walker.standing[OWNER]
        self._entries: dict[str, tuple[Entry, ...]] = {}
        self._steps: dict[tuple[str, frozenset[str]], tuple[Moment, ...]] = {}
        self._repaired: dict[str, Mapping[str, tuple[Moment, Setup]]] = {}
        self.again = walker.aside().step(0, Run("again"))
        self.asks: dict[Hashable, Asks] = {}
        self.mended: dict[Hashable, Mended] = {}

    def check(self, check: Check, is_known: Callable[[Inspect | Measure], bool]) -> tuple[Moment, ...]:
        """Return the moments of a check's entries; none where it cannot be done on this machine as it stands.

        Args:
            check: the check.
            is_known: whether a look or a number is known already; it is then left out.
        """
        if check.id not in self._entries:
            if check.id not in self._asked:
                self._asked[check.id] = entries_of(check, self._book, self._facts)
            self._entries[check.id] = place_entries(self._asked[check.id], self._standing, self._book)
        entries = self._entries[check.id]
        known = frozenset(e.id for e in entries if isinstance(e, Inspect | Measure) and is_known(e))
        if (check.id, known) not in self._steps:
            self._steps[check.id, known] = self._walk(entries, known)
        return self._steps[check.id, known]

    def _walk(self, entries: Collection[Entry], known: Collection[str]) -> tuple[Moment, ...]:
        walker = self._walker.aside()
        steps = [walker.step(number, each) for number, each in enumerate(entries) if each.id not in known]
        return () if walker.mistakes else tuple(steps)

    def repair(self, repair: Repair) -> Mapping[str, tuple[Moment, Setup]]:
        """Return, for each place at which a repair can be done, its moment and the setup that it leaves."""
        if repair.id not in self._repaired:
            found = {}
            for number in numbers_at(repair.at, self._standing, self._book):
                walker = self._walker.aside()
                moment = walker.step(0, RepairDone("repair", do=repair.id, to=repair.at + number))
                if not walker.mistakes:
                    found[repair.at + number] = (moment, walker.standing[OWNER])
            self._repaired[repair.id] = found
        return self._repaired[repair.id]
