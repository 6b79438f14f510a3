"""The words under which the book's numbers move together, and the spread of each."""

from types import MappingProxyType

from halfsplit.model.book import Book
from halfsplit.model.faults import Strength


class Words:
    """Collects the words of all numbers used; a number without a strength word gets one of its own.

    Args:
        book: the fault book.
    """

    def __init__(self, book: Book) -> None:
        self._spreads = {word: strength.spread for word, strength in book.strengths.items() if strength.spread > 0}

    def word(self, strength: Strength, own: str) -> str:
        """Return the word of a number, ``own`` where it has none, or "" where it is certain."""
        if strength.spread <= 0 or not 0.0 < strength.p < 1.0:
            return ""
        if strength.word:
            return strength.word
        self._spreads.setdefault(own, strength.spread)
        return own

    def spreads(self) -> MappingProxyType[str, float]:
        """Return word -> standard deviation of the log odds, of every word met so far."""
        return MappingProxyType(dict(self._spreads))
