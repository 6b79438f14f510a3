"""Which faults are hard to tell apart, and which reading tells them best.

Every check of the book is done once to a machine with one pattern of one fault and nothing else wrong.  The square
roots of the chances of all joint results are a vector of length 1; two patterns are the harder to tell apart the
smaller the angle between their vectors.  Its cosine is Bhattacharyya's coefficient, the sum of sqrt(p q) over the
results (A. Bhattacharyya, On a measure of divergence between two statistical populations, 1943), and as separate
readings of one pattern are independent it is the product of the coefficients of the readings.  A fault is the sum of
its patterns' vectors, each times the root of its share: 1 is the overlap of faults that nothing tells apart, 0 that
of faults which have no result in common.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from halfsplit.job.alone import ENDING, YES, Showing, Shown
from halfsplit.job.asked import RUN
from halfsplit.job.openings import minutes_of
from halfsplit.job.pictures import STAGE_WORDS, is_picture, split_picture
from halfsplit.model.arrays import Floats
from halfsplit.model.book import Book

P_MISREAD = 0.005
"""How often a result is told that was not there: misheard, mistyped, the wrong machine (estimate)."""

ALIKE = 1.0 - 1e-9
"""Faults that overlap by so much are told apart by nothing but rounding."""


LIKE_SOUND = 0.5
"""What overlaps with a sound machine by so much shows too little to be taken for anything: nobody's neighbour."""


@dataclass(frozen=True)
class Telling:
    """One result of one reading that tells a fault from another one.

    Args:
        check: the check.
        line: the result in words.
        p: the chance of it with the one fault alone.
        p_other: the chance of it with the other fault alone.
    """

    check: str
    line: str
    p: float
    p_other: float


class Apart:
    """How far the faults of a book are told apart by its checks.

    Args:
        book: the fault book.
        shown: what its checks show.

    Attributes:
        faults: the faults, in the order of ``overlap``.
        overlap: shape (faults, faults), each in [0, 1].
        with_sound: shape (faults,), the overlap with a machine that has nothing wrong with it.
    """

    def __init__(self, book: Book, shown: Shown) -> None:
        self._book = book
        self._showings = _once_each(shown.showings, book)
        self.faults = tuple(dict.fromkeys(alone.fault for alone in shown.alone))
        self._index = {fault: number for number, fault in enumerate(self.faults)}
        self._share = np.array([alone.share for alone in shown.alone])
        self._fault = np.array([self._index[alone.fault] for alone in shown.alone], dtype=np.int64)
        overlaps = self._overlaps()
        self.overlap, self.with_sound = overlaps[:-1, :-1], overlaps[:-1, -1]

    def _overlaps(self) -> Floats:
        """Return how the faults, and a sound machine as the last of them, overlap."""
        K = len(self._share) + 1
        log_overlap = np.zeros((K, K))
        for showing in self._showings:
            root = np.sqrt((1.0 - P_MISREAD) * showing.p + P_MISREAD / len(showing.results))
            log_overlap += np.log(np.minimum(1.0, root @ root.T))[np.ix_(showing.row, showing.row)]
        of = np.append(self._fault, len(self.faults))
        member = np.equal.outer(np.arange(len(self.faults) + 1), of) * np.sqrt(np.append(self._share, 1.0))
        products: Floats = member @ np.exp(log_overlap) @ member.T
        length = np.sqrt(np.diag(products))
        return np.asarray(products / np.outer(length, length))

    def neighbour(self, fault: str, *, beside: Sequence[str] = ()) -> str:
        """Return the fault that is hardest to tell from one, or "" where there is none.

        Args:
            fault: the fault.
            beside: faults that do not count.  What stands for all that the book does not know never does, nor does
                a fault of machines of another kind, nor what shows too little.
        """
        overlap = dict(zip(self.faults, self.overlap[self._index[fault]].tolist(), strict=True))
        others = [other for other in self.faults if other not in (fault, *beside) and self._is_taken_for(fault, other)]
        others = [other for other in others if self.with_sound[self._index[other]] < LIKE_SOUND]
        return max(others, key=lambda other: (overlap[other], other), default="")

    def alike(self) -> tuple[tuple[str, str], ...]:
        """Return the pairs of faults that may be in one machine and that no check tells apart, in their order."""
        first, second = np.nonzero(np.triu(self.overlap >= ALIKE, k=1))
        pairs = [(self.faults[i], self.faults[j]) for i, j in zip(first, second, strict=True)]
        return tuple(pair for pair in pairs if self._is_taken_for(*pair) and self._is_taken_for(*reversed(pair)))

    def best_telling(self, fault: str, other: str) -> Telling | None:
        """Return the result that tells a fault best from another one, or None where nothing does.

        Returns:
            Of all results, told feature by feature, the one with the largest p x log(p / p_other), which is what
            it moves on average when the fault is there; of equal ones that of the quicker check.
        """
        best: Telling | None = None
        most = 0.0
        for showing in self._showings:
            p, p_other = (self._of_fault(showing, each) for each in (fault, other))
            if np.abs(p - p_other).max() < P_MISREAD:
                continue
            for number, feature in enumerate(showing.features):
                for value in dict.fromkeys(result[number] for result in showing.results):
                    has = [result[number] == value for result in showing.results]
                    one, another = float(p[has].sum()), float(p_other[has].sum())
                    gain = one * log((one + P_MISREAD) / (another + P_MISREAD))
                    if gain > most + ROUNDING:
                        most, best = gain, Telling(showing.check, self._line(feature, value), one, another)
        return best

    def _of_fault(self, showing: Showing, fault: str) -> Floats:
        """Return the chances of the results of a reading with one fault alone; shape (results,)."""
        of = self._fault == self._index[fault]
        return np.asarray(self._share[of] @ showing.p[showing.row[:-1][of]] / self._share[of].sum())

    def _line(self, feature: str, value: str) -> str:
        """Return a result in words."""
        book = self._book
        if feature == ENDING:
            return value
        if feature in book.inspections:
            return f"{book.inspections[feature].title}: {value.replace('_', ' ')}"
        if feature in book.measurements:
            return f"{book.measurements[feature].title}: {value}"
        if is_picture(feature):
            output, stage = split_picture(feature)
            title = f"picture on the {book.outputs[output].title} {STAGE_WORDS[stage]}"
            return title if value == YES else f"not: {title}"
        return book.signs[feature].said(was=value == YES)

    def _is_taken_for(self, fault: str, other: str) -> bool:
        """Return whether a fault may be taken for another one at all: a listed one, in machines of one kind."""
        first, second = self._book.faults[fault], self._book.faults[other]
        is_in_one = all(
            not set(values).isdisjoint(second.only.get(fact, values)) for fact, values in first.only.items()
        )
        return is_in_one and not second.is_unlisted


def _once_each(showings: Iterable[Showing], book: Book) -> tuple[Showing, ...]:
    """Return the readings without those that are asked for a second time, those of the quicker checks first."""
    minutes = {check.id: minutes_of(check, book) for check in book.checks.values()}
    found: dict[tuple[object, ...], Showing] = {}
    for showing in sorted(showings, key=lambda showing: minutes[showing.check]):
        of_run = (showing.results, showing.p.tobytes()) if showing.what == RUN else ()
        found.setdefault((showing.what, showing.features, showing.row.tobytes(), *of_run), showing)
    return tuple(found.values())


ROUNDING = 1e-9
"""A gain that is larger by this only is the same."""
