"""Reading one map of a job file field by field, with every mistake kept and the word that was meant."""

import difflib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

from halfsplit.errors import Mistake
from halfsplit.jobfile.vocabulary import Words
from halfsplit.model.book import Book
from halfsplit.yamltext import Node, seconds, yes_or_no

_MOST_LISTED = 12  # more words than this are not all printed in one sentence

_LONGEST_SECONDS = 1e8


@dataclass(frozen=True)
class Reader:
    """What every part of the reading needs: the words of the book, and the list that mistakes go to."""

    book: Book
    mistakes: list[Mistake] = field(default_factory=list)

    def say(self, place: str, code: str, so: str, should: str, do: str) -> None:
        """Keep a mistake; one that is there already is not kept twice."""
        mistake = Mistake(place, code, so, should, do)
        if mistake not in self.mistakes:
            self.mistakes.append(mistake)

    def say_word(self, node: Node, code: str, so: str, allowed: Words | Collection[str]) -> None:
        """Keep a mistake about a word that is none of those allowed, with the likeliest of them."""
        near = closest(node.text, allowed)
        do = f"Did you mean '{near[0]}'? Write it so" if near else "Write one of them, or leave it out"
        self.say(node.place, code, so, listed(allowed, near), do)

    def form(self, node: Node, allowed: Words | Collection[str], what: str, slots: Collection[str] = ()) -> "Form":
        """Return the fields of a map; what is no map, and keys that are not allowed, are mistakes.

        Args:
            node: should be a map.
            allowed: the keys that may stand in it.
            what: what the map is, for the sentence: "a run".
            slots: keys of this map that are allowed too, because they are slots.
        """
        if not node.is_map:
            so = f"{what} is {_shape(node)}"
            self.say(node.place, "HS113", so, f"{what} is a map of fields", "Write {field: value, ...}")
        entries = node.entries()
        for key, _ in entries.values():
            if key.text not in allowed and key.text not in slots:
                self.say_word(key, "HS111", f"'{key.text}' is no field of {what}", allowed)
        filled = {name: value for name, (_, value) in entries.items() if not is_nothing(value)}
        fields = {name: value for name, value in filled.items() if name in allowed or name in slots}
        return Form(self, node.place, what, fields, node.is_map)

    def word(self, node: Node, allowed: Words | Collection[str], what: str) -> str:
        """Return a word out of those allowed, or "" with a mistake."""
        if not node.is_scalar:
            self.say(node.place, "HS113", f"{what} is {_shape(node)}", "it is one word", "Write one word")
        elif node.text in allowed:
            return node.text
        else:
            self.say_word(node, "HS112", f"{what} is '{node.text}'", allowed)
        return ""

    def number(self, node: Node, limits: tuple[float, float], what: str) -> float:
        """Return a number within its limits, or 0.0 with a mistake."""
        value = node.value
        low, high = limits
        if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high:
            return float(value)
        so = f"{what} is {_shape(node)}"
        self.say(
            node.place,
            "HS114",
            so,
            f"it is a number from {low:,.12g} to {high:,.12g}",
            "Write a number without a unit",
        )
        return 0.0

    def whole(self, node: Node, limits: tuple[int, int], what: str) -> int:
        """Return a whole number within its limits, or the lower limit with a mistake."""
        value = node.value
        low, high = limits
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        should = f"it is a whole number from {low} to {high}"
        self.say(node.place, "HS114", f"{what} is {_shape(node)}", should, "Write a whole number")
        return low

    def yes_no(self, node: Node, what: str) -> bool:
        """Return what a yes or a no says, or False with a mistake."""
        said = yes_or_no(node)
        if said is None:
            self.say(node.place, "HS115", f"{what} is {_shape(node)}", "it is yes or no", "Write yes or no")
        return bool(said)

    def seconds(self, node: Node, what: str) -> float:
        """Return a length of time in seconds, or 0.0 with a mistake."""
        length = seconds(node)
        if length is None or length > _LONGEST_SECONDS:
            should = "it is a length of time with its unit: s, min, h, days or weeks, at most 3 years"
            self.say(node.place, "HS116", f"{what} is {_shape(node)}", should, "Write it as '30 s' or '6 min'")
            return 0.0
        return length

    def text(self, node: Node, what: str) -> str:
        """Return any text, on one line or several, or "" with a mistake."""
        if not node.is_scalar or not node.text.strip():
            self.say(node.place, "HS113", f"{what} is {_shape(node)}", "it is text", "Write some text")
            return ""
        return node.text.strip()


@dataclass(frozen=True)
class Form:
    """The fields of one map that are allowed and filled in.

    Args:
        place: where the map starts.
        what: what the map is, for sentences.
        fields: name -> node.
        is_map: whether it is a map at all.
    """

    reader: Reader
    place: str
    what: str
    fields: Mapping[str, Node]
    is_map: bool = True

    def has(self, name: str) -> bool:
        """Return whether a field is filled in."""
        return name in self.fields

    def without(self, names: Iterable[str]) -> "Form":
        """Return the same form without some of its fields."""
        left_out = set(names)
        return replace(self, fields={name: node for name, node in self.fields.items() if name not in left_out})

    def word(self, name: str, allowed: Words | Collection[str], default: str = "") -> str:
        """Return a field's word; see ``Reader.word``."""
        return self.reader.word(self.fields[name], allowed, name) if self.has(name) else default

    def yes_no(self, name: str) -> bool | None:
        """Return a field's yes or no, None when it is left out."""
        return self.reader.yes_no(self.fields[name], name) if self.has(name) else None

    def text(self, name: str) -> str:
        """Return a field's text, "" when it is left out."""
        return self.reader.text(self.fields[name], name) if self.has(name) else ""

    def need(self, name: str, do: str) -> bool:
        """Return whether a field is there; that it is not is a mistake."""
        if self.is_map and not self.has(name):
            self.reader.say(self.place, "HS117", f"{self.what} has no '{name}'", "it needs one", do)
        return self.has(name)


def is_nothing(node: Node) -> bool:
    """Return whether a value was left empty (or is ``~`` or ``null``), which is to leave its field out."""
    return node.value is None


def is_empty(node: Node) -> bool:
    """Return whether a value is an empty list or map."""
    return not node.is_scalar and not node.items() and not node.entries()


def closest(word: str, allowed: Words | Collection[str], n: int = 3) -> list[str]:
    """Return the words allowed that are likest to one that is not, by their spelling or their title."""
    spelt: dict[str, str] = {}
    if isinstance(allowed, Mapping):
        spelt |= {_plain(title): name for name, title in allowed.items() if title}
    spelt |= {_plain(name): name for name in allowed}
    plain = _plain(word)
    near = [plain] if plain in spelt else difflib.get_close_matches(plain, spelt, n=n)
    near = near or [name for name in spelt if len(plain) > 2 and plain in name.split("_")][:n]
    return list(dict.fromkeys(spelt[name] for name in near))


def listed(allowed: Words | Collection[str], near: Collection[str] = ()) -> str:
    """Return the half sentence that says what is allowed."""
    words = list(allowed)
    if not words:
        return "nothing is allowed here"
    if len(words) <= _MOST_LISTED:
        return f"allowed here: {', '.join(words)}"
    some = list(dict.fromkeys([*near, *words]))[:_MOST_LISTED]
    return f"allowed here: {', '.join(some)} and {len(words) - len(some)} more (see `halfsplit vocabulary`)"


def _plain(word: str) -> str:
    return "_".join(word.lower().replace("-", " ").replace("_", " ").split())


def _shape(node: Node) -> str:
    if node.is_map:
        return "a map"
    if node.is_list:
        return "a list"
    return f"'{node.text}'" if node.text.strip() else "empty"
