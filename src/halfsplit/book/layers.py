"""The files of a book put together: layer over layer, entry by entry, with every place kept."""

from collections.abc import Iterable, Sequence
from types import MappingProxyType
from typing import NamedTuple

from halfsplit.book.words import is_id, write_one_of
from halfsplit.errors import Mistake
from halfsplit.yamltext import Node, yes_or_no

SECTIONS = (
    "strengths",
    "sources",
    "ladder",
    "parts",
    "joints",
    "map",
    "facts",
    "hosts",
    "grades",
    "shelf",
    "outputs",
    "loads",
    "conditions",
    "positions",
    "starters",
    "touches",
    "complaints",
    "stops",
    "tellers",
    "events",
    "signs",
    "tools",
    "inspections",
    "measurements",
    "openings",
    "hazards",
    "checks",
    "repairs",
    "faults",
)
"""The sections that are maps from id to entry."""

SHARED_IDS = (
    ("parts", "joints"),
    ("events", "openings", "repairs"),
    ("signs", "inspections", "measurements", "events", "facts"),
)
"""Sections whose ids are named in one and the same field, so that an id may be in one of them only."""

FILE_FIELDS = ("basis", "spread")
"""What a file may begin with: what its bare numbers rest on."""

Slot = tuple[Node, Node]
"""A key and what stands under it."""

Section = dict[str, Slot]


class Change(NamedTuple):
    """What a layer does to an entry of the layers below it.

    Args:
        place: where it does so.
        kind: "added", "changed" or "retired".
        fields: the fields that it changes; empty for the other two kinds and for entries that are one line.
    """

    place: str
    section: str
    id: str
    kind: str
    fields: tuple[str, ...] = ()


class Pages(NamedTuple):
    """All files of a book as one, not yet understood.

    Args:
        sections: section -> id -> entry.
        forced: the entries of ``forced``.
        files: file -> the top of its tree, for its ``basis`` and ``spread``.
        retired: section -> id -> where it was retired.
        changes: what the later layers did to the first.
    """

    sections: dict[str, Section]
    forced: tuple[Node, ...]
    files: dict[str, Node]
    retired: dict[str, dict[str, str]]
    changes: tuple[Change, ...]


def file_of(place: str) -> str:
    """Return the file of a place."""
    return place.rsplit(":", 2)[0]


def join_layers(layers: Sequence[Iterable[Node]]) -> tuple[Pages, tuple[Mistake, ...]]:
    """Return the files of all layers as one book, and what cannot be put together.

    Args:
        layers: the trees of each layer, lowest layer first.

    Returns:
        The book's pages and the mistakes: HS303, HS304, HS306, HS315, HS316.
    """
    joining = _Joining()
    for number, trees in enumerate(layers):
        joining.lay(trees, is_first=number == 0)
    joining.check_shared_ids()
    pages = Pages(joining.sections, tuple(joining.forced), joining.files, joining.retired, tuple(joining.changes))
    return pages, tuple(joining.mistakes)


class _Joining:
    def __init__(self) -> None:
        self.sections: dict[str, Section] = {name: {} for name in SECTIONS}
        self.forced: list[Node] = []
        self.files: dict[str, Node] = {}
        self.retired: dict[str, dict[str, str]] = {name: {} for name in SECTIONS}
        self.changes: list[Change] = []
        self.mistakes: list[Mistake] = []

    def say(self, place: str, code: str, so: str, should: str, do: str) -> None:
        self.mistakes.append(Mistake(place, code, so, should, do))

    def lay(self, trees: Iterable[Node], *, is_first: bool) -> None:
        """Lay one layer over what is there."""
        layer: dict[str, Section] = {name: {} for name in SECTIONS}
        for tree in trees:
            self.files[file_of(tree.place)] = tree
            if not tree.is_map:
                so, do = "the file is not a map", "Begin with the name of a section, such as 'faults:'"
                self.say(tree.place, "HS304", so, "a file of a book is a map of sections", do)
            for name, (key, node) in tree.entries().items():
                if name == "forced":
                    self.forced += node.items()
                    if not node.is_list and node.value is not None:
                        so, do = "'forced' is not a list", "Write a list of acts"
                        self.say(node.place, "HS304", so, "it is a list of acts", do)
                elif name in layer:
                    self.take_section(layer[name], name, node)
                elif name not in FILE_FIELDS:
                    do = write_one_of(name, (*SECTIONS, "forced", *FILE_FIELDS))
                    so, should = (
                        f"there is no section '{name}'",
                        "a file holds sections, 'basis' and 'spread'",
                    )
                    self.say(key.place, "HS303", so, should, do)
        for name, section in layer.items():
            for entry_id, slot in section.items():
                self.lay_entry(name, entry_id, slot, is_first=is_first)

    def take_section(self, section: Section, name: str, node: Node) -> None:
        if not node.is_map and node.value is not None:
            so, do = f"'{name}' is not a map", "Write 'id: ...' lines"
            self.say(node.place, "HS304", so, "a section is a map by id", do)
        for entry_id, slot in node.entries().items():
            if not is_id(entry_id):
                should = "an id has lower-case letters, digits and underscores, one letter at least"
                self.say(slot[0].place, "HS315", f"'{entry_id}' is no id", should, "Rename it")
            elif entry_id in section:
                self.say_taken(slot[0].place, entry_id, name, section[entry_id][0].place)
            else:
                section[entry_id] = slot

    def say_taken(self, place: str, entry_id: str, name: str, first: str) -> None:
        so = f"the id '{entry_id}' in '{name}' is taken at {first}"
        do = "Join the two or rename one; an id that was ever shipped keeps its meaning"
        self.say(place, "HS306", so, "an id names one thing", do)

    def lay_entry(self, name: str, entry_id: str, slot: Slot, *, is_first: bool) -> None:
        section = self.sections[name]
        below = section.get(entry_id)
        key, node = slot
        fields = dict(node.entries())
        retire = fields.pop("retire", None)
        if retire is not None:
            node = Node(node.place, MappingProxyType(fields))
            if self.is_retired(retire[1]):
                self.retire(name, entry_id, key.place, has_more=bool(fields))
                return
        if below is None:
            section[entry_id] = (key, node)
            if not is_first:
                self.changes.append(Change(key.place, name, entry_id, "added"))
            return
        if node.is_map and below[1].is_map:
            joined = MappingProxyType({**below[1].entries(), **fields})
            section[entry_id] = (below[0], Node(below[1].place, joined))
        else:
            section[entry_id] = (key, node)
        self.changes.append(Change(key.place, name, entry_id, "changed", tuple(fields)))

    def is_retired(self, node: Node) -> bool:
        said = yes_or_no(node)
        if said is None:
            so = "'retire' is neither yes nor no"
            self.say(node.place, "HS304", so, "it is yes or no", "Write 'retire: yes'")
        return said is True

    def retire(self, name: str, entry_id: str, place: str, *, has_more: bool) -> None:
        section = self.sections[name]
        if entry_id not in section:
            so = f"'{entry_id}' in '{name}' is retired, but no layer below has it"
            do = write_one_of(entry_id, section)
            self.say(place, "HS316", so, "only what is there can be retired", do)
        elif has_more:
            so = f"'{entry_id}' is retired and changed at once"
            do = "Leave out the other fields, or 'retire'"
            self.say(place, "HS316", so, "an entry with 'retire: yes' has no other field", do)
        else:
            del section[entry_id]
            self.retired[name][entry_id] = place
            self.changes.append(Change(place, name, entry_id, "retired"))

    def check_shared_ids(self) -> None:
        for names in SHARED_IDS:
            taken: dict[str, str] = {}
            for name in names:
                for entry_id, (key, _) in self.sections[name].items():
                    if entry_id in taken:
                        self.say_taken(key.place, entry_id, name, taken[entry_id])
                    else:
                        taken[entry_id] = key.place
