"""The fault book to be read: every fault, check and number, and what each rests on."""

from collections.abc import Mapping
from dataclasses import dataclass

from starlette.responses import Response

from halfsplit.book import Basis, Page, field_in_words, list_entries, page_of, sections_of
from halfsplit.book.page import SECTIONS
from halfsplit.errors import Mistake, WebError
from halfsplit.job.amounts import amount
from halfsplit.model.book import Book
from halfsplit.web.screen import show
from halfsplit.web.visit import Visit

SOURCE = "source: "
"""How the basis of a number begins that a publication gives."""


@dataclass(frozen=True)
class BookPage:
    """What there is in the fault book.

    Args:
        sections: section, what one of its entries is, and id and title of each.
        asked: what was looked for.
        hash: of the book.
    """

    sections: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...]
    asked: str
    hash: str


@dataclass(frozen=True)
class BookLine:
    """One line of a chapter.

    Args:
        text: what it says.
        id: of the entry that it is about, or "".
        address: of that entry's page, or "".
        is_in: whether it belongs to the line before it.
    """

    text: str
    id: str = ""
    address: str = ""
    is_in: bool = False


@dataclass(frozen=True)
class BookNumber:
    """One number of an entry.

    Args:
        words: what it says, in words.
        field: where it stands in the book's files.
        value: it with its unit; a chance has none.
        spread: how far it may be off.
        basis: what it rests on.
    """

    words: str
    field: str
    value: str
    spread: float
    basis: str


@dataclass(frozen=True)
class BookEntryPage:
    """One entry of the fault book.

    Args:
        entry: as a page.
        kind: what it is.
        chapters: heading and lines.
        numbers: every number of it.
        sources: the citations of the published sources that its numbers rest on.
    """

    entry: Page
    kind: str
    chapters: tuple[tuple[str, tuple[BookLine, ...]], ...]
    numbers: tuple[BookNumber, ...]
    sources: tuple[str, ...] = ()


def show_book(visit: Visit) -> Response:
    """Answer with what there is in the book, or what of it has the words that are looked for."""
    asked = visit.query.get("q", "").strip()
    words = asked.casefold().split()
    sections = []
    for section, titles in list_entries(visit.desk.bench.book).items():
        kept = [
            (name, title)
            for name, title in titles.items()
            if all(word in f"{name} {title}".casefold() for word in words)
        ]
        if kept:
            sections.append((section, SECTIONS[section], tuple(kept)))
    return show(visit, "book", BookPage(tuple(sections), asked, visit.desk.bench.book.hash))


def show_book_entry(visit: Visit) -> Response:
    """Answer with one entry of the book."""
    book, section, entry = visit.desk.bench.book, visit.path["section"], visit.path["entry"]
    if section not in sections_of(entry, book):
        so, should = f"the fault book has no '{entry}' under '{section}'", "it is an entry of the book"
        raise WebError([Mistake("address", "HS802", so, should, "Look for it in the book")])
    page = page_of(section, entry, book, visit.desk.numbers)
    named = dict.fromkeys(
        number.basis.removeprefix(SOURCE) for number in page.numbers if number.basis.startswith(SOURCE)
    )
    cited = tuple(f"{name}: {visit.desk.sources[name]}" for name in named)
    known = list_entries(book)
    chapters = tuple((heading, tuple(_line(line, known) for line in lines)) for heading, lines in page.chapters)
    numbers = tuple(_number(number, book) for number in page.numbers)
    return show(visit, "book_entry", BookEntryPage(page, SECTIONS[section], chapters, numbers, cited))


def _line(line: str, known: Mapping[str, Mapping[str, str]]) -> BookLine:
    """Return a line; of one that begins with the id of an entry and its title, the id stands apart."""
    name, _, text = line.strip().partition(": ")
    for section, titles in known.items():
        if name in titles and text.startswith(titles[name]):
            return BookLine(text, name, f"/book/{section}/{name}")
    return BookLine(line.strip(), is_in=line.startswith(" "))


def _number(number: Basis, book: Book) -> BookNumber:
    unit = "" if number.unit == "probability" else number.unit
    words = field_in_words(number.field, book)
    return BookNumber(words, number.field, amount(number.value, unit), number.spread, number.basis)
