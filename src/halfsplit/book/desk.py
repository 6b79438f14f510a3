"""The desk on which one book is read: its ids, what its numbers rest on, and what is wrong with it."""

import math
import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import NamedTuple

from halfsplit.book.layers import Pages, file_of
from halfsplit.book.words import write_one_of
from halfsplit.errors import Mistake
from halfsplit.model.faults import Strength
from halfsplit.yamltext import Node

SUM_TOLERANCE = 1e-9
"""How far from 1 a sum of shares may be: rounding only."""

COIN = Strength(0.5, 0.7)
"""Stands for a strength that could not be read, so that the rest can be checked."""


class Number(NamedTuple):
    """One number of a book.

    Args:
        place: where it stands.
        unit: "probability", "seconds", "minutes", ..., or "" for a bare ratio.
        spread: standard deviation of its log odds if it is a probability, else of its logarithm.
        basis: ``source: id``, ``common practice`` or ``estimate``.
    """

    place: str
    value: float
    unit: str
    spread: float
    basis: str


class Ground(NamedTuple):
    """What the bare numbers of one file rest on; None is "not said"."""

    basis: str | None = None
    spread: float | None = None


@dataclass(frozen=True)
class Range:
    """The numbers that a field may hold: from ``low`` (itself left out if ``is_open``) to ``high``."""

    low: float = -math.inf
    high: float = math.inf
    is_open: bool = False

    def __contains__(self, number: float) -> bool:
        return self.low <= number <= self.high and not (self.is_open and number == self.low)

    def __str__(self) -> str:
        low = f"above {self.low:g}" if self.is_open else f"at least {self.low:g}"
        return low if math.isinf(self.high) else f"{low} and at most {self.high:g}"


_PLAIN_NUMBER = re.compile(r"[-+]?(?:0|[1-9][0-9]*)?(?:\.[0-9]*)?(?:[eE][-+]?[0-9]+)?")
"""012 is 10 to some readers of YAML and 12 to others, so it is neither here."""

ANY = Range()
AT_LEAST_0 = Range(0.0)
ABOVE_0 = Range(0.0, is_open=True)
UNIT = Range(0.0, 1.0)


class Desk:
    """Collects what there is to say while the pages of one book are read.

    ``mistakes`` are the mistakes so far, ``numbers`` all numbers, ``fields`` the fields that each noun has,
    ``strengths`` the strength words, ``marred`` the entries (section, id) that could not be read in full.
    """

    def __init__(self, pages: Pages) -> None:
        self.pages = pages
        self.mistakes: list[Mistake] = []
        self.numbers: list[Number] = []
        self.marred: set[tuple[str, str]] = set()
        self.fields: dict[str, dict[str, None]] = {}
        self.strengths: dict[str, Strength] = {}
        self._known: dict[tuple[str, ...], frozenset[str]] = {}
        self._grounds: dict[str, Ground] = {}
        self._kept: dict[Strength, Strength] = {}
        self._ungrounded: dict[str, list[str]] = {}

    def say(self, place: str, code: str, so: str, should: str, do: str) -> None:
        """Note one mistake."""
        self.mistakes.append(Mistake(place, code, so, should, do))

    def say_wrong_kind(self, node: Node, what: str, should: str, do: str = "Correct it") -> None:
        """Note that a value is not of the kind that its field needs (HS304)."""
        shape = "a map" if node.is_map else "a list" if node.is_list else f"'{node.text}'"
        if not node.value and not isinstance(node.value, int | float):
            shape = "empty"
        self.say(node.place, "HS304", f"{what} is {shape}", f"it is {should}", do)

    # Places

    def first_place(self) -> str:
        """Return where the book begins."""
        return f"{next(iter(self.pages.files), 'book')}:1:1"

    def place_in(self, section: str, entry_id: str, *keys: str) -> str:
        """Return where a field of an entry stands, or the nearest field around it."""
        key, node = self.pages.sections[section][entry_id]
        for name in keys:
            if name not in node.entries():
                break
            key, node = node.entries()[name]
        return key.place

    # Ids and words

    def ids(self, *sections: str) -> frozenset[str]:
        """Return all ids of some sections."""
        known = self._known.get(sections)
        if known is None:
            known = frozenset(key for name in sections for key in self.pages.sections[name])
            self._known[sections] = known
        return known

    def id_at(
        self,
        place: str,
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
            drops: whether an id that a layer retired is left out without a mistake.
        """
        if word in self.ids(*sections) or word in also:
            return word
        retired_at = next((self.pages.retired[name][word] for name in sections if word in self.pages.retired[name]), "")
        if retired_at and drops:
            return None
        so = f"'{word}' was retired at {retired_at}" if retired_at else f"'{word}' is not known here"
        should = f"it is an id of {' or '.join(f'{name!r}' for name in sections)}"
        self.say(place, "HS307", so, should, write_one_of(word, (*sorted(self.ids(*sections)), *also)))
        return None

    def is_word(self, place: str, word: str, choices: Iterable[str]) -> bool:
        """Return whether a word is one of a fixed few; another one is HS308."""
        options = tuple(choices)
        if word in options:
            return True
        so = f"'{word}' is none of the words for this"
        self.say(place, "HS308", so, "they are fixed", write_one_of(word, options))
        return False

    def text_of(self, node: Node, what: str) -> str | None:
        """Return the text of a scalar, or None with HS304."""
        if node.text and node.value is not None:
            return node.text
        self.say_wrong_kind(node, what, "a word")
        return None

    # Numbers

    def number_of(self, node: Node, what: str, within: Range) -> float | None:
        """Return what a plain scalar is as a number, or None with HS304 or HS309."""
        value = node.value
        if not isinstance(value, int | float) or isinstance(value, bool) or not math.isfinite(value):
            self.say_wrong_kind(node, what, "a number, without quotes, with a point")
            return None
        if not _PLAIN_NUMBER.fullmatch(node.text):
            self.say_wrong_kind(node, what, "a number as people write it, without a 0 in front and not in hexadecimal")
            return None
        if value in within:
            return float(value)
        self.say(node.place, "HS309", f"{what} is {node.text}", f"it is {within}", "Correct it")
        return None

    def note(self, place: str, value: float, unit: str) -> None:
        """Note a bare number and what it rests on."""
        ground = self.ground_at(place)
        self.numbers.append(Number(place, value, unit, ground.spread or 0.0, ground.basis or ""))

    def rest_on(self, places: Collection[str], basis: str) -> None:
        """Note that the numbers at some places rest on something of their own, and not on what their file says."""
        self.numbers = [each._replace(basis=basis) if each.place in places else each for each in self.numbers]

    def set_ground(self, file: str, ground: Ground) -> None:
        """Set what the bare numbers of a file rest on."""
        self._grounds[file] = ground

    def ground_at(self, place: str) -> Ground:
        """Return what bare numbers in the file of a place rest on, and note it when that is not said."""
        file = file_of(place)
        ground = self._grounds.get(file, Ground())
        if ground.basis is None or ground.spread is None:
            self._ungrounded.setdefault(file, []).append(place)
        return ground

    def say_ungrounded(self) -> None:
        """Note once for each file that its bare numbers rest on nothing (HS310)."""
        for file, places in self._ungrounded.items():
            ground = self._grounds.get(file, Ground())
            lacks = [name for name, said in zip(Ground._fields, ground, strict=True) if said is None]
            first = min(places, key=place_order)
            more = len(set(places)) - 1
            which = f"this number and {more} more of this file have" if more else "this number has"
            so = f"{which} no {' and no '.join(lacks)}"
            do = (
                f"Begin the file with {' and '.join(f'{name!r}' for name in lacks)}, "
                "or write {p: ..., spread: ..., basis: ...}"
            )
            self.say(first, "HS310", so, "every number has a basis and a spread", do)

    def say_sum(self, place: str, shares: Iterable[float], what: str) -> None:
        """Note that shares do not add up to 1 (HS312)."""
        parts = tuple(shares)
        total = math.fsum(parts)
        if parts and abs(total - 1.0) > SUM_TOLERANCE:
            do = f"Change one of them by {1.0 - total:+.6g}"
            self.say(place, "HS312", f"{what} add up to {total:.6g}", "they must add up to 1", do)

    def keep(self, strength: Strength) -> Strength:
        """Return the one object for equal strengths."""
        return self._kept.setdefault(strength, strength)


def sort_mistakes(mistakes: Iterable[Mistake]) -> tuple[Mistake, ...]:
    """Return mistakes in the order of files, lines and columns, each once."""
    return tuple(sorted(set(mistakes), key=lambda mistake: (place_order(mistake.place), mistake)))


def place_order(place: str) -> tuple[str, int, int]:
    """Return what sorts places by file, line and column."""
    file, line, col = place.rsplit(":", 2)
    return file, int(line), int(col)
