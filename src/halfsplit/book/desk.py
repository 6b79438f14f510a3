"""The desk on which one book is read: which ids there are, what its numbers rest on, what is wrong with it."""

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from halfsplit.book.layers import Pages
from halfsplit.book.tree import Items, Map, Node, Place, Text
from halfsplit.book.words import is_nothing, parse_number, write_one_of
from halfsplit.errors import Mistake
from halfsplit.model.faults import Strength


class Number(NamedTuple):
    """One number of a book.

    Args:
        unit: "probability", "seconds", "minutes", ..., or "" for a bare ratio.
        spread: standard deviation of its log odds if it is a probability, else of its logarithm.
        basis: ``source: id``, ``common practice`` or ``estimate``.
    """

    place: Place
    value: float
    unit: str
    spread: float
    basis: str


class Ground(NamedTuple):
    """What the bare numbers of one file rest on; None is "not said"."""

    basis: str | None
    spread: float | None


COIN = Strength(0.5, 0.7)
"""Stands for a strength that could not be read, so that the rest can be checked."""

_UNSAID = Ground(None, None)


class Desk:
    """Collects the mistakes and the numbers while the pages of one book are read."""

    def __init__(self, pages: Pages) -> None:
        self.pages = pages
        self.mistakes: list[Mistake] = []
        self.numbers: list[Number] = []
        self.fields: dict[str, dict[str, None]] = {}
        self.strengths: dict[str, Strength] = {}
        self._known: dict[tuple[str, ...], frozenset[str]] = {}
        self._grounds: dict[str, Ground] = {}
        self._kept: dict[Strength, Strength] = {}
        self._ungrounded: dict[str, list[Place]] = {}

    def first_place(self) -> Place:
        """Return where the book begins."""
        return Place(next(iter(self.pages.file_slots), "book"), 1, 1)

    def place_in(self, section: str, entry_id: str, *keys: str) -> Place:
        """Return where a field of an entry stands, or the nearest map around it."""
        slot = self.pages.sections[section][entry_id]
        for key in keys:
            if not isinstance(slot.node, Map) or key not in slot.node.slots:
                break
            slot = slot.node.slots[key]
        return slot.place

    def say(self, place: Place, code: str, so: str, should: str, do: str) -> None:
        """Note one mistake."""
        self.mistakes.append(Mistake(str(place), code, so, should, do))

    def say_wrong_kind(self, node: Node, what: str, should: str) -> None:
        """Note that a value is not of the kind that its field needs (HS304)."""
        so = f"{what} is a list" if isinstance(node, Items) else f"{what} is a map"
        if isinstance(node, Text):
            so = f"{what} is {repr(node.text) if node.text else 'empty'}"
        self.say(node.place, "HS304", so, f"it must be {should}", "Correct it")

    def ids(self, sections: tuple[str, ...]) -> frozenset[str]:
        """Return all ids of some sections."""
        known = self._known.get(sections)
        if known is None:
            known = frozenset(key for name in sections for key in self.pages.sections[name])
            self._known[sections] = known
        return known

    def retired_at(self, sections: tuple[str, ...], word: str) -> Place | None:
        """Return where an id was retired, or None."""
        return next(
            (self.pages.retired[name][word] for name in sections if word in self.pages.retired[name]), None
        )

    def id_at(
        self,
        place: Place,
        word: str,
        sections: tuple[str, ...],
        *,
        also: Iterable[str] = (),
        drops: bool = False,
    ) -> str | None:
        """Return an id that is known, or None; an unknown one is HS307.

        Args:
            place: where it is written.
            word: as it is written.
            sections: where it must be.
            also: further words that may stand there.
            drops: an id that was retired is left out without a word.
        """
        if word in self.ids(sections) or word in also:
            return word
        retired_at = self.retired_at(sections, word)
        if retired_at is not None and drops:
            return None
        named = " or ".join(f"'{name}'" for name in sections)
        self.say(
            place,
            "HS307",
            f"'{word}' is not in {named}" + (f"; it was retired at {retired_at}" if retired_at else ""),
            f"an id of {named} must stand here",
            write_one_of(word, (*sorted(self.ids(sections)), *also)),
        )
        return None

    def word_at(self, place: Place, word: str, choices: Iterable[str]) -> bool:
        """Return whether a word is one of a fixed few; another one is HS308."""
        options = tuple(choices)
        if word in options:
            return True
        self.say(
            place,
            "HS308",
            f"'{word}' is not a word for this",
            "the words are fixed",
            write_one_of(word, options),
        )
        return False

    def text_of(self, node: Node, what: str) -> str | None:
        """Return the text of a scalar, or None with HS304."""
        if isinstance(node, Text) and not (node.is_plain and is_nothing(node.text)):
            return node.text
        self.say_wrong_kind(node, what, "a word")
        return None

    def number_of(
        self,
        node: Node,
        what: str,
        *,
        unit: str,
        low: float = -math.inf,
        high: float = math.inf,
        above: float | None = None,
    ) -> float | None:
        """Return a bare number within its range and note what it rests on, or None with HS304 or HS309."""
        value = self.bare_number_of(node, what)
        if value is None or not self.is_within(node.place, value, what, low, high, above):
            return None
        self.note(node.place, value, unit)
        return value

    def note(self, place: Place, value: float, unit: str) -> None:
        """Note a bare number and what it rests on."""
        ground = self.ground_of(place)
        self.numbers.append(Number(place, value, unit, ground.spread or 0.0, ground.basis or ""))

    def bare_number_of(self, node: Node, what: str) -> float | None:
        """Return what a plain scalar is as a number, or None with HS304."""
        if isinstance(node, Text) and node.is_plain:
            value = parse_number(node.text)
            if value is not None:
                return value
        self.say_wrong_kind(node, what, "a number, without quotes, with a point and no leading zeros")
        return None

    def is_within(
        self, place: Place, value: float, what: str, low: float, high: float, above: float | None = None
    ) -> bool:
        """Return whether a number is in its range; another one is HS309."""
        if low <= value <= high and (above is None or value > above):
            return True
        if above is not None:
            should = f"it must be above {above:g}" + (f" and at most {high:g}" if math.isfinite(high) else "")
        elif math.isfinite(high):
            should = f"it must lie in {low:g} to {high:g}"
        else:
            should = f"it must be at least {low:g}"
        self.say(place, "HS309", f"{what} is {value:g}", should, "Correct it")
        return False

    def ground_of(self, place: Place) -> Ground:
        """Return what bare numbers in the file of a place rest on, and note it when that is not said."""
        ground = self._grounds.get(place.file, _UNSAID)
        if ground.basis is None or ground.spread is None:
            self._ungrounded.setdefault(place.file, []).append(place)
        return ground

    def set_ground(self, file: str, ground: Ground) -> None:
        """Set what the bare numbers of a file rest on."""
        self._grounds[file] = ground

    def keep(self, strength: Strength) -> Strength:
        """Return the one object for equal strengths."""
        return self._kept.setdefault(strength, strength)

    def say_ungrounded(self) -> None:
        """Note once for each file that its bare numbers rest on nothing (HS310)."""
        for file, places in self._ungrounded.items():
            ground = self._grounds.get(file, _UNSAID)
            lacking = [name for name, said in zip(Ground._fields, ground, strict=True) if said is None]
            more = f", as have {len(places) - 1} more in this file" if len(places) > 1 else ""
            self.say(
                min(places),
                "HS310",
                f"this number has no {' and no '.join(lacking)}{more}",
                "every number has a basis and a spread",
                f"Begin the file with {' and '.join(repr(name + ': ...') for name in lacking)}, "
                "or write {p: ..., spread: ..., basis: ...}",
            )

    def say_sum(self, place: Place, shares: Mapping[str, float], what: str) -> None:
        """Note that shares do not add up to 1 (HS312)."""
        total = math.fsum(shares.values())
        if shares and abs(total - 1.0) > SUM_TOLERANCE:
            self.say(
                place,
                "HS312",
                f"{what} add up to {total:.6g}",
                "they must add up to 1",
                f"Change one of them by {1.0 - total:+.6g}",
            )


SUM_TOLERANCE = 1e-9
"""How far from 1 a sum of shares may be: rounding only."""


def sort_mistakes(mistakes: Iterable[Mistake]) -> tuple[Mistake, ...]:
    """Return mistakes in the order of files, lines and columns."""

    def order(mistake: Mistake) -> tuple[str, int, int, str, str]:
        file, line, col = (*mistake.place.rsplit(":", 2), "0", "0")[:3]
        return (
            (file, int(line), int(col), mistake.code, mistake.so)
            if line.isdigit() and col.isdigit()
            else (mistake.place, 0, 0, mistake.code, mistake.so)
        )

    return tuple(sorted(set(mistakes), key=order))


def map_of(desk: Desk, node: Node, what: str) -> Map | None:
    """Return a node as a map, or None with HS304."""
    if isinstance(node, Map):
        return node
    desk.say_wrong_kind(node, what, "a map")
    return None
