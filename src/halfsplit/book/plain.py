"""Nouns as plain data and back: for the hash of a book and for its cache.

A noun becomes the list of its fields in their order, a map a map, a tuple a list.  The types of the
fields say how to come back, so that nothing but strings, numbers and lists is ever stored.
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

Restore = Callable[[Any], Any]


def to_plain(value: object) -> Any:
    """Return a frozen noun, map, tuple or scalar as data that JSON can hold."""
    if isinstance(value, str | int | float) or value is None:
        return value
    if isinstance(value, tuple):
        return [to_plain(item) for item in value]
    if isinstance(value, Mapping):
        return {key: to_plain(item) for key, item in value.items()}
    return [to_plain(getattr(value, name)) for name in _field_names(type(value))]


def hash_of(book: Book) -> str:
    """Return the SHA-256 of all that a book says, whatever files and order it is written in."""
    plain = to_plain(dataclasses.replace(book, hash=""))
    text = json.dumps(plain, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return sha256(text.encode()).hexdigest()


def to_book(plain: Any) -> Book:
    """Return the book that ``to_plain`` was given.

    Raises:
        ValueError, TypeError, KeyError, AttributeError: it is not what ``to_plain`` makes.
    """
    book = _restore(Book)(plain)
    if not isinstance(book, Book):
        raise TypeError("not a book")
    return book


@functools.cache
def _field_names(noun: type) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(noun))


@functools.cache
def _restore(hint: Any) -> Restore:
    """Return how to get back a value of a type."""
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return _restore_noun(hint)
    origin, parts = typing.get_origin(hint), typing.get_args(hint)
    if origin is tuple:
        return _restore_tuple(parts)
    if origin is not None and issubclass(origin, Mapping) if isinstance(origin, type) else False:
        item = _restore(parts[1])
        return lambda plain: MappingProxyType({key: item(value) for key, value in plain.items()})
    if origin is types.UnionType:
        inner = _restore(next(part for part in parts if part is not type(None)))
        return lambda plain: None if plain is None else inner(plain)
    if hint is float:
        return float
    return _as_is


def _as_is(plain: Any) -> Any:
    return plain


def _restore_tuple(parts: tuple[Any, ...]) -> Restore:
    item = _restore(parts[0])
    if item is _as_is:
        return tuple
    return lambda plain: tuple([item(value) for value in plain])


def _restore_noun(noun: type) -> Restore:
    names = _field_names(noun)
    hints = typing.get_type_hints(noun)
    restores = [_restore(hints[name]) for name in names]
    new = object.__new__

    def restore(plain: Any) -> Any:
        made = new(noun)
        for name, back, value in zip(names, restores, plain, strict=True):
            made.__dict__[name] = back(value)
        return made

    if noun is not Strength:
        return restore
    kept: dict[tuple[Any, ...], Any] = {}

    def restore_kept(plain: Any) -> Any:
        key = tuple(plain)
        if key not in kept:
            kept[key] = restore(plain)
        return kept[key]

    return restore_kept
