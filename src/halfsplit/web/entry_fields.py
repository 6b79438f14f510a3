"""Fields of a form in which an entry is corrected: what stands there in words, and what another answer makes of it."""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, Protocol, TypeVar

from halfsplit.errors import Mistake, WebError
from halfsplit.job.amounts import with_symbol
from halfsplit.web.texts import say
from halfsplit.yamltext import Node, seconds

E = TypeVar("E")
P = TypeVar("P")

MOST_DIGITS = 9
"""A whole number has so many at most."""

TILES, SELECT, TEXT, WORDS = "tiles", "select", "text", "words"
"""Shapes of a field: one of a few tiles, one of a list, a short text, and somebody's own words on several lines."""


class Titled(Protocol):
    """Anything of a book with a title."""

    @property
    def title(self) -> str:
        """As the trade says it."""


@dataclass(frozen=True)
class Option:
    """One answer of a field: what is sent, what stands on it, and the heading that it stands under, or ""."""

    value: str
    title: str
    group: str = ""


@dataclass(frozen=True)
class Asked:
    """One field as a page shows it.

    Args:
        name: as it is sent.
        title: what it asks for.
        value: what stands in it, as it is sent.
        shape: one of the shapes above.
        options: the answers, where they are given.
        unit: what stands behind it, or "".
        note: what else is to be known, or "".
    """

    name: str
    title: str
    value: str
    shape: str
    options: tuple[Option, ...]
    unit: str
    note: str

    @property
    def sections(self) -> tuple[tuple[str, tuple[Option, ...]], ...]:
        """The answers by the headings that they stand under, in their order."""
        found: dict[str, tuple[Option, ...]] = {}
        for each in self.options:
            found[each.group] = (*found.get(each.group, ()), each)
        return tuple(found.items())

    @property
    def said(self) -> str:
        """What it asks for with what stands in it, in a few words; "" where that is empty or its first answer."""
        if not self.options:
            return f"{self.title}: {with_symbol(self.value, self.unit)}" if self.value else ""
        answer = next((each.title for each in self.options[1:] if each.value == self.value), "")
        return f"{self.title}: {answer}" if answer else ""


@dataclass(frozen=True)
class Chapter:
    """Fields as a page shows them, under one heading; what is not open is folded away."""

    title: str
    fields: tuple[Asked, ...]
    is_open: bool

    @property
    def said(self) -> str:
        """What stands in its fields, in a few words: it is read where they are folded away."""
        return " · ".join(filter(None, (each.said for each in self.fields)))


@dataclass(frozen=True)
class Field(Generic[E]):
    """One field of a form: what it asks for, as ``Asked`` has it, and what another answer makes of an entry.

    Args:
        put: an entry and another answer -> the entry as it should have been.
    """

    name: str
    title: str
    value: str
    put: Callable[[E, str], E] = field(repr=False)
    shape: str = SELECT
    options: tuple[Option, ...] = ()
    unit: str = ""
    note: str = ""

    def asked(self, said: str | None) -> Asked:
        """Return it as a page shows it, with what was sent for it; None = as it stands."""
        value = self.value if said is None else said
        return Asked(self.name, self.title, value, self.shape, self.options, self.unit, self.note)


@dataclass(frozen=True)
class Group:
    """Fields of a form under one heading; what is not open is folded away."""

    title: str
    fields: tuple[Field[Any], ...]
    is_open: bool = True


def within(fields: Iterable[Field[P]], part: Callable[[E], P], put: Callable[[E, P], E]) -> Iterable[Field[E]]:
    """Yield the fields of a part of an entry as fields of the entry.

    Args:
        fields: of the part.
        part: an entry -> its part.
        put: an entry and another part -> the entry with that part.
    """
    for each in fields:
        yield Field(
            each.name, each.title, each.value, _lift(each, part, put), each.shape, each.options, each.unit, each.note
        )


def _lift(each: Field[P], part: Callable[[E], P], put: Callable[[E, P], E]) -> Callable[[E, str], E]:
    return lambda entry, said: put(entry, each.put(part(entry), said))


def corrected(entry: E, groups: Iterable[Group], sent: Mapping[str, tuple[str, ...]]) -> E:
    """Return an entry with each field put in that was sent otherwise than it stood.

    Raises:
        WebError: HS805, an answer cannot be read, or is none of those that the field has.
    """
    for group in groups:
        for each in group.fields:
            said = answer_of(each.name, sent)
            if said is not None and said != " ".join(each.value.split()):
                if each.options and said not in {" ".join(option.value.split()) for option in each.options}:
                    should, do = say("field.answer_should"), say("field.answer_do")
                    raise WebError([_unread(each.title, said, should, do)])
                entry = each.put(entry, said)
    return entry


def chapters_of(groups: Iterable[Group], sent: Mapping[str, tuple[str, ...]]) -> tuple[Chapter, ...]:
    """Return a form as a page shows it, with what was sent, so that nothing is lost where it was refused."""
    found = []
    for group in groups:
        asked = tuple(each.asked(answer_of(each.name, sent)) for each in group.fields)
        is_changed = [each.value for each in asked] != [each.value for each in group.fields]
        found.append(Chapter(group.title, asked, group.is_open or is_changed))
    return tuple(found)


def answer_of(name: str, sent: Mapping[str, tuple[str, ...]]) -> str | None:
    """Return what was sent for a field, on one line; None = nothing was."""
    return " ".join(sent[name][-1].split()) if name in sent else None


def choice(
    name: str, value: str, options: tuple[Option, ...], put: Callable[[E, str], E], shape: str = SELECT
) -> Field[E]:
    """Return a field that is answered by one of a few answers; its title is that of its name."""
    return Field(name, say(f"field.{name}"), value, put, shape, options)


def options_of(nouns: Mapping[str, Titled], *, unsaid: str = "", group: str = "") -> tuple[Option, ...]:
    """Return nouns of the book as answers; ``unsaid`` stands on the one that says nothing, "" = there is none."""
    first = (Option("", unsaid),) if unsaid else ()
    return (*first, *(Option(name, noun.title, group) for name, noun in nouns.items()))


def length_text(length: float | None) -> str:
    """Return a length of time in seconds as it is written into a field, exactly; "" for none."""
    if length is None:
        return ""
    return f"{length / 60:g} min" if length and length % 60 == 0 else f"{length:g} s"


def read_length(title: str, said: str) -> float | None:
    """Return a length of time in seconds as somebody wrote it; None for "".

    Raises:
        WebError: HS805 it cannot be read.
    """
    found = seconds(Node("", said, said)) if said else None
    if said and found is None:
        raise WebError([_unread(title, said, say("field.length_should"), say("field.length_do"))])
    return found


def read_number(title: str, said: str, *, least: float | None = None) -> float:
    """Return a number as somebody wrote it, with a point or a comma.

    Raises:
        WebError: HS805 it cannot be read, is not finite, or is below the least.
    """
    number = finite(said)
    if number is None:
        raise WebError([_unread(title, said, say("field.number_should"), say("field.number_do"))])
    if least is not None and number < least:
        raise WebError([_unread(title, said, say("field.least_should", least=f"{least:g}"), say("field.number_do"))])
    return number


def finite(said: str) -> float | None:
    """Return a number as somebody wrote it, with a point or a comma; None = it is none, or is not finite."""
    try:
        number = float(said.replace(",", "."))
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def read_whole(title: str, said: str) -> int:
    """Return a whole number from 1 as somebody wrote it.

    Raises:
        WebError: HS805 it is none, or has more than ``MOST_DIGITS``.
    """
    if not said.isdecimal() or len(said) > MOST_DIGITS or int(said) < 1:
        raise WebError([_unread(title, said, say("field.whole_should", digits=MOST_DIGITS), say("field.number_do"))])
    return int(said)


def _unread(title: str, said: str, should: str, do: str) -> Mistake:
    return Mistake(title, "HS805", say("field.unread", title=title, said=said), should, do)
