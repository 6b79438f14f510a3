"""One entry of a book as a page: what it is, what it goes with, and what its numbers rest on."""

import difflib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from types import MappingProxyType
from typing import Any

from halfsplit.book import bench_chapters, entry_chapters, machine_chapters
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
        "parts": "part",
        "joints": "joint",
        "facts": "fact",
        "ladder": "rung",
        "complaints": "class of complaint",
        "stops": "way in which a run ends",
        "tellers": "teller",
        "tools": "tool",
        "grades": "grade",
        "shelf": "part of the shelf",
        "hosts": "host",
        "outputs": "socket for a monitor",
        "loads": "load",
        "run_words": "words of a run",
        "forced": "what the setup does",
        "strengths": "strength word",
    }
)
"""Section that has pages -> what one of its entries is."""

_RUN_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "conditions": "conditions of a run",
        "positions": "how the machine stands",
        "starters": "what it was started by",
        "touches": "what was pressed or wiggled",
    }
)


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
    return {
        section: {name: _title(section, name, noun, book) for name, noun in _nouns(section, book).items()}
        for section in SECTIONS
    }


def sections_of(entry_id: str, book: Book) -> tuple[str, ...]:
    """Return the sections that have an id; one id may be a fault and a thing that is looked at."""
    return tuple(section for section in SECTIONS if entry_id in _nouns(section, book))


def near_ids(word: str, book: Book) -> tuple[str, ...]:
    """Return the ids that may be meant by a word, the likeliest first."""
    known = [name for section in SECTIONS for name in _nouns(section, book)]
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
        "parts": machine_chapters.part_chapters,
        "joints": machine_chapters.joint_chapters,
        "facts": machine_chapters.fact_chapters,
        "ladder": machine_chapters.rung_chapters,
        "hosts": machine_chapters.host_chapters,
        "outputs": machine_chapters.output_chapters,
        "complaints": bench_chapters.words_chapters,
        "stops": bench_chapters.words_chapters,
        "tellers": bench_chapters.teller_chapters,
        "tools": bench_chapters.tool_chapters,
        "grades": bench_chapters.grade_chapters,
        "shelf": bench_chapters.shelf_chapters,
        "loads": bench_chapters.load_chapters,
        "run_words": bench_chapters.run_words_chapters,
        "forced": bench_chapters.forced_chapters,
        "strengths": bench_chapters.strength_chapters,
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
    noun = _nouns(section, book)[entry_id]
    chapters = _CHAPTERS[section](noun, book, Speech(book))
    words = strength_words(noun) if section == "faults" else ()
    own, named = f"{section}.{entry_id}.", {f"strengths.{word}" for word in words} | {f"{section}.{entry_id}"}
    return Page(
        section,
        entry_id,
        _title(section, entry_id, noun, book),
        tuple((heading, tuple(lines)) for heading, lines in chapters if lines),
        tuple(number for number in numbers if number.field.startswith(own) or number.field in named),
    )


def _nouns(section: str, book: Book) -> Mapping[str, Any]:
    """Return what is in a section, id -> noun; where the book has no ids, by number from 1."""
    match section:
        case "parts":
            return book.kinds
        case "ladder":
            return {rung.id: rung for rung in book.ladder.rungs}
        case "tellers":
            return {teller.id: teller for teller in book.tellers}
        case "forced":
            return {str(number): forced for number, forced in enumerate(book.forced, 1)}
        case "run_words":
            return {name: getattr(book, name) for name in _RUN_WORDS}
    nouns: Mapping[str, Any] = getattr(book, section)
    return nouns


def _title(section: str, name: str, noun: Any, book: Book) -> str:
    """Return the title of an entry; one without a title of its own is named by what it is."""
    match section:
        case "tellers" | "strengths":
            return name.replace("_", " ")
        case "forced":
            return Speech(book).when(noun.when) or f"setup {name}"
        case "run_words":
            return _RUN_WORDS[name]
        case "shelf":
            return noun.title or name.replace("_", " ")
    title: str = noun.title
    return title
