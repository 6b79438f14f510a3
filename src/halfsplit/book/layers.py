"""The files of a book put together: layer over layer, entry by entry, with every place kept."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from halfsplit.book.tree import Items, Map, Node, Place, Slot, Text
from halfsplit.book.words import is_id, parse_yes_no, write_one_of
from halfsplit.errors import Mistake

SECTIONS = (
    "strengths",
    "sources",
    "ladder",
    "parts",
    "joints",
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
    ("openings", "repairs"),
    ("signs", "inspections", "measurements", "events", "facts"),
)
"""Sections whose ids are named in one and the same field, so that an id may be in one of them only."""

FILE_FIELDS = ("basis", "spread")

Section = dict[str, Slot]


class Change(NamedTuple):
    """What a layer does to an entry of the layers below it.

    Args:
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
        forced: the entries of ``forced:``.
        file_slots: file -> its ``basis`` and ``spread``.
        retired: section -> id -> where it was retired.
        changes: what the later layers did to the first.
    """

    sections: dict[str, Section]
    forced: tuple[Node, ...]
    file_slots: dict[str, dict[str, Slot]]
    retired: dict[str, dict[str, Place]]
    changes: tuple[Change, ...]


def join_layers(layers: Sequence[Sequence[Map]]) -> tuple[Pages, tuple[Mistake, ...]]:
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
    pages = Pages(
        joining.sections, tuple(joining.forced), joining.file_slots, joining.retired, tuple(joining.changes)
    )
    return pages, tuple(joining.mistakes)


class _Joining:
    def __init__(self) -> None:
        self.sections: dict[str, Section] = {name: {} for name in SECTIONS}
        self.forced: list[Node] = []
        self.file_slots: dict[str, dict[str, Slot]] = {}
        self.retired: dict[str, dict[str, Place]] = {name: {} for name in SECTIONS}
        self.changes: list[Change] = []
        self.mistakes: list[Mistake] = []

    def say(self, place: Place, code: str, so: str, should: str, do: str) -> None:
        self.mistakes.append(Mistake(str(place), code, so, should, do))

    def lay(self, trees: Iterable[Map], *, is_first: bool) -> None:
        """Lay one layer over what is there."""
        layer: dict[str, Section] = {name: {} for name in SECTIONS}
        for tree in trees:
            self.file_slots[tree.place.file] = {
                key: slot for key, slot in tree.slots.items() if key in FILE_FIELDS
            }
            for key, slot in tree.slots.items():
                if key == "forced":
                    self.take_forced(slot.node)
                elif key in layer:
                    self.take_section(layer[key], key, slot.node)
                elif key not in FILE_FIELDS:
                    self.say(
                        slot.place,
                        "HS303",
                        f"there is no section '{key}'",
                        "a file holds sections, 'basis' and 'spread'",
                        write_one_of(key, (*SECTIONS, "forced", *FILE_FIELDS)),
                    )
        for name, section in layer.items():
            for entry_id, slot in section.items():
                self.lay_entry(name, entry_id, slot, is_first=is_first)

    def take_forced(self, node: Node) -> None:
        if isinstance(node, Items):
            self.forced.extend(node.nodes)
        elif isinstance(node, Map):
            self.forced.append(node)
        elif node.text:
            self.say(node.place, "HS304", "'forced' is text", "it is a list of acts", "Write a list")

    def take_section(self, section: Section, name: str, node: Node) -> None:
        if not isinstance(node, Map):
            if not (isinstance(node, Text) and node.is_plain and not node.text):
                self.say(
                    node.place,
                    "HS304",
                    f"'{name}' is not a map",
                    "a section is a map by id",
                    "Write 'id: ...' lines",
                )
            return
        for entry_id, slot in node.slots.items():
            if not is_id(entry_id):
                self.say(
                    slot.place,
                    "HS315",
                    f"'{entry_id}' is no id",
                    "an id has lower-case letters, digits and underscores, one letter at least",
                    "Rename it",
                )
            elif entry_id in section:
                self.say_twice(slot.place, entry_id, name, section[entry_id].place)
            else:
                section[entry_id] = slot

    def say_twice(self, place: Place, entry_id: str, name: str, first: Place) -> None:
        self.say(
            place,
            "HS306",
            f"the id '{entry_id}' in '{name}' is taken by {first}",
            "an id names one thing",
            "Join the two or rename one; ids that were ever shipped keep their name",
        )

    def lay_entry(self, name: str, entry_id: str, slot: Slot, *, is_first: bool) -> None:
        section = self.sections[name]
        below = section.get(entry_id)
        node = slot.node
        retire = node.slots.get("retire") if isinstance(node, Map) else None
        if isinstance(node, Map) and retire is not None:
            fields = {key: kept for key, kept in node.slots.items() if key != "retire"}
            node = Map(node.place, fields)
            if self.is_retired(retire):
                self.retire(name, entry_id, slot.place, has_more=bool(fields))
                return
        if below is None:
            section[entry_id] = Slot(slot.place, node)
            if not is_first:
                self.changes.append(Change(str(slot.place), name, entry_id, "added"))
            return
        changed: tuple[str, ...] = ()
        if isinstance(node, Map) and isinstance(below.node, Map):
            changed = tuple(node.slots)
            node = Map(below.node.place, below.node.slots | node.slots)
            section[entry_id] = Slot(below.place, node)
        else:
            section[entry_id] = Slot(slot.place, node)
        self.changes.append(Change(str(slot.place), name, entry_id, "changed", changed))

    def is_retired(self, retire: Slot) -> bool:
        said = parse_yes_no(retire.node.text) if isinstance(retire.node, Text) else None
        if said is None:
            self.say(
                retire.node.place,
                "HS304",
                "'retire' is neither yes nor no",
                "it is yes or no",
                "Write 'retire: yes'",
            )
        return said is True

    def retire(self, name: str, entry_id: str, place: Place, *, has_more: bool) -> None:
        section = self.sections[name]
        if entry_id not in section:
            self.say(
                place,
                "HS316",
                f"'{entry_id}' in '{name}' is retired, but no layer below has it",
                "only what is there can be retired",
                write_one_of(entry_id, section) if section else "Leave it out",
            )
        elif has_more:
            self.say(
                place,
                "HS316",
                f"'{entry_id}' is retired and changed at once",
                "an entry with 'retire: yes' has no other field",
                "Leave out the other fields, or 'retire'",
            )
        else:
            del section[entry_id]
            self.retired[name][entry_id] = place
            self.changes.append(Change(str(place), name, entry_id, "retired"))

    def check_shared_ids(self) -> None:
        for names in SHARED_IDS:
            taken: dict[str, Slot] = {}
            for name in names:
                for entry_id, slot in self.sections[name].items():
                    if entry_id in taken:
                        self.say_twice(slot.place, entry_id, name, taken[entry_id].place)
                    else:
                        taken[entry_id] = slot
