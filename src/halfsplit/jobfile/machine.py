"""The machine of a job file: what is known of it, and its parts by slot."""

from collections.abc import Callable
from types import MappingProxyType

from halfsplit.jobfile.reading import Form, Reader, is_nothing
from halfsplit.jobfile.slots import NOT_THERE, read_slot, slot_keys, slot_name
from halfsplit.jobfile.vocabulary import titles
from halfsplit.model.book import Book
from halfsplit.model.job import OwnedPart
from halfsplit.yamltext import Node, yes_or_no

UNKNOWN = "unknown"
_FACT_LIMITS = (0.0, 1e6)
_MOST_OF_A_KIND = 64


class MachineReader:
    """The facts, parts and missing kinds found so far."""

    def __init__(self, reader: Reader) -> None:
        self.reader = reader
        self.book: Book = reader.book
        self.facts: dict[str, object] = {}
        self.slots: dict[tuple[str, int | None], dict[str, object] | None] = {}

    def read(self, node: Node) -> None:
        """Read the map under ``machine:``."""
        allowed = {**titles(self.book.facts), **titles(self.book.kinds)}
        form = self.reader.form(node, allowed, "the machine", slot_keys(self.book, node))
        for name, value in form.fields.items():
            if name in self.book.facts:
                self.fact(name, value)
            else:
                self.part(node.entries()[name][0], value)

    def fact(self, name: str, node: Node) -> None:
        """Read one fact; ``unknown`` leaves it out."""
        fact = self.book.facts[name]
        said = yes_or_no(node)
        value: object
        if said is not None and fact.values:
            word = "yes" if said else "no"
            value = word if word in fact.values else self.reader.word(node, list(fact.values), name)
        elif node.text == UNKNOWN and UNKNOWN not in fact.values:
            return
        elif fact.values:
            value = self.reader.word(node, list(fact.values), name)
        else:
            value = self.reader.number(node, _FACT_LIMITS, name)
        if self.facts.setdefault(name, value) != value:
            so = f"'{name}' was already told as '{self.facts[name]}'"
            self.reader.say(node.place, "HS134", so, "a fact has one value", "Delete one of the two")

    def part(self, key: Node, node: Node) -> None:
        """Read what is told of one kind of part, or of one slot."""
        slot = read_slot(self.reader, key)
        if slot is None:
            return
        kind, number = slot
        if node.is_list and number is not None:
            so, do = f"'{key.text}' is a list", f"Write the list at '{kind}', or one part here"
            self.reader.say(node.place, "HS113", so, "one slot holds one part", do)
        elif node.is_list:
            self.parts(kind, node)
        else:
            self.one(kind, number or (1 if self.book.kinds[kind].many else None), node)

    def parts(self, kind: str, node: Node) -> None:
        """Read a list of parts of one kind; it fills the slots from 1."""
        noun = self.book.kinds[kind]
        most = _MOST_OF_A_KIND if noun.many else 1
        if len(node.items()) > most:
            so = f"{len(node.items())} parts are in the list '{kind}'"
            self.reader.say(node.place, "HS131", so, f"a machine has at most {most} of them", "Take out the others")
            return
        if not node.items():
            self.slots.setdefault((kind, 1 if noun.many else None), None)
        for number, item in enumerate(node.items(), 1):
            if item.is_list:
                self.reader.say(item.place, "HS113", "a part is a list", "a part is a map or one word", "Write {}")
            elif is_nothing(item):
                self.put(kind, number if noun.many else None, {}, item)
            else:
                self.one(kind, number if noun.many else None, item)

    def one(self, kind: str, number: int | None, node: Node) -> None:
        """Read one part: a map of its fields, yes, no or none, or the first of its fields."""
        said = yes_or_no(node)
        fields = self.book.kinds[kind].fields
        if said is False or node.text == NOT_THERE:
            self.put(kind, number, None, node)
        elif said:
            self.put(kind, number, {}, node)
        elif node.text == UNKNOWN:
            return
        elif node.is_map:
            form = self.reader.form(node, {**fields, **titles(self.book.facts)}, f"a {self.book.kinds[kind].title}")
            self.put(kind, number, self.fields(form), node)
        elif fields:
            self.put(kind, number, {next(iter(fields)): field_value(self.reader, node, kind)}, node)
        else:
            so = f"'{node.text}' is told of a part that has no fields"
            self.reader.say(node.place, "HS112", so, "allowed here: yes, no, none, unknown, {}", "Write yes or no")

    def fields(self, form: Form) -> dict[str, object]:
        """Read the fields of one part; those that are facts of the machine go there."""
        found: dict[str, object] = {}
        for name, node in form.fields.items():
            if name in self.book.facts:
                self.fact(name, node)
            elif node.text != UNKNOWN:
                found[name] = field_value(self.reader, node, name)
        return found

    def put(self, kind: str, number: int | None, fields: dict[str, object] | None, node: Node) -> None:
        """Note one part, or (None) that there is none in that slot."""
        if (kind, number) in self.slots:
            so = f"the slot '{slot_name(kind, number)}' was already told"
            self.reader.say(node.place, "HS132", so, "a slot holds one part", "Delete one of the two")
        self.slots[kind, number] = fields

    def owned(self) -> tuple[OwnedPart, ...]:
        """Return the parts that are there, in the order of the book."""
        there = [(kind, number or 0) for (kind, number), fields in self.slots.items() if fields is not None]
        return tuple(
            OwnedPart(slot_name(kind, number or None), MappingProxyType(self.slots[kind, number or None] or {}))
            for kind, number in sorted(there, key=self._order())
        )

    def missing(self) -> tuple[str, ...]:
        """Return the kinds of which the machine certainly has none, in the order of the book."""
        there = {kind for (kind, _), fields in self.slots.items() if fields is not None}
        gone = {(kind, 0) for kind, _ in self.slots if kind not in there}
        return tuple(kind for kind, _ in sorted(gone, key=self._order()))

    def _order(self) -> Callable[[tuple[str, int]], tuple[int, int]]:
        place = {kind: n for n, kind in enumerate(self.book.kinds)}
        return lambda slot: (place[slot[0]], slot[1])


def field_value(reader: Reader, node: Node, name: str) -> object:
    """Return a number as a number, yes and no as words, and everything else as the text that it is."""
    said = yes_or_no(node)
    if said is not None:
        return "yes" if said else "no"
    if isinstance(node.value, int | float):
        return reader.number(node, (-1e9, 1e9), name) if isinstance(node.value, float) else node.value
    return reader.text(node, name)
