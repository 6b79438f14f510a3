"""YAML text as a tree in which every word knows its place.

Job files and the fault book are written by people, so a reader must be able to say *where* something
is wrong, and must not be clever about what they wrote.  This module therefore reads YAML's events
itself:

* each ``Node`` has its place as ``file:line:column``, both counted from 1;
* plain words are resolved by the core schema of YAML 1.2: ``yes``, ``no``, ``on`` and ``12:30:00`` stay
  words, ``012`` is the number 12, and ``text`` always has what was written;
* keys are words, never numbers or switches; a key that stands twice in one map is a mistake;
* anchors and aliases may be used; tags, and aliases that would blow the tree up, may not.

>>> tree, mistakes = read_yaml("run: {on: bench, cold: yes, of: 05}", "job.yaml")
>>> run = tree.entries()["run"][1]
>>> [(key, node.text, node.value) for key, (_, node) in run.entries().items()]
[('on', 'bench', 'bench'), ('cold', 'yes', 'yes'), ('of', '05', 5)]
>>> run.entries()["of"][1].place
'job.yaml:1:33'
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import cast

import yaml

from halfsplit.errors import Mistake

MOST_DEPTH = 50
"""Maps and lists inside each other; far above what a person writes, far below what a stack holds."""

MOST_NODES = 1_000_000
"""Nodes of a tree with every alias written out."""

Scalar = str | int | float | bool | None

_LOADER = getattr(yaml, "CBaseLoader", yaml.BaseLoader)  # the same events; the one in C is 10 x faster
NOT_YAML = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_INT = re.compile(r"[-+]?[0-9]{1,40}|0o[0-7]{1,40}|0x[0-9a-fA-F]{1,40}")
_FLOAT = re.compile(
    r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?|[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)"
)
_WORDS: Mapping[str, Scalar] = MappingProxyType(
    {
        **dict.fromkeys(("", "~", "null", "Null", "NULL")),
        **dict.fromkeys(("true", "True", "TRUE"), True),
        **dict.fromkeys(("false", "False", "FALSE"), False),
    }
)
_SECONDS: Mapping[str, float] = MappingProxyType(
    {
        **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1.0),
        **dict.fromkeys(("min", "mins", "minute", "minutes"), 60.0),
        **dict.fromkeys(("h", "hr", "hour", "hours"), 3600.0),
        **dict.fromkeys(("d", "day", "days"), 86_400.0),
        **dict.fromkeys(("week", "weeks"), 604_800.0),
    }
)
_TIME = re.compile(r"([0-9]+(?:\.[0-9]+)?|\.[0-9]+)\s*([a-z]+)")


@dataclass(frozen=True)
class Node:
    """One scalar, list or map of a YAML text.

    Args:
        place: where it starts: ``file:line:column``, counted from 1.
        value: for a scalar its value by the core schema of YAML 1.2; for a list the tuple of its
            nodes; for a map key -> (the key's node, the value's node), in the order of the text.
        text: for a scalar what was written, without quotes; else "".
        is_quoted: whether a scalar was written in quotes or as a block, and so is text for certain.
    """

    place: str
    value: "Scalar | tuple[Node, ...] | Mapping[str, tuple[Node, Node]]"
    text: str = ""
    is_quoted: bool = False

    @property
    def is_map(self) -> bool:
        """Whether this is a map."""
        return isinstance(self.value, Mapping)

    @property
    def is_list(self) -> bool:
        """Whether this is a list."""
        return isinstance(self.value, tuple)

    @property
    def is_scalar(self) -> bool:
        """Whether this is one word, number or text."""
        return not self.is_map and not self.is_list

    def entries(self) -> "Mapping[str, tuple[Node, Node]]":
        """Return key -> (key node, value node); empty for what is no map."""
        return self.value if isinstance(self.value, Mapping) else MappingProxyType({})

    def items(self) -> "tuple[Node, ...]":
        """Return the nodes of a list; empty for what is no list."""
        return self.value if isinstance(self.value, tuple) else ()


def load_yaml(path: Path) -> tuple[Node | None, list[Mistake]]:
    """Return the tree of a YAML file, and its mistakes; see ``read_yaml``.

    Args:
        path: the file, in UTF-8; its last part is the file's name in places.
    """
    try:
        text = path.read_bytes().decode("utf-8")
    except OSError as error:
        return None, [_unreadable(str(path), f"it cannot be read ({error.strerror or error})")]
    except UnicodeDecodeError as error:
        return None, [_unreadable(path.name, f"it is not UTF-8 text (byte {error.start + 1})")]
    return read_yaml(text, path.name)


def read_yaml(text: str, name: str) -> tuple[Node | None, list[Mistake]]:
    """Return the tree of a YAML text, and everything that is wrong with it as YAML.

    Args:
        text: the text, one document.
        name: the file's name, for the places.

    Returns:
        The tree and the mistakes (HS102 to HS104).  The tree is None when the text is empty (no
        mistake) or cannot be read to its end; a key that stands twice keeps its first value.

    Notes:
        Core schema: YAML 1.2.2, 10.3.2.  Linear in the text.
    """
    text = text.removeprefix("\ufeff")
    unprintable = NOT_YAML.search(text)
    if unprintable:
        before = text[: unprintable.start()]
        place = f"{name}:{before.count(chr(10)) + 1}:{unprintable.start() - before.rfind(chr(10))}"
        character = f"the character U+{ord(unprintable[0]):04X}"
        return None, [_syntax(place, f"{character} cannot stand in YAML", "Delete it")]
    builder = _Builder(name)
    try:
        return builder.build(yaml.parse(text, Loader=_LOADER)), builder.mistakes
    except yaml.MarkedYAMLError as error:
        return None, [*builder.mistakes, _from_parser(error, text, name)]


def yes_or_no(node: Node) -> bool | None:
    """Return what a yes or a no says (``yes``, ``no``, ``true``, ``false``, quoted or not), else None."""
    return {"yes": True, "true": True, "no": False, "false": False}.get(node.text.lower())


def seconds(node: Node) -> float | None:
    """Return a length of time in seconds, else None.

    Args:
        node: ``6 min``, ``6min``, ``1.5 h``, ``30 s``, ``2 weeks``; a bare number is no length of time.

    Example:
        >>> tree, _ = read_yaml("[6 min, 6min, 360 s, .1 h, 6]", "job.yaml")
        >>> [seconds(item) for item in tree.items()]
        [360.0, 360.0, 360.0, 360.0, None]
    """
    match = _TIME.fullmatch(node.text.strip().lower())
    if match is None or match[2] not in _SECONDS:
        return None
    return float(match[1]) * _SECONDS[match[2]]


@dataclass
class _Open:
    """A list or map that is not closed yet."""

    place: str
    is_map: bool
    anchor: str | None
    items: list[Node] = field(default_factory=list)
    keys: dict[str, tuple[Node, Node]] = field(default_factory=dict)
    key: Node | None = None
    size: int = 1


class _Builder:
    """Makes the tree from the parser's events, with a stack of its own and every mistake kept."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.mistakes: list[Mistake] = []
        self.open: list[_Open] = []
        self.anchors: dict[str, tuple[Node, int]] = {}
        self.root: Node | None = None

    def build(self, events: Iterator[yaml.Event]) -> Node | None:
        documents = 0
        for event in events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    do = "Delete the line with --- or make two files"
                    self.mistakes.append(_syntax(self.place(event), "a second document starts here", do))
                    break
            elif isinstance(event, yaml.MappingStartEvent | yaml.SequenceStartEvent):
                self.refuse_tag(event)
                if len(self.open) >= MOST_DEPTH:
                    so = f"more than {MOST_DEPTH} lists or maps stand inside each other"
                    self.mistakes.append(_syntax(self.place(event), so, "Close some of them"))
                    return None
                is_map = isinstance(event, yaml.MappingStartEvent)
                self.open.append(_Open(self.place(event), is_map, event.anchor))
            elif isinstance(event, yaml.MappingEndEvent | yaml.SequenceEndEvent):
                self.close()
            elif isinstance(event, yaml.AliasEvent):
                self.add_alias(event)
            elif isinstance(event, yaml.ScalarEvent):
                self.refuse_tag(event)
                self.add(_scalar(event, self.place(event)), 1, event.anchor)
        return self.root

    def place(self, event: yaml.Event) -> str:
        mark = cast(yaml.Mark, event.start_mark)  # every event of a parser has one
        return f"{self.name}:{mark.line + 1}:{mark.column + 1}"

    def refuse_tag(self, event: yaml.NodeEvent) -> None:
        tag = getattr(event, "tag", None)
        if tag is not None and tag != "!":
            self.mistakes.append(
                Mistake(
                    self.place(event),
                    "HS104",
                    f"the tag '{tag}' stands here",
                    "what a value is follows from the place where it stands",
                    "Delete the tag",
                )
            )

    def add_alias(self, event: yaml.AliasEvent) -> None:
        name = event.anchor or ""
        node, size = self.anchors.get(name, (Node(self.place(event), None), 1))
        if name not in self.anchors:
            so = f"the alias *{name} has no closed anchor &{name} before it"
            do = f"Write &{name} before the value that is meant, further up"
        elif size + sum(parent.size for parent in self.open) > MOST_NODES:
            so = f"the alias *{name} makes the file longer than {MOST_NODES} values"
            do = "Use fewer aliases inside each other"
            node, size = Node(self.place(event), None), 1
        else:
            self.add(node, size, None)
            return
        self.mistakes.append(Mistake(self.place(event), "HS104", so, "an alias repeats a value from further up", do))
        self.add(node, size, None)

    def add(self, node: Node, size: int, anchor: str | None) -> None:
        if anchor:
            self.anchors[anchor] = (node, size)
        if not self.open:
            self.root = node
            return
        parent = self.open[-1]
        parent.size += size
        if not parent.is_map:
            parent.items.append(node)
        elif parent.key is None:
            if not node.is_scalar or not node.text:
                so, do = "a key is empty, or no word", "Write the value as 'key: value'"
                self.mistakes.append(_syntax(node.place, so, do))
            parent.key = node
        else:
            key = parent.key
            if key.text not in parent.keys:
                parent.keys[key.text] = (key, node)
            elif key.text:
                first = parent.keys[key.text][0].place
                self.mistakes.append(
                    Mistake(
                        key.place,
                        "HS103",
                        f"'{key.text}' stands twice in one map, first at {first}",
                        "each key may stand once",
                        "Delete one of the two, or put them together",
                    )
                )
            parent.key = None

    def close(self) -> None:
        done = self.open.pop()
        value = MappingProxyType(done.keys) if done.is_map else tuple(done.items)
        self.add(Node(done.place, value), done.size, done.anchor)


def _scalar(event: yaml.ScalarEvent, place: str) -> Node:
    is_quoted = event.style is not None and event.style != ""
    text = str(event.value)
    return Node(place, text if is_quoted else resolve(text), text, is_quoted)


def resolve(text: str) -> Scalar:
    """Return the value of a plain word by the core schema of YAML 1.2; other words are themselves."""
    if text in _WORDS:
        return _WORDS[text]
    if _INT.fullmatch(text):
        base = {"0o": 8, "0x": 16}.get(text[:2], 10)
        return int(text[2:] if base != 10 else text, base)
    if _FLOAT.fullmatch(text):
        return float(text.lower().replace(".inf", "inf").replace(".nan", "nan"))
    return text


def _syntax(place: str, so: str, do: str) -> Mistake:
    return Mistake(place, "HS102", so, "the file must be one YAML document", do)


def _unreadable(place: str, so: str) -> Mistake:
    return Mistake(place, "HS101", so, "it must be a text file in UTF-8", "Check its name, or save it as UTF-8")


def _from_parser(error: yaml.MarkedYAMLError, text: str, name: str) -> Mistake:
    mark = error.problem_mark or error.context_mark
    line, column = (mark.line, mark.column) if mark else (0, 0)
    place = f"{name}:{line + 1}:{column + 1}"
    lines = text.splitlines()
    if line < len(lines) and lines[line][column : column + 1] == "\t":
        return _syntax(place, "a tab stands here", "Write spaces: YAML does not indent by tabs")
    problem = error.problem or "it cannot be read"
    where = f" ({error.context})" if error.context else ""
    do = "Look for a missing bracket, quote, comma, or a space after a colon, here or just before"
    return _syntax(place, f"this is not YAML: {problem}{where}", do)
