"""A map read as a noun, field by field; whatever is not asked for is a mistake."""

from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType

from halfsplit.book.desk import AT_LEAST_0, COIN, Desk, Range
from halfsplit.book.layers import Slot
from halfsplit.book.strength import read_strength
from halfsplit.book.words import write_one_of
from halfsplit.model.faults import Strength
from halfsplit.yamltext import Node, seconds, yes_or_no

NONE = "none"
"""Written where no id of that kind applies ("opening: none")."""

MOST_PARTS = 64
"""More of one kind of part no machine has."""

_NOTHING: Mapping[str, Slot] = MappingProxyType({})


class Form:
    """One map of the book while it is read.

    Every method reads one field, notes what is wrong with it, and returns a value that the rest can be
    checked with.  ``close`` reports the fields that nobody asked for.

    Args:
        desk: the desk.
        key: the key that the map stands under, or the map itself; a missing field is reported there.
        node: the map; anything else is HS304.
        noun: what it is read as ("fault"), for sentences.
        name: its id, or "".
    """

    def __init__(self, desk: Desk, slot: Slot, noun: str, name: str = "") -> None:
        key, node = slot
        self.desk = desk
        self.place = key.place
        self.noun = noun
        self.id = name
        self.slots = node.entries()
        self.is_blank = not node.is_map
        self.asked = desk.fields.setdefault(noun, {})
        if self.is_blank:
            desk.say_wrong_kind(node, f"{noun} '{name}'" if name else f"'{noun}'", "a map of fields")

    def node(self, key: str, *, needed: bool = False) -> Node | None:
        """Return the value under a key, or None; a needed one that is missing is HS305."""
        self.asked[key] = None
        slot = self.slots.get(key)
        if slot is not None:
            return slot[1]
        if needed and not self.is_blank:
            so, should = f"'{key}' is missing", f"every {self.noun} has it"
            self.desk.say(self.place, "HS305", so, should, f"Write '{key}: ...'")
        return None

    def form(self, key: str, noun: str) -> "Form | None":
        """Return the map under a key as a form, or None when it is not there."""
        return None if self.node(key) is None else Form(self.desk, self.slots[key], noun)

    def entries(self, key: str, *, needed: bool = False) -> Iterator[tuple[str, Slot]]:
        """Yield the entries of the map under a key; anything else is HS304."""
        node = self.node(key, needed=needed)
        if node is not None and not node.is_map and node.value is not None:
            self.desk.say_wrong_kind(node, f"'{key}'", "a map")
        yield from _NOTHING.items() if node is None else node.entries().items()

    def items(self, key: str, *, needed: bool = False) -> tuple[Node, ...]:
        """Return the items of the list under a key; one alone may stand bare; a needed list is not empty."""
        node = self.node(key, needed=needed)
        items = () if node is None else items_of(node)
        if needed and node is not None and not items:
            self.desk.say_wrong_kind(node, f"'{key}'", "a list of one item at least")
        return items

    def place_of(self, key: str) -> str:
        """Return where a field stands, or the entry when it does not have it."""
        return self.slots[key][0].place if key in self.slots else self.place

    def close(self) -> None:
        """Note every field that nobody asked for (HS303)."""
        for name, (key, node) in self.slots.items():
            if name not in self.asked:
                so, should = f"there is no field '{name}' in '{self.noun}'", "it has only its own fields"
                do = write_one_of(name, sorted(self.asked))
                if node.value is None and " " in name:
                    do = "Put text with a comma in quotes"
                self.desk.say(key.place, "HS303", so, should, do)

    # Text

    def prose(self, key: str, default: str | None = None) -> str:
        """Return a sentence or a title; without a default it is needed."""
        node = self.node(key, needed=default is None)
        return (default or "") if node is None else prose_of(self.desk, node, f"'{key}'")

    def prose_list(self, key: str, *, needed: bool = False) -> tuple[str, ...]:
        """Return a list of sentences; one alone may stand bare."""
        return tuple(prose_of(self.desk, item, f"an item of '{key}'") for item in self.items(key, needed=needed))

    def prose_map(self, key: str) -> Mapping[str, str]:
        """Return a map from word to sentence."""
        entries = self.entries(key)
        return MappingProxyType({word: prose_of(self.desk, node, f"'{word}'") for word, (_, node) in entries})

    def words(self, key: str, *, needed: bool = False) -> tuple[tuple[str, str], ...]:
        """Return a list of words, each as (place, word); one alone may stand bare."""
        return words_of(self.desk, self.items(key, needed=needed), f"an item of '{key}'")

    def choice(self, key: str, choices: Iterable[str], default: str | None = None) -> str:
        """Return one of a fixed few words; without a default it is needed."""
        options = tuple(choices)
        node = self.node(key, needed=default is None)
        text = None if node is None else self.desk.text_of(node, f"'{key}'")
        if text is not None and node is not None and self.desk.is_word(node.place, text, options):
            return text
        return options[0] if default is None else default

    def choices(self, key: str, choices: Iterable[str]) -> tuple[str, ...]:
        """Return a list of words out of a fixed few; one alone may stand bare."""
        options = tuple(choices)
        return tuple(word for place, word in self.words(key) if self.desk.is_word(place, word, options))

    def yes_no(self, key: str) -> bool | None:
        """Return yes or no, None when it is left out."""
        node = self.node(key)
        return None if node is None else yes_no_of(self.desk, node, f"'{key}'")

    def is_yes(self, key: str, *, default: bool = False) -> bool:
        """Return whether a field says yes, or its default."""
        said = self.yes_no(key)
        return default if said is None else said

    # Ids

    def ref(self, key: str, *sections: str, default: str | None = None, also: Iterable[str] = ()) -> str:
        """Return an id of some sections.

        Without a default it is needed; where "" is the default ``none`` may be written.
        """
        node = self.node(key, needed=default is None)
        text = None if node is None else self.desk.text_of(node, f"'{key}'")
        if node is None or text is None or (text == NONE and default == ""):
            return default or ""
        return self.desk.id_at(node.place, text, sections, also=also) or default or ""

    def refs(self, key: str, *sections: str, needed: bool = False, also: Iterable[str] = ()) -> tuple[str, ...]:
        """Return a list of ids; one alone may stand bare; those that a layer retired are left out."""
        found: dict[str, None] = {}
        for place, word in self.words(key, needed=needed):
            known = self.desk.id_at(place, word, sections, also=also, drops=True)
            if known in found:
                self.desk.say(place, "HS306", f"'{word}' is there twice", "once is enough", "Take one out")
            elif known is not None:
                found[known] = None
        return tuple(found)

    # Numbers

    def number(self, key: str, default: float | None = None, *, unit: str, within: Range = AT_LEAST_0) -> float:
        """Return a number; without a default it is needed."""
        value = self.maybe_number(key, unit=unit, within=within, needed=default is None)
        if value is not None:
            return value
        return default if default is not None else 1.0

    def maybe_number(self, key: str, *, unit: str, within: Range, needed: bool = False) -> float | None:
        """Return a number, or None when it is left out, and note what it rests on."""
        node = self.node(key, needed=needed)
        value = None if node is None else self.desk.number_of(node, f"'{key}'", within)
        if node is not None and value is not None:
            self.desk.note(node.place, value, unit)
        return value

    def count(self, key: str, default: int) -> int:
        """Return a whole number, 0 or more; it needs no basis."""
        node = self.node(key)
        value = None if node is None else self.desk.number_of(node, f"'{key}'", Range(0.0, MOST_PARTS))
        if node is None or value is None:
            return default
        if value != int(value):
            self.desk.say_wrong_kind(node, f"'{key}'", "a whole number")
        return int(value)

    def cents(self, key: str) -> int:
        """Return an amount of money in cents; it is written in whole units of the currency."""
        return round(100 * self.number(key, 0.0, unit="currency"))

    def strength(self, key: str) -> Strength:
        """Return a strength, which is needed."""
        node = self.node(key, needed=True)
        return COIN if node is None else read_strength(self.desk, node)

    def maybe_strength(self, key: str) -> Strength | None:
        """Return a strength, or None when it is left out."""
        node = self.node(key)
        return None if node is None else read_strength(self.desk, node)

    def chance(self, key: str, default: float | None = None) -> float:
        """Return a bare probability; its spread and basis go to the list of numbers only."""
        node = self.node(key, needed=default is None)
        if node is not None:
            return read_strength(self.desk, node).p
        return COIN.p if default is None else default

    def shares(self, key: str, what: str) -> Mapping[str, float]:
        """Return a map from word to share, which add up to 1 or are not there at all."""
        shares = {word: read_strength(self.desk, node).p for word, (_, node) in self.entries(key)}
        self.desk.say_sum(self.place_of(key), shares.values(), what)
        return MappingProxyType(shares)

    def strengths(self, key: str, *sections: str) -> Mapping[str, Strength]:
        """Return a map from id to strength; ids that a layer retired are left out."""
        return MappingProxyType(
            {
                word: read_strength(self.desk, node)
                for word, (word_node, node) in self.entries(key)
                if self.desk.id_at(word_node.place, word, sections, drops=True) is not None
            }
        )


def items_of(node: Node) -> tuple[Node, ...]:
    """Return the items of a list; anything else is a list of one, and nothing a list of none."""
    if node.is_list:
        return node.items()
    return () if node.value is None else (node,)


def words_of(desk: Desk, items: Iterable[Node], what: str) -> tuple[tuple[str, str], ...]:
    """Return the words in a list, each as (place, word); what is no word is HS304."""
    texts = ((item.place, desk.text_of(item, what)) for item in items)
    return tuple((place, text) for place, text in texts if text is not None)


def prose_of(desk: Desk, node: Node, what: str) -> str:
    """Return the text of a title or a sentence; anything else, or nothing, is HS304."""
    if isinstance(node.value, str) and node.text.strip():
        return node.text.strip()
    do = "Put text with a colon in quotes" if node.is_map else "Write some text"
    if node.text.strip() and node.value is not None:
        do = "Put it in quotes if it is text"
    desk.say_wrong_kind(node, what, "text", do)
    return ""


def yes_no_of(desk: Desk, node: Node, what: str) -> bool | None:
    """Return yes or no, or None with HS304."""
    said = yes_or_no(node)
    if said is None:
        desk.say_wrong_kind(node, what, "yes or no")
    return said


def seconds_of(desk: Desk, node: Node, what: str) -> float | None:
    """Return a time in seconds and note what it rests on, or None with HS304."""
    time = seconds(node)
    if time is None:
        desk.say_wrong_kind(node, what, "a time such as '5 s', '6 min' or '1 h'")
        return None
    desk.note(node.place, time, "seconds")
    return time
