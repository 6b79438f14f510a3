"""YAML text as a tree in which every key and every value knows its place.

Nothing is guessed here: a scalar stays the text that was written, and the field that reads it decides
what it must be.  So ``on``, ``off``, ``out``, ``012`` and ``12:30`` never turn into something else.
"""

from typing import NamedTuple

import yaml
from yaml._yaml import CParser

from halfsplit.errors import Mistake

DEEPEST = 24
"""How many levels a file may have, far above what the format asks for."""


class Place(NamedTuple):
    """Where something stands: the file, the line and the column, both counted from 1."""

    file: str
    line: int
    col: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.col}"


class Text(NamedTuple):
    """A scalar as it was written; ``is_plain`` when it had no quotes."""

    place: Place
    text: str
    is_plain: bool


class Items(NamedTuple):
    """A list."""

    place: Place
    nodes: "tuple[Node, ...]"


class Slot(NamedTuple):
    """What stands under one key, with the place of the key."""

    place: Place
    node: "Node"


class Map(NamedTuple):
    """A map from key to slot, in the order of the file."""

    place: Place
    slots: dict[str, Slot]


Node = Text | Items | Map


class _Parser(CParser):
    """The bare composer: it resolves no tags."""

    def resolve(self, kind: object, value: object, implicit: object) -> str:
        return ""

    def descend_resolver(self, parent: object, index: object) -> None:
        return

    def ascend_resolver(self) -> None:
        return


def parse_tree(content: bytes, file: str) -> tuple[Map | None, tuple[Mistake, ...]]:
    """Return the tree of one YAML file, or None when it holds none, and what is wrong with it.

    Args:
        content: the bytes of the file.
        file: how its places name it.

    Returns:
        The tree, whose top is a map, and the mistakes: HS301, HS302, HS304.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        col = error.start - (content.rfind(b"\n", 0, error.start) + 1) + 1
        place = Place(file, line, col)
        return None, (
            _unreadable(
                place, "the bytes here are not UTF-8", "a book is UTF-8 text", "Save the file as UTF-8"
            ),
        )
    try:
        top = _Parser(text).get_single_node()
    except yaml.YAMLError as error:
        return None, (_syntax_mistake(error, text, file),)
    if top is None:
        return None, ()
    walk = _Walk(file)
    node = walk.node(top, 1)
    if isinstance(node, Map):
        return node, tuple(walk.mistakes)
    return None, (
        *walk.mistakes,
        Mistake(
            str(node.place),
            "HS304",
            "the file is not a map",
            "a book file is a map of sections",
            "Begin with the name of a section, such as 'faults:'",
        ),
    )


class _Walk:
    """One walk over the composed nodes of one file."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.mistakes: list[Mistake] = []
        self.seen: set[int] = set()

    def node(self, node: yaml.Node, depth: int) -> Node:
        mark = node.start_mark
        place = Place(self.file, mark.line + 1, mark.column + 1)
        if node.tag:
            self.say(place, f"the tag '{node.tag}' is used", "a book has no YAML tags", "Leave the tag out")
        if id(node) in self.seen:
            self.say(
                place,
                "an alias repeats this",
                "a book has no YAML aliases",
                "Write it out where it is needed",
            )
            return Text(place, "", is_plain=True)
        self.seen.add(id(node))
        if isinstance(node, yaml.ScalarNode):
            return Text(place, node.value, not node.style)
        if depth > DEEPEST:
            self.say(place, f"this is more than {DEEPEST} levels deep", "no field is", "Take out some levels")
            return Text(place, "", is_plain=True)
        if isinstance(node, yaml.SequenceNode):
            return Items(place, tuple([self.node(item, depth + 1) for item in node.value]))
        return self.map(node, place, depth)

    def map(self, node: yaml.Node, place: Place, depth: int) -> Map:
        slots: dict[str, Slot] = {}
        for key_node, value in node.value:
            key = self.node(key_node, depth + 1)
            if not isinstance(key, Text):
                self.say(
                    key.place, "a key is a list or a map", "a key is one word", "Write one word as the key"
                )
                continue
            slot = Slot(key.place, self.node(value, depth + 1))
            if key.text in slots:
                first = slots[key.text].place
                self.mistakes.append(
                    Mistake(
                        str(key.place),
                        "HS302",
                        f"the key '{key.text}' is there twice, first in line {first.line}",
                        "a key may stand once in a map",
                        "Join the two or rename one",
                    )
                )
                continue
            slots[key.text] = slot
        return Map(place, slots)

    def say(self, place: Place, so: str, should: str, do: str) -> None:
        self.mistakes.append(_unreadable(place, so, should, do))


def _unreadable(place: Place, so: str, should: str, do: str) -> Mistake:
    return Mistake(str(place), "HS301", so, should, do)


def _syntax_mistake(error: yaml.YAMLError, text: str, file: str) -> Mistake:
    if isinstance(error, yaml.MarkedYAMLError):
        mark = error.problem_mark or error.context_mark
        place = Place(file, mark.line + 1, mark.column + 1) if mark else Place(file, 1, 1)
        problem = error.problem or "it cannot be read"
    else:
        at = int(getattr(error, "position", 0))
        place = Place(file, text.count("\n", 0, at) + 1, at - (text.rfind("\n", 0, at) + 1) + 1)
        problem = str(getattr(error, "reason", error))
    do = "Correct the indent, the brackets or the quotes here or just above"
    if "mapping values" in problem:
        do = "Put text that has a colon in quotes"
    if "cannot start any token" in problem:
        do = "Use spaces, not tabs, and put text that begins with @, % or ` in quotes"
    return _unreadable(place, f"this is not YAML: {problem}", "a book is written in YAML", do)
