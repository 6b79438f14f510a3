"""Truths that are not the book: its numbers moved within their spreads, some of its causes missing."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from functools import cache
from math import exp, log
from types import MappingProxyType
from typing import TypeVar

from numpy.random import Generator

from halfsplit.model.book import Book, Teller
from halfsplit.model.faults import Strength

_Noun = TypeVar("_Noun")

MOVED = ("faults", "openings", "repairs", "forced", "inspections")
"""The chapters of a book whose numbers are moved."""


def move_book(book: Book, rng: Generator) -> Book:
    """Return a book with every number moved on the scale of log odds, by a normal draw with its own spread.

    A strength word that many numbers share moves as one draw; a number written as such has a draw of its own.

    Args:
        book: the book.
        rng: the source of chance.
    """
    return _Mover(rng).book(book)


def forget_causes(book: Book, share: float, rng: Generator) -> Book:
    """Return a book without some of its causes; what is unlisted stays, and so does what is normal.

    Args:
        book: the book.
        share: the share of the causes that are missing.
        rng: the source of chance.
    """
    known = [fault for fault in book.faults.values() if not (fault.is_unlisted or fault.is_normal)]
    causes = sorted({fault.cause or fault.id for fault in known})
    gone = set(rng.choice(causes, size=round(share * len(causes)), replace=False).tolist())
    lost = {fault.id for fault in known if (fault.cause or fault.id) in gone}
    return replace(book, faults=MappingProxyType({name: f for name, f in book.faults.items() if name not in lost}))


def tell_with_slips(book: Book, slip: float) -> Book:
    """Return a book whose owners are all alike: each statement is wrong with this chance, events too."""
    events = {event.id: replace(event, p_true=1.0 - slip) for event in book.events.values()}
    return replace(book, tellers=(Teller("drawn", 1.0, slip),), events=MappingProxyType(events))


class _Mover:
    """Moves numbers; what has none in it stays the same object."""

    def __init__(self, rng: Generator) -> None:
        self._rng = rng
        self._by_word: dict[str, float] = {}

    def book(self, book: Book) -> Book:
        return replace(book, **{name: self._moved(getattr(book, name)) for name in MOVED})

    def _moved(self, noun: _Noun) -> _Noun:
        found: object = noun
        if isinstance(noun, Strength):
            found = self._strength(noun)
        elif isinstance(noun, Mapping):
            found = MappingProxyType({name: self._moved(each) for name, each in noun.items()})
        elif isinstance(noun, tuple):
            found = tuple(self._moved(each) for each in noun)
        elif is_dataclass(noun) and not isinstance(noun, type):
            found = replace(noun, **{name: self._moved(getattr(noun, name)) for name in _names(type(noun))})
        return found  # type: ignore[return-value]  # the same kind of noun

    def _strength(self, strength: Strength) -> Strength:
        if not strength.spread or not 0.0 < strength.p < 1.0:
            return strength
        own = self._rng.normal()
        draw = self._by_word.setdefault(strength.word, own) if strength.word else own
        odds = log(strength.p / (1.0 - strength.p)) + strength.spread * draw
        return replace(strength, p=1.0 / (1.0 + exp(-odds)))


@cache
def _names(noun: type) -> tuple[str, ...]:
    return tuple(each.name for each in fields(noun) if each.init)
