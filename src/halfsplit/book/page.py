"""One entry of a book as a page: what it is, what it goes with, and what its numbers rest on."""

import difflib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from types import MappingProxyType

from halfsplit.book import entry_chapters
from halfsplit.book.basis import Basis
from halfsplit.book.fault_chapters import fault_chapters, strength_words
from halfsplit.book.speech import Speech
from halfsplit.model.book import Book

SECTIONS: Mapping[str, str] = MappingProxyType(
    {
        "faults": "fault",
        "checks": "check",
        "repairs": "repair",
        "signs": "sign",
        "events": "event",
        "inspections": "inspection",
        "measurements": "measurement",
        "openings": "opening",
        "hazards": "hazard",
    }
)
"""Section that has pages -> what one of its entries is."""


@dataclass(frozen=True)
class Neighbour:
    """The fault that is hardest to tell from another one, and what tells them best.

    Args:
        fault: its id.
        title: as the trade says it.
        overlap: 1 for faults that nothing tells apart, 0 for such as have no result in common.
        check: the check that tells best, or "".
        line: its result in words.
        p: the chance of that result with the fault of the page alone.
        p_other: the chance of it with the neighbour alone.
    """

    fault: str
    title: str
    overlap: float
    check: str = ""
    line: str = ""
    p: float = 0.0
    p_other: float = 0.0


@dataclass(frozen=True)
class Page:
    """One entry of a book.

    Args:
        section: the section that it is in.
        id: its id.
        title: as the trade says it.
        chapters: heading and lines.
        numbers: every number of it, with what it rests on.
        neighbour: for a fault, the one that is hardest to tell from it.
    """

    section: str
    id: str
    title: str
    chapters: tuple[tuple[str, tuple[str, ...]], ...]
    numbers: tuple[Basis, ...] = ()
    neighbour: Neighbour | None = None

    def to_json(self) -> dict[str, object]:
        """Return it as data that JSON can hold."""
        return {
            "section": self.section,
            "id": self.id,
            "title": self.title,
            "chapters": {heading: list(lines) for heading, lines in self.chapters},
            "neighbour": None if self.neighbour is None else asdict(self.neighbour),
            "numbers": [number._asdict() for number in self.numbers],
        }


def list_entries(book: Book) -> dict[str, dict[str, str]]:
    """Return section -> id -> title, of all that has a page."""
    return {section: {name: noun.title for name, noun in getattr(book, section).items()} for section in SECTIONS}


def sections_of(entry_id: str, book: Book) -> tuple[str, ...]:
    """Return the sections that have an id; one id may be a fault and a thing that is looked at."""
    return tuple(section for section in SECTIONS if entry_id in getattr(book, section))


def near_ids(word: str, book: Book) -> tuple[str, ...]:
    """Return the ids that may be meant by a word, the likeliest first."""
    known = [name for section in SECTIONS for name in getattr(book, section)]
    close = difflib.get_close_matches(word.lower().replace(" ", "_").replace("-", "_"), known, n=3)
    return tuple(dict.fromkeys(close))


_CHAPTERS: Mapping[str, Callable[..., list[tuple[str, list[str]]]]] = MappingProxyType(
    {
        "faults": fault_chapters,
        "checks": entry_chapters.check_chapters,
        "repairs": entry_chapters.repair_chapters,
        "signs": entry_chapters.sign_chapters,
        "events": entry_chapters.event_chapters,
        "inspections": entry_chapters.inspection_chapters,
        "measurements": entry_chapters.measurement_chapters,
        "openings": entry_chapters.opening_chapters,
        "hazards": entry_chapters.hazard_chapters,
    }
)


def page_of(section: str, entry_id: str, book: Book, numbers: Sequence[Basis]) -> Page:
    """Return the page of an entry; a fault's has no neighbour yet.

    Args:
        section: one of ``SECTIONS``.
        entry_id: an id of that section.
        book: the fault book.
        numbers: every number of the book; those of the entry, and of the strength words that a fault is written
            with, are kept.
    """
    noun = getattr(book, section)[entry_id]
    chapters = _CHAPTERS[section](noun, book, Speech(book))
    words = strength_words(noun) if section == "faults" else ()
    own, named = f"{section}.{entry_id}.", {f"strengths.{word}" for word in words}
    return Page(
        section,
        entry_id,
        noun.title,
        tuple((heading, tuple(lines)) for heading, lines in chapters if lines),
        tuple(number for number in numbers if number.field.startswith(own) or number.field in named),
    )
