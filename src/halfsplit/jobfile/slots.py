"""Slots and what is in them, places at which something is looked at, measured or repaired."""

import re
from collections.abc import Mapping
from typing import Protocol

from halfsplit.jobfile.reading import Reader, closest, is_nothing, listed
from halfsplit.jobfile.vocabulary import HELD, is_many, kinds_by_name, split_number
from halfsplit.model.book import Book
from halfsplit.yamltext import Node, yes_or_no

NOT_THERE = "none"
_NEW = re.compile(r"new(?:\.([a-z_0-9]+?))?(?:\.[1-9][0-9]*)?")


class Placed(Protocol):
    """Anything of the book that is done at one part or joint."""

    @property
    def at(self) -> str:
        """The kind of part or the joint."""


def slot_keys(book: Book, node: Node) -> list[str]:
    """Return the keys of a map that name a slot: a kind of part, or its plural, with or without a number."""
    names = kinds_by_name(book)
    return [key for key in node.entries() if split_number(key)[0] in names]


def read_slot(reader: Reader, node: Node) -> tuple[str, int | None] | None:
    """Return the kind of part and the number of a slot, or None with a mistake.

    Args:
        node: one of ``slot_keys``; a kind of which there may be several without a number is all of them.
    """
    base, number = split_number(node.text)
    kind = reader.book.kinds[kinds_by_name(reader.book)[base]]
    if number is not None and not kind.many:
        so, should = f"'{node.text}' has the number {number}", f"a machine has one {kind.title}"
        reader.say(node.place, "HS131", so, should, f"Write '{kind.id}'")
        return None
    if number == 0:
        so, should = f"'{node.text}' has the number 0", "slots are numbered from 1"
        reader.say(node.place, "HS131", so, should, f"Write '{kind.id}.1' for the first")
        return None
    return kind.id, number


def slot_name(kind: str, number: int | None) -> str:
    """Return a slot as it is written: ``memory.2`` or ``supply``."""
    return kind if number is None else f"{kind}.{number}"


def read_swaps(reader: Reader, node: Node) -> dict[str, str]:
    """Return slot -> what is in it, of a map; keys that are no slots are left alone."""
    swaps: dict[str, str] = {}
    for name in slot_keys(reader.book, node):
        key, value = node.entries()[name]
        slot = read_slot(reader, key)
        if slot is None or is_nothing(value):
            continue
        written = slot_name(*slot)
        if written in swaps:
            so = f"the slot '{written}' stands here twice"
            reader.say(key.place, "HS132", so, "a slot holds one thing", "Delete one of the two")
        swaps[written] = read_unit(reader, slot[0], value)
    return swaps


def read_unit(reader: Reader, kind: str, node: Node) -> str:
    """Return what is in a slot for one kind of part, or "" with a mistake.

    Args:
        kind: the kind of part that the slot is for.
        node: ``out``, ``in``, ``owner``, ``new``, ``shelf.supply_a``, ``owner.memory.2``, ``bench.board``;
            ``no`` and ``none`` are ``out``, ``yes`` is ``in``.
    """
    said = yes_or_no(node)
    if said is not None or node.text == NOT_THERE:
        return "in" if said else "out"
    text = node.text
    if text in HELD:
        return text
    book = reader.book
    fitting = [f"shelf.{part.id}" for part in book.shelf.values() if part.kind == kind]
    where, _, what = text.partition(".")
    of_kind: str | None = None
    new = _NEW.fullmatch(text)
    if where == "shelf" and what in book.shelf:
        of_kind = book.shelf[what].kind
    elif where in book.hosts:
        base, number = split_number(what)
        if base in book.kinds and (number is None or (book.kinds[base].many and number > 0)):
            of_kind = base
    elif new and new[1] in book.kinds:
        of_kind = new[1]
    if of_kind is None:
        if node.is_scalar:
            reader.say_word(node, "HS112", f"'{text}' is nothing that a slot can hold", [*HELD, *fitting])
        else:
            do = "Write one word, such as out or owner"
            reader.say(node.place, "HS113", "the slot holds a list or a map", "it holds one thing", do)
        return ""
    if of_kind != kind:
        so = f"'{text}' is a {book.kinds[of_kind].title}"
        should = f"this slot is for a {book.kinds[kind].title}"
        do = f"Write {' or '.join(fitting)}" if fitting else "Write a part of that kind"
        reader.say(node.place, "HS133", so, should, do)
        return ""
    return text


def read_at(reader: Reader, node: Node, nouns: Mapping[str, Placed], what: str) -> tuple[list[str], str]:
    """Return the ids that a place may mean, and its number as it is written (``.2`` or "").

    Args:
        node: an id of ``nouns``, or a part or joint at which some of them are, with a number where there
            may be several: ``memory_seat.2``.
        nouns: inspections, measurements or repairs.
        what: what is done there, for the sentence: "look at".

    Returns:
        The ids, the one that was written first; or an empty list with a mistake.
    """
    base, number = split_number(node.text)
    found = [name for name in (base,) if name in nouns]
    found += [name for name, noun in nouns.items() if noun.at == base and name != base]
    if not found:
        book = reader.book
        if base in book.kinds or base in book.joints:
            so, code = f"there is nothing to {what} at '{base}'", "HS151"
        else:
            so, code = f"'{node.text}' is no place to {what}", "HS112"
        places = {noun.at: "" for noun in nouns.values()}
        near = closest(base, {**dict.fromkeys(places, ""), **dict.fromkeys(nouns, "")})
        do = f"Did you mean '{near[0]}'? Write it so" if near else "Write one of them, or the part or joint it is at"
        reader.say(node.place, code, so, listed(nouns, near), do)
        return [], ""
    if number is not None and (number == 0 or not is_many(nouns[found[0]].at, reader.book)):
        should = "numbers start at 1" if number == 0 else f"there is one '{nouns[found[0]].at}' in a machine"
        reader.say(node.place, "HS131", f"'{node.text}' has the number {number}", should, f"Write '{base}'")
        return [], ""
    return found, "" if number is None else f".{number}"
