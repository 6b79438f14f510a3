"""Whether a job speaks the words of the book that it is folded with."""

from collections.abc import Collection, Iterable, Iterator, Sequence

from halfsplit.errors import Mistake
from halfsplit.job.complaints import CLASSES
from halfsplit.job.units import kind_of
from halfsplit.model.book import Book
from halfsplit.model.job import ChangeSetup, Entry, Inspect, Job, Measure, RepairDone, Run, Seen, Told
from halfsplit.model.ladder import KINDS
from halfsplit.model.machine import Conditions

_Word = tuple[str, str, Collection[str]]  # what it is, the word, the words that there are


def find_unknown_words(job: Job, told: Sequence[Told], log: Sequence[Entry], book: Book) -> list[Mistake]:
    """Return a mistake (HS202) for each word that the book does not have.

    Args:
        job: the job, for its parts and complaint.
        told, log: its statements and entries, corrected.
        book: the fault book.
    """
    mistakes = []
    for place, (what, word, words) in _words(job, told, log, book):
        if word and word not in words:
            so = f"{what} is '{word}'"
            should = f"it is a word of the book: {', '.join(list(words)[:12])}"
            mistakes.append(Mistake(place, "HS202", so, should, "Write one of the book's words"))
    return mistakes


def _words(job: Job, told: Sequence[Told], log: Sequence[Entry], book: Book) -> Iterator[tuple[str, _Word]]:
    yield "complaint", ("the complaint", job.complaint, [name for name in book.complaints if name in CLASSES])
    for part in job.parts:
        yield "machine", ("a part", kind_of(part.slot), book.kinds)
    for kind in job.missing:
        yield "machine", ("a part", kind, book.kinds)
    for entry in (*told, *log):
        for word in _words_of(entry, book):
            yield entry.place or entry.id, word


def _words_of(entry: Entry, book: Book) -> Iterable[_Word]:
    match entry:
        case Told():
            yield "the event", entry.event, book.events
            yield from _conditions(entry.conditions, book)
            yield from _seen(entry.seen, book) if entry.seen is not None else ()
        case Run():
            yield from _setup(entry, book)
            yield from _conditions(entry.conditions, book)
            yield from _seen(entry.seen, book)
        case ChangeSetup():
            yield from _setup(entry, book)
        case Inspect():
            what = entry.what.partition(".")[0]
            yield "the look", what or "?", book.inspections
            yield "the tool", entry.tool, book.tools
            yield "the host", entry.on, book.hosts
            if what in book.inspections:
                yield "what was seen", entry.seen, (*book.inspections[what].seen, "unsure")
        case Measure():
            yield "the point", entry.what.partition(".")[0] or "?", book.measurements
            yield "the load", entry.load, book.loads
            yield "the host", entry.on, book.hosts
        case RepairDone():
            yield "the repair", entry.do or "?", book.repairs
        case _:
            pass


def _setup(entry: Run | ChangeSetup, book: Book) -> Iterable[_Word]:
    yield "the host", entry.on, book.hosts
    yield "the output", entry.output, book.outputs
    for slot, held in entry.swaps.items():
        yield "the slot", kind_of(slot), book.kinds
        if held.startswith("shelf."):
            yield "the part of the shelf", held, [f"shelf.{name}" for name in book.shelf]


def _conditions(conditions: Conditions, book: Book) -> Iterable[_Word]:
    yield "the load", conditions.load, book.loads
    yield "the position", conditions.position, book.positions
    yield "what was touched", conditions.touched, book.touches
    yield "what started it", conditions.started_by, book.starters
    yield "what it came after", conditions.first_after, {**book.events, **book.openings, **book.repairs}


def _seen(seen: Seen, book: Book) -> Iterable[_Word]:
    rungs = [rung.id for rung in book.ladder.rungs]
    yield "a rung", seen.reached, rungs
    yield "a rung", seen.not_reached, rungs
    yield "how it stopped", seen.stop.kind if seen.stop is not None else "", KINDS
    for sign in seen.signs:
        yield "a sign", sign, book.signs
    for output in seen.picture:
        yield "an output", output, (*book.outputs, "used")
