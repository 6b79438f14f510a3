"""A map read as a noun, field by field; whatever is not asked for is a mistake."""

from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType

from halfsplit.book.desk import COIN, Desk, map_of
from halfsplit.book.strength import read_strength
from halfsplit.book.tree import Items, Map, Node, Place, Slot, Text
from halfsplit.book.words import is_nothing, is_typed, parse_seconds, parse_yes_no, write_one_of
from halfsplit.model.faults import Strength

NONE = "none"
"""Written where no id of that kind applies ("opening: none")."""


class Form:
    """One map of the book while it is read.

    Every method reads one field, notes what is wrong with it, and returns a value that the rest can be
    checked with.  ``close`` reports the fields that nobody asked for.

    Args:
        desk: the desk.
        place: where to report that a field is missing: the entry's id.
        node: the map; anything else is HS304.
        noun: what it is read as ("fault"), for sentences.
        name: its id, or "".
    """

    def __init__(self, desk: Desk, place: Place, node: Node, noun: str, name: str = "") -> None:
        self.desk = desk
        self.place = place
        self.noun = noun
        self.id = name
        self.title = f"{noun} '{name}'" if name else f"the {noun}"
        found = map_of(desk, node, self.title)
        self.slots: Mapping[str, Slot] = found.slots if found is not None else {}
        self.is_blank = found is None
        self.asked = desk.fields.setdefault(noun, {})

    def slot(self, key: str, *, needed: bool = False) -> Slot | None:
        """Return what stands under a key, or None; a needed one that is missing is HS305."""
        self.asked[key] = None
        slot = self.slots.get(key)
        if slot is None and needed and not self.is_blank:
            self.desk.say(
                self.place, "HS305", f"'{key}' is missing", f"every {self.noun} has it", f"Write '{key}: ...'"
            )
        return slot

    def node(self, key: str, *, needed: bool = False) -> Node | None:
        """Return the value under a key, or None."""
        slot = self.slot(key, needed=needed)
        return None if slot is None else slot.node

    def place_of(self, key: str) -> Place:
        """Return where a field stands, or the entry when it does not have it."""
        slot = self.slots.get(key)
        return self.place if slot is None else slot.place

    def close(self) -> None:
        """Note every field that nobody asked for (HS303)."""
        for key, slot in self.slots.items():
            if key not in self.asked:
                self.desk.say(
                    slot.place,
                    "HS303",
                    f"there is no field '{key}' in a {self.noun}",
                    f"a {self.noun} has only its own fields",
                    write_one_of(key, self.asked),
                )

    # Text

    def prose(self, key: str, default: str | None = None) -> str:
        """Return a sentence or a title; without a default it is needed and not empty."""
        node = self.node(key, needed=default is None)
        return (default or "") if node is None else prose_of(self.desk, node, f"'{key}'")

    def prose_list(self, key: str, *, needed: bool = False) -> tuple[str, ...]:
        """Return a list of sentences; one alone may stand bare."""
        node = self.node(key, needed=needed)
        if node is None:
            return ()
        return tuple(prose_of(self.desk, item, f"an item of '{key}'") for item in items_of(node))

    def prose_map(self, key: str) -> Mapping[str, str]:
        """Return a map from word to sentence."""
        return MappingProxyType(
            {word: prose_of(self.desk, slot.node, f"'{word}'") for word, slot in self.entries(key)}
        )

    def word_list(self, key: str, *, needed: bool = False) -> tuple[str, ...]:
        """Return a list of free words; one alone may stand bare."""
        return tuple(word for _, word in self.placed_words(key, needed=needed))

    def placed_words(self, key: str, *, needed: bool = False) -> tuple[tuple[Place, str], ...]:
        """Return a list of words with the place of each."""
        node = self.node(key, needed=needed)
        if node is None:
            return ()
        texts = ((item.place, self.desk.text_of(item, f"an item of '{key}'")) for item in items_of(node))
        return tuple((place, text) for place, text in texts if text is not None)

    def choice(self, key: str, choices: Iterable[str], default: str | None = None) -> str:
        """Return one of a fixed few words; without a default it is needed."""
        options = tuple(choices)
        node = self.node(key, needed=default is None)
        if node is not None:
            text = self.desk.text_of(node, f"'{key}'")
            if text is not None and self.desk.word_at(node.place, text, options):
                return text
        return options[0] if default is None else default

    def yes_no(self, key: str, default: bool) -> bool:
        """Return yes or no."""
        node = self.node(key)
        said = None if node is None else yes_no_of(self.desk, node, f"'{key}'")
        return default if said is None else said

    # Ids

    def ref(self, key: str, *sections: str, default: str | None = None, also: Iterable[str] = ()) -> str:
        """Return an id of some sections; without a default it is needed.  ``none`` is "" where "" is the default."""
        node = self.node(key, needed=default is None)
        if node is None:
            return default or ""
        text = self.desk.text_of(node, f"'{key}'")
        if text is None or (text == NONE and default == ""):
            return default or ""
        return self.desk.id_at(node.place, text, sections, also=also) or default or ""

    def refs(
        self, key: str, *sections: str, needed: bool = False, also: Iterable[str] = ()
    ) -> tuple[str, ...]:
        """Return a list of ids; one alone may stand bare; those that a layer retired are left out."""
        found = []
        for place, word in self.placed_words(key, needed=needed):
            known = self.desk.id_at(place, word, sections, also=also, drops=True)
            if known is not None and known in found:
                self.desk.say(place, "HS306", f"'{word}' is there twice", "one is enough", "Take one out")
            elif known is not None:
                found.append(known)
        return tuple(found)

    # Numbers

    def number(
        self,
        key: str,
        default: float | None = None,
        *,
        unit: str = "",
        low: float = 0.0,
        above: float | None = None,
    ) -> float:
        """Return a number of at least ``low``; without a default it is needed."""
        node = self.node(key, needed=default is None)
        value = (
            None if node is None else self.desk.number_of(node, f"'{key}'", unit=unit, low=low, above=above)
        )
        return value if value is not None else default if default is not None else max(low, 0.0)

    def limit(self, key: str, *, unit: str) -> float | None:
        """Return a number of any sign, or None when it is left out."""
        node = self.node(key)
        return None if node is None else self.desk.number_of(node, f"'{key}'", unit=unit)

    def count(self, key: str, default: int) -> int:
        """Return a whole number, 0 or more."""
        node = self.node(key)
        value = None if node is None else self.desk.bare_number_of(node, f"'{key}'")
        if node is None or value is None or not self.desk.is_within(node.place, value, f"'{key}'", 0.0, 64.0):
            return default
        if value != int(value):
            self.desk.say_wrong_kind(node, f"'{key}'", "a whole number")
        return int(value)

    def cents(self, key: str) -> int:
        """Return an amount of money in cents; it is written in whole units of the currency."""
        return round(100 * self.number(key, 0.0, unit="currency"))

    def strength(self, key: str, *, needed: bool = True) -> Strength:
        """Return a strength; one that is not needed and not there is "never"."""
        node = self.node(key, needed=needed)
        if node is not None:
            return read_strength(self.desk, node)
        return COIN if needed else Strength(0.0, 0.0)

    def chance(self, key: str, default: float | None = None) -> float:
        """Return a bare probability; its spread and basis go to the list of numbers only."""
        node = self.node(key, needed=default is None)
        if node is not None:
            return read_strength(self.desk, node).p
        return COIN.p if default is None else default

    def shares(self, key: str, what: str) -> Mapping[str, float]:
        """Return a map from word to share, which add up to 1 or are not there at all."""
        shares = {word: read_strength(self.desk, slot.node).p for word, slot in self.entries(key)}
        self.desk.say_sum(self.place_of(key), shares, what)
        return MappingProxyType(shares)

    def strengths_by(self, key: str, *sections: str) -> Mapping[str, Strength]:
        """Return a map from id to strength; ids that a layer retired are left out."""
        found = {}
        for word, slot in self.entries(key):
            if self.desk.id_at(slot.place, word, sections, drops=True) is not None:
                found[word] = read_strength(self.desk, slot.node)
        return MappingProxyType(found)

    # Further maps

    def entries(self, key: str, *, needed: bool = False) -> Iterator[tuple[str, Slot]]:
        """Yield the entries of the map under a key."""
        node = self.node(key, needed=needed)
        if node is None or (isinstance(node, Text) and node.is_plain and not node.text):
            return
        found = map_of(self.desk, node, f"'{key}'")
        if found is not None:
            yield from found.slots.items()


def items_of(node: Node) -> tuple[Node, ...]:
    """Return the items of a list; anything else is a list of one, and nothing a list of none."""
    if isinstance(node, Items):
        return node.nodes
    if isinstance(node, Text) and node.is_plain and is_nothing(node.text):
        return ()
    return (node,)


def prose_of(desk: Desk, node: Node, what: str) -> str:
    """Return the text of a title or a sentence; anything else, or nothing, is HS304."""
    if isinstance(node, Text) and node.text.strip() and not (node.is_plain and is_typed(node.text)):
        return node.text.strip()
    should = "text"
    if isinstance(node, Text) and node.text.strip():
        should = "text; put it in quotes if it is"
    if isinstance(node, Map):
        should = "text; text with a colon needs quotes"
    desk.say_wrong_kind(node, what, should)
    return ""


def yes_no_of(desk: Desk, node: Node, what: str) -> bool | None:
    """Return yes or no, or None with HS304."""
    said = parse_yes_no(node.text) if isinstance(node, Text) else None
    if said is None:
        desk.say_wrong_kind(node, what, "yes or no")
    return said


def seconds_of(desk: Desk, node: Node, what: str) -> float | None:
    """Return a time in seconds and note what it rests on, or None with HS304."""
    seconds = parse_seconds(node.text) if isinstance(node, Text) else None
    if seconds is None:
        desk.say_wrong_kind(node, what, "a time such as '5 s', '6 min' or '1 h'")
        return None
    desk.note(node.place, seconds, "seconds")
    return seconds
