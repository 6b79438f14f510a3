"""What the pages of the bench's own things and of the book's words say, chapter by chapter."""

from collections.abc import Mapping

from halfsplit.book.entry_chapters import Chapters, only_lines
from halfsplit.book.speech import Speech, chance
from halfsplit.model.bench import Forced, Load, Tool, Word
from halfsplit.model.book import Book, Complaint, StopKind, Teller
from halfsplit.model.faults import Act, Strength
from halfsplit.model.machine import Grade, ShelfPart


def grade_chapters(grade: Grade, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a grade of the shelf."""
    return [
        ("good", [f"{grade.p_good:g} of such parts"]),
        ("goes bad", [f"{grade.fades:g} of good ones in a year on the shelf"] if grade.fades else []),
        ("on the shelf", [part.title or name for name, part in book.shelf.items() if part.grade == grade.id]),
    ]


def shelf_chapters(part: ShelfPart, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a part of the shelf."""
    needed = [
        check.title
        for check in book.checks.values()
        if {part.id, part.kind} & {*check.shelf} or f"shelf.{part.id}" in check.setup.values()
    ]
    return [
        ("kind", [speech.place(part.kind)]),
        ("grade", [book.grades[part.grade].title]),
        ("goes into", only_lines(part.fits, book) or ["any machine"]),
        ("needed by", needed),
    ]


def tool_chapters(tool: Tool, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a tool."""
    return [
        ("reach", [f"its looks can catch {tool.reach:.0%} of what is there"]),
        ("used in", [check.title for check in book.checks.values() if tool.id in check.tools]),
    ]


def load_chapters(load: Load, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a load."""
    return [
        ("stresses", list(load.stresses) or ["nothing in particular"]),
        ("not at work in it", [speech.place(kind) for kind in load.rests]),
        ("used in", [check.title for check in book.checks.values() if check.conditions.get("load") == load.id]),
    ]


def words_chapters(noun: Complaint | StopKind, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a class of complaint, or of a way in which a run ends."""
    return [("owners say", [f"\u201c{each}\u201d" for each in noun.words])]


def teller_chapters(teller: Teller, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of how far an owner's words go."""
    return [
        ("owners like that", [f"{teller.share:.0%}"]),
        ("one statement is wrong", [chance(teller.slip)]),
    ]


def strength_chapters(strength: Strength, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a strength word."""
    spread = f"spread {strength.spread:g} of the log odds" if strength.spread else "certain, no spread"
    return [("stands for", [f"{strength.p:g}, {spread}, {strength.basis}"])]


def forced_chapters(forced: Forced, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of what the setup itself does."""
    return [("what it does", [speech.act(Act(forced.q, forced.endings, forced.when))])]


def run_words_chapters(words: Mapping[str, Word], book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of words for the conditions of a run."""
    return [("words", [f"{name}: {word.title}" for name, word in words.items()])]
