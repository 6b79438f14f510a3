"""Nouns as plain data and back: for the hash of a book and for its cache.

A noun becomes the list of its fields in their order, a map a map, a tuple a list.  The types of the
fields say how to come back, so that nothing but text, numbers, lists and maps is ever stored.
"""

import dataclasses
import functools
import json
import types
import typing
from collections.abc import Callable, Mapping
from hashlib import sha256
from types import MappingProxyType
from typing import Any

from halfsplit.model.book import Book
from halfsplit.model.faults import Strength

_SCALARS = frozenset({str, int, float, bool, types.NoneType})

Restore = Callable[[Any], Any]
"""From plain data to a value."""


def to_plain(value: object) -> Any:
    """Return a frozen noun, map, tuple or scalar as data that JSON can hold."""
    noun: Any = type(value)
    if noun in _SCALARS:
        return value
    if isinstance(value, tuple):
        return [to_plain(item) for item in value]
    if isinstance(value, MappingProxyType):
        return {key: to_plain(item) for key, item in value.items()}
    return [to_plain(getattr(value, name)) for name in _field_names(noun)]


def hash_of(book: Book) -> str:
    """Return the SHA-256 of all that a book says, whatever files and order of ids it is written in."""
    plain = to_plain(dataclasses.replace(book, hash=""))
    text = json.dumps(plain, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return sha256(text.encode()).hexdigest()


def to_book(plain: Any) -> Book:
    """Return the book that ``to_plain`` was given.

    Raises:
        AttributeError, TypeError, ValueError: it is not what ``to_plain`` makes.
    """
    book = _Restorer().of(Book)(plain)
    if not isinstance(book, Book):
        raise TypeError("not a book")
    return book


@functools.cache
def _field_names(noun: Any) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(noun))


class _Restorer:
    """Finds out for each type, once, how its values come back."""

    def __init__(self) -> None:
        self.known: dict[Any, Restore] = {}

    def of(self, hint: Any) -> Restore:
        if hint not in self.known:
            self.known[hint] = self.find(hint)
        return self.known[hint]

    def find(self, hint: Any) -> Restore:
        origin, parts = typing.get_origin(hint), typing.get_args(hint)
        if dataclasses.is_dataclass(hint):
            return self.noun(hint)
        if origin is Mapping:
            item = self.of(parts[1])
            return lambda plain: MappingProxyType({key: item(value) for key, value in plain.items()})
        if origin is tuple:
            item = self.of(parts[0])
            return tuple if item is _as_is else lambda plain: tuple([item(value) for value in plain])
        if origin is types.UnionType:
            item = self.of(next(part for part in parts if part is not types.NoneType))
            return lambda plain: None if plain is None else item(plain)
        return _as_is

    def noun(self, noun: Any) -> Restore:
        names = _field_names(noun)
        hints = typing.get_type_hints(noun)
        restores = [self.of(hints[name]) for name in names]

        def restore(plain: Any) -> Any:
            # The fields go in past the noun's own door: they went through it when the book was compiled.
            made = object.__new__(noun)
            fields = {name: back(value) for name, back, value in zip(names, restores, plain, strict=True)}
            made.__dict__.update(fields)
            return made

        return self.once(restore) if noun is Strength else restore

    def once(self, restore: Restore) -> Restore:
        """Return the same with one object for equal data: a book has few strengths, in many places."""
        kept: dict[tuple[Any, ...], Any] = {}

        def restore_once(plain: Any) -> Any:
            key = tuple(plain)
            if key not in kept:
                kept[key] = restore(plain)
            return kept[key]

        return restore_once


def _as_is(plain: Any) -> Any:
    return plain
