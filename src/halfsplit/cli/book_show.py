"""``halfsplit book show``: an entry of the fault book as a page, or what there is."""

import json
import textwrap
from dataclasses import replace

from halfsplit.book import (
    Page,
    bases,
    list_entries,
    near_ids,
    page_of,
    sections_of,
    shipped_book,
    shipped_book_dir,
)
from halfsplit.book.neighbour import find_neighbour
from halfsplit.book.page import SECTIONS, Neighbour
from halfsplit.book.speech import odds
from halfsplit.errors import Mistake, UsageError
from halfsplit.job.amounts import amount
from halfsplit.job.apart import P_MISREAD

_WIDTH = 110
_COLUMN = 28
_FIELD = 52


def show_entry(entry_id: str, *, as_json: bool) -> None:
    """Print the pages of all entries with an id.

    Args:
        entry_id: the id.
        as_json: as a JSON list of pages.

    Raises:
        UsageError: nothing in the book has that id (HS904).
    """
    book = shipped_book()
    sections = sections_of(entry_id, book)
    if not sections:
        near = near_ids(entry_id, book)
        do = f"Did you mean {' or '.join(repr(each) for each in near)}?" if near else "'halfsplit book show' lists all"
        so = f"nothing in the fault book has the id '{entry_id}'"
        raise UsageError([Mistake("halfsplit book show", "HS904", so, "it is the id of an entry", do.rstrip("?"))])
    numbers = bases([shipped_book_dir()])
    pages = [page_of(section, entry_id, book, numbers) for section in sections]
    pages = [
        replace(page, neighbour=find_neighbour(entry_id, book)) if page.section == "faults" else page for page in pages
    ]
    if as_json:
        print(json.dumps([page.to_json() for page in pages], indent=2, ensure_ascii=False))
        return
    for page in pages:
        _print_page(page)


def show_list(*, as_json: bool) -> None:
    """Print the id and title of all that has a page, section by section."""
    entries = list_entries(shipped_book())
    if as_json:
        print(json.dumps(entries, indent=2, ensure_ascii=False))
        return
    for section, titles in entries.items():
        print(f"{section} ({len(titles)})")
        for name, title in titles.items():
            print(f"  {name:<{_COLUMN + 6}} {title}")
        print()


def _print_page(page: Page) -> None:
    print(f"{page.id}: {page.title} ({SECTIONS[page.section]})")
    for heading, lines in page.chapters:
        _print_chapter(heading, list(lines))
    if page.neighbour is not None:
        _print_chapter("hardest to tell from it", _neighbour_lines(page.neighbour))
    if page.numbers:
        _print_chapter("its numbers", [])
        for number in page.numbers:
            field = number.field.removeprefix(f"{page.section}.{page.id}.")
            value = amount(number.value, number.unit)
            print(f"  {field:<{_FIELD}} {value:<20} spread {number.spread:<5g} {number.basis}")
    print()


def _neighbour_lines(neighbour: Neighbour) -> list[str]:
    lines = [f"{neighbour.fault}: {neighbour.title}; their readings overlap by {neighbour.overlap:.2g} of 1"]
    if not neighbour.check:
        return [*lines, "no check of the book tells them apart"]
    said = odds(neighbour.p, neighbour.p_other, P_MISREAD)
    result = f"{neighbour.check}: \u201c{neighbour.line}\u201d {neighbour.p:.2g} against {neighbour.p_other:.2g}"
    return [*lines, f"best told by {result}: odds {said} for it"]


def _print_chapter(heading: str, lines: list[str]) -> None:
    print(f"\n{heading}")
    for line in lines:
        indent = "  " + " " * (len(line) - len(line.lstrip()))
        for wrapped in textwrap.wrap(line, _WIDTH, initial_indent=indent, subsequent_indent=indent + "  "):
            print(wrapped)
