"""The log as rows of a page, the newest first, each in a few words."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from types import MappingProxyType

from halfsplit.actions import JobView
from halfsplit.actions.onfile import INTAKE
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.lines import held_in_words, line_of, numbered_at, title_of, title_of_slot
from halfsplit.job.units import OWNER
from halfsplit.jobfile import parse_machine
from halfsplit.model.book import Book
from halfsplit.model.job import NO, ChangeSetup, Correct, Entry, Inspect, Job, Measure, Remark, RepairDone, Run, Told
from halfsplit.store.log import LogLine
from halfsplit.text import entry_name
from halfsplit.web.machine_words import machine_words
from halfsplit.web.number_field import outside_in_words
from halfsplit.web.passing import plain_reason
from halfsplit.web.texts import say


@dataclass(frozen=True)
class LogRow:
    """One line of the log.

    Args:
        entry: the entry's id.
        kind: the kind of entry.
        name: its id as people say it.
        line: what was entered, in a few words, as it stands with its corrections.
        text: as it is kept, to be corrected.
        who, at: who entered it, and when.
        is_gone: whether it was withdrawn.
        page: the page of the job on which it is corrected, as its address ends; "" = on none.
    """

    entry: str
    kind: str
    name: str
    line: str
    text: str
    who: str
    at: str
    is_gone: bool
    page: str


def log_rows(view: JobView, currency: str, lines: Sequence[LogLine] | None = None) -> tuple[LogRow, ...]:
    """Return the lines of a job's log, newest first.

    Args:
        view: the job.
        currency: of every sum.
        lines: those of its log that are asked for, in their order; None = all.
    """
    job, book = view.job or Job(), view.spoken
    told, log = apply_corrections(job, [])
    standing = {entry.id: entry for entry in (*told, *log)}
    entered = {entry.id: entry for entry in (*job.told, *job.log)}
    asked = view.lines if lines is None else lines
    has_corrections = any(isinstance(entered.get(line.entry), Correct) for line in asked)
    names = entry_names(job, book) if has_corrections else {}
    heads = _heads(view) if any(line.kind == INTAKE for line in asked) else {}
    rows = []
    for line in reversed(asked):
        now = standing.get(line.entry)
        entry = now or entered.get(line.entry)
        is_correction = isinstance(entered.get(line.entry), Correct)
        said = line.text if entry is None else entry_in_words(entry, book, currency, names)
        before = entered.get(line.entry)
        if before is not None and now is not None and _is_other(before, now):
            said = say("log.corrected", was=entry_in_words(before, book, currency), now=said)
        page = "" if is_correction else f"entries/{line.entry}"
        if line.kind == INTAKE:
            said, page = heads[line.entry], "machine"
        rows.append(
            LogRow(
                line.entry,
                line.kind,
                entry_name(line.entry),
                said,
                line.text,
                line.initials,
                line.at,
                entry is not None and now is None and not is_correction,
                page,
            )
        )
    return tuple(rows)


def _heads(view: JobView) -> Mapping[str, str]:
    """Return id of each line that says what is known of the machine -> what was not said before, and what is gone."""
    book, memory, found, before = view.spoken, view.on_file.bench.memory, dict[str, str](), list[str]()
    for line in view.lines:
        if line.kind == INTAKE:
            now = memory.get(("head", line.text, *view.on_file.book_key), partial(_known, line.text, book))
            new, gone = [each for each in now if each not in before], [each for each in before if each not in now]
            more = say("log.no_more", words=", ".join(gone)) if gone else ""
            found[line.entry] = say("log.intake", words=", ".join(new) or say("log.nothing_new")) + more
            before = now
    return found


def _known(text: str, book: Book) -> list[str]:
    """Return what a line says of the machine, and of the complaint, a few words each."""
    job = (parse_machine(text, "", book)[0] if text.strip() else None) or Job()
    named = [job.name] if job.name else []
    complaint = [book.complaints[job.complaint].title] if job.complaint else []
    return [*named, *complaint, *machine_words(job, book)]


def _is_other(before: Entry, now: Entry) -> bool:
    """Return whether an entry was corrected; that a run was made once more is none."""
    if isinstance(before, Run) and isinstance(now, Run):
        before = replace(before, of=now.of, failed=now.failed)
    return replace(before, at=now.at, by=now.by) != now


def entry_names(job: Job, book: Book) -> Mapping[str, str]:
    """Return id of an entry -> what it is called: a run as on the ladder, anything else by what it says, quoted."""
    told, log = apply_corrections(job, [])
    entries = {entry.id: entry for entry in (*told, *log, *job.told, *job.log)}
    return {
        name: entry_name(name) if isinstance(entry, Run | Correct) else f"\u2018{entry_in_words(entry, book)}\u2019"
        for name, entry in entries.items()
    }


def entry_in_words(entry: Entry, book: Book, currency: str = "", names: Mapping[str, str] | None = None) -> str:
    """Return an entry in a few words.

    Args:
        entry: the entry.
        book: the fault book.
        currency: of every sum, "" = it is not told.
        names: what other entries of its log are called, for one that corrects another.
    """
    match entry:
        case Run():
            said = _run(entry, book)
        case Inspect():
            said = line_of([entry], book)
        case Measure():
            said = " - ".join(filter(None, [line_of([entry], book), outside_in_words(entry, book)]))
        case Told():
            said = _told(entry, book)
        case ChangeSetup():
            said = ", ".join(_setup(entry, book))
        case RepairDone():
            said = _repair(entry, book)
        case Remark():
            said = " ".join(each for each in (plain_reason(entry.text), *_sum(entry.cents, currency)) if each)
        case Correct():
            said = say(
                "log.withdraws" if entry.now is None else "log.corrects",
                entry=(names or {}).get(entry.entry, entry_name(entry.entry)),
            )
        case _:
            said = entry.id
    return said


def _run(run: Run, book: Book) -> str:
    """Return a run in a few words: what was there, what is missing that a sound machine shows, the rest counted."""
    told = {name: said for name, said in run.seen.signs.items() if said != NO or book.signs[name].is_on}
    seen = replace(run.seen, signs=MappingProxyType(told))
    said = [line_of([replace(run, seen=seen)], book)]
    if missing := len(run.seen.signs) - len(told):
        said.append(say("log.not_there", many=missing))
    return "; ".join(said)


def _repair(entry: RepairDone, book: Book) -> str:
    """Return a repair in a few words: the number of the part where there are several, and what else was fitted."""
    said = numbered_at(book.repairs[entry.do].title, entry.to, book)
    return said if entry.fitted == "new" else f"{said}, {title_of(entry.fitted, book)}"


def _setup(entry: ChangeSetup, book: Book) -> Iterable[str]:
    """Yield what was changed, each in a few words."""
    if entry.on != OWNER:
        yield say("log.on", host=book.hosts[entry.on].title)
    for slot, held in entry.swaps.items():
        if slot == "case" and entry.case:  # a word of the setup and a part: said below
            continue
        yield f"{title_of_slot(slot, book)}: {held_in_words(held, book)}"
    if entry.output:
        yield say("log.output", output=book.outputs[entry.output].title)
    if entry.case:
        yield say("log.case_in" if entry.case == "in" else "log.case_out")


def _sum(cents: int | None, currency: str) -> tuple[str, ...]:
    """Return a sum of the log, to the cent, and its currency."""
    return () if cents is None else (f"{cents / 100:.2f}", currency)


def _told(entry: Told, book: Book) -> str:
    said = []
    if entry.event:
        said.append(("" if entry.is_true else say("log.not") + " ") + book.events[entry.event].title)
    if entry.seen is not None:
        said.append(line_of([entry], book).removeprefix("told: "))
    if entry.words:
        said.append(f"\u201c{entry.words}\u201d")
    return ", ".join(said)
