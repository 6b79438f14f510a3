"""One line for people: what a reading told, what a root and a thing are called."""

import re
from collections.abc import Sequence
from dataclasses import replace
from types import MappingProxyType

from halfsplit.job.amounts import NO_BREAK, amount, length_in_words
from halfsplit.job.changes import Course
from halfsplit.job.findings import INSIDE, OTHER, Ending, Finding, RunSeen
from halfsplit.job.pictures import STAGE_WORDS, STAGES, is_picture, split_picture
from halfsplit.job.units import NEW, OWNER, SHELF, Foothold, Pair, kind_of
from halfsplit.model.book import Book
from halfsplit.model.job import NO, YES, Entry, Inspect, Measure, Run, Seen, Told
from halfsplit.model.machine import Conditions

MOST_AROUND = 3
"""Leads and devices around the machine that are named where they were changed; of more it is said that they were."""


def line_of(entries: Sequence[Entry], book: Book, *, passed: bool = False) -> str:
    """Return what a reading told, in a few words.

    Args:
        entries: the entries that it is of.
        book: the fault book, for the titles.
        passed: whether it is of the runs that went through where others failed.
    """
    first = entries[0]
    match first:
        case Run() if passed:
            return f"{first.of - first.failed} of {first.of} went through{_under(first.conditions, book)}"
        case Run():
            times = f"{first.failed} of {first.of}: " if first.of > 1 else ""
            return f"{times}{_seen(first.seen, book)}{_on(first, book)}{_under(first.conditions, book)}"
        case Inspect():
            seen = ", then ".join(dict.fromkeys(look.seen for look in entries if isinstance(look, Inspect)))
            return f"{_what(first, book)}: {_plain(seen)}"
        case Measure():
            said = amount(first.value, book.measurements[kind_of(first.what)].unit)
            return f"{_what(first, book)}: {said}{_under(Conditions(load=first.load), book)}"
        case _:
            told = [_seen(each.seen, book) for each in entries if isinstance(each, Told) and each.seen is not None]
            return f"told: {'; '.join(told)}"


def result_line(entries: Sequence[Entry], results: Sequence[Finding], book: Book) -> str:
    """Return what a check showed, in a few words; what is as it should be is left out.

    Args:
        entries: its entries.
        results: what each of them shows.
        book: the fault book, for the titles.
    """
    said = []
    for entry, told in zip(entries, results, strict=True):
        if isinstance(told, RunSeen):
            said.append(_of_run(told, book))
        elif told not in (OTHER, INSIDE, _fine(entry, book)):
            said.append(f"{_what(entry, book)}: {_plain(told)}")
    if said:
        return "; ".join(said)
    return OTHER if OTHER in results else "all fine"


def _of_run(told: RunSeen, book: Book) -> str:
    """Return what was seen of a run: what is missing is told where a sound machine that got so far would show it."""
    signs = {name: was for name, was in told.signs if name in book.signs}
    shown = [book.signs[name].said(was=True) for name, was in signs.items() if was]
    missing = [
        book.signs[name].said(was=False)
        for name, was in signs.items()
        if not was and book.signs[name].is_on and not _is_past(book.signs[name].needs, told.ending, book)
    ]
    return ", ".join([told.ending.line, *_dark(told, book), *shown, *missing])


def _dark(told: RunSeen, book: Book) -> list[str]:
    """Return which of the pictures that were looked for were missing, where the ending does not say it by itself."""
    if told.ending.is_dark:
        return []
    asked = [(*split_picture(name), was) for name, was in told.signs if is_picture(name)]
    asked = [each for each in asked if not _is_past(STAGES[each[1]], told.ending, book)]
    outputs = tuple(dict.fromkeys(output for output, _, _ in asked))
    if asked and not any(was for _, _, was in asked):
        return ["no picture"]
    said = []
    for output in outputs:
        stages = {stage: was for of, stage, was in asked if of == output}
        when = [f" {STAGE_WORDS[stage]}" for stage, was in stages.items() if not was] if any(stages.values()) else [""]
        where = f" on the {book.outputs[output].title}" if len(outputs) > 1 else ""
        said += [f"no picture{where}{each}" for each in when]
    return said


def _is_past(rung: str, ending: Ending, book: Book) -> bool:
    """Return whether a rung is one that a run was seen not to reach, so that what needs it cannot be there."""
    missed = ending.not_reached
    return bool(missed) and book.ladder.place(rung) >= book.ladder.place(missed)


def _fine(entry: Entry, book: Book) -> str:
    return book.inspections[entry.what.partition(".")[0]].fine if isinstance(entry, Inspect) else INSIDE


def _what(entry: Entry, book: Book) -> str:
    match entry:
        case Inspect():
            look = book.inspections[kind_of(entry.what)]
            return numbered(look.title, said_place(look.at + entry.what[len(look.id) :], book))
        case Measure():
            return title_of_point(entry.what, book)
        case _:
            return entry.id


def thing_of(foothold: Foothold, now: frozenset[Foothold]) -> str:
    """Return the id of a part or joint as suspicions name it.

    Args:
        foothold: a unit or a pair.
        now: what is together in the owner's machine now.

    Returns:
        The unit's id; for a joint its name with its number, with the units where they are apart now.
    """
    if not isinstance(foothold, Pair):
        return foothold
    if foothold in now:
        return foothold.name
    return f"{foothold.name}({'+'.join(unit for _, unit in foothold.ends)})"


def title_of(foothold: Foothold, book: Book) -> str:
    """Return what a part or joint is called."""
    if isinstance(foothold, Pair):
        strange = [title_of(unit, book) for slot, unit in foothold.ends if unit != f"{OWNER}.{slot}"]
        title = numbered(book.joints[foothold.joint].title, said_place(foothold.name, book))
        return f"{title}{_bracketed(strange)}"
    whose, _, what = foothold.partition(".")
    if whose == SHELF and what in book.shelf:
        return book.shelf[what].title or _plain(what)
    if foothold in book.hosts:
        return book.hosts[foothold].title
    kind = kind_of(what)
    title = book.kinds[kind].title if kind in book.kinds else what
    if whose == NEW:
        return f"new {title}"
    owner = "" if whose == OWNER else f" of the {book.hosts[whose].title}" if whose in book.hosts else f" of {whose}"
    return f"{numbered(title, said_place(what, book))}{owner}"


def book_of(course: Course | None, book: Book) -> Book:
    """Return a fault book to speak of one machine with: of what that has one only, no number is said.

    Args:
        course: of its job; None = nothing is known of it, and every number is said.
        book: the fault book; of the kinds of part of which there may be several, and of which the machine has and had
            one only, the new one knows that there is one.  It is for words alone: places keep their numbers.
    """
    if course is None:
        return book
    slots = {*course.intake[OWNER].slots, *course.standing[OWNER].slots}
    kinds = [kind_of(slot) for slot in slots]
    lone = {kind: replace(book.kinds[kind], many=False) for kind in book.kinds if kinds.count(kind) == 1}
    return replace(book, kinds=MappingProxyType({**book.kinds, **lone}))


def said_place(place: str, book: Book) -> str:
    """Return a place with its number where there may be several, without it where the book knows of one only."""
    base = kind_of(place)
    kinds = book.joints[base].between if base in book.joints else (base,)
    known = [book.kinds[kind].many for kind in kinds if kind in book.kinds]
    return place if any(known) or not known else base


def numbered(title: str, place: str) -> str:
    """Return a title with the number of the part where there are several: the one way in which it is said.

    Args:
        title: of the part, joint, fault or whatever is done to it.
        place: what has the number: a slot (``memory.2``), a joint, a fault at one, or the number alone (``.2``).

    Example:
        >>> numbered("memory module", "memory.2"), numbered("processor", "processor")
        ('memory module no.\\xa02', 'processor')
    """
    return title + _number(place)


def numbered_at(title: str, at: str, book: Book) -> str:
    """Return the title of a fault, or of what is done, with the number of its part behind the name of the part.

    Args:
        title: of the fault, the repair or the measurement.
        at: the part or joint that it is at, with its number (``memory.2``), or a new part (``new.supply.1``: it is
            the first new one, and no place has that number), or "".
        book: the fault book; where the title does not have the part's name, the number stands at its end.
    """
    if at.startswith(f"{NEW}."):
        return f"{title}{_bracketed([title_of(at, book)])}"
    at = said_place(at, book)
    base = kind_of(at)
    for kind in book.joints[base].between if base in book.joints else (base,):
        named = kind in book.kinds and book.kinds[kind].many and re.search(rf"\b{book.kinds[kind].title}\b", title)
        if named:
            return f"{title[: named.end()]}{_number(at)}{title[named.end() :]}"
    return numbered(title, at)


def title_of_slot(slot: str, book: Book) -> str:
    """Return what a slot is called: the kind of part that sits there, with its number."""
    kind = kind_of(slot)
    return numbered(book.kinds[kind].title if kind in book.kinds else _plain(kind), said_place(slot, book))


def title_of_point(what: str, book: Book) -> str:
    """Return what a point to measure at is called, with its number (``drive_temp.2``)."""
    point = book.measurements[kind_of(what)]
    return numbered_at(point.title, point.at + what[len(point.id) :], book)


def held_in_words(held: str, book: Book) -> str:
    """Return what is put in a slot, in a few words: a unit, or one of the words that an entry has for it.

    Args:
        held: "out", "in", "owner", "new", or a unit (``shelf.supply_a``, ``owner.memory.2``).
        book: the fault book, for the titles.
    """
    if held in book.hosts:
        return f"that of the {book.hosts[held].title}"
    return title_of(held, book) if "." in held else held


def line_of_swap(slot: str, held: str, book: Book) -> str:
    """Return what was put in a slot for a run, or taken out of it, in a few words."""
    part, (whose, _, what) = title_of_slot(slot, book), held.partition(".")
    if whose == SHELF:
        return f"{part} from the shelf"
    if whose in book.hosts:
        of_host = f"{part} of the {book.hosts[whose].title}"
        return f"{title_of(held, book)} in the place of {part}" if what not in ("", slot) else of_host
    return f"new {part}" if whose == NEW else f"{part} {_plain(held)}"


def setup_in_words(run: Run, book: Book) -> list[str]:
    """Return what was otherwise in a run than as the machine stood, a few words each."""
    said = [] if run.on == OWNER else [f"on the {book.hosts[run.on].title}"]
    around = {slot for slot in run.swaps if kind_of(slot) in book.kinds and book.kinds[kind_of(slot)].outside}
    told = {slot: held for slot, held in run.swaps.items() if len(around) <= MOST_AROUND or slot not in around}
    said += [line_of_swap(slot, held, book) for slot, held in told.items()]
    if len(told) < len(run.swaps):
        said.append("other leads and devices around it")
    if run.case:
        said.append("board out of the case" if run.case == "out" else "board in the case")
    if run.output and len(book.outputs) > 1:
        said.append(f"monitor on the {book.outputs[run.output].title}")
    return said


def conditions_in_words(conditions: Conditions, book: Book) -> list[str]:
    """Return the conditions of a run as far as they are not the usual ones, a few words each, most telling first."""
    said = [] if conditions.load == "idle" else [book.loads[conditions.load].title]
    if conditions.cold is not None:
        said.append("cold" if conditions.cold else "warm")
    if conditions.touched:
        said.append(book.touches[conditions.touched].title)
    if conditions.position:
        said.append(book.positions[conditions.position].title)
    if conditions.lead_out_minutes:
        said.append(f"mains lead out before, {length_in_words(60.0 * conditions.lead_out_minutes)}")
    if conditions.first_after:
        named = (book.events, book.openings, book.repairs)
        titles = {name: noun.title for nouns in named for name, noun in nouns.items()}
        said.append(f"first start after: {titles[conditions.first_after]}")
    if conditions.started_by:
        said.append(f"started by: {book.starters[conditions.started_by].title}")
    if conditions.minutes:
        said.append(f"for {length_in_words(60.0 * conditions.minutes)}")
    return said


def _number(place: str) -> str:
    found = _NUMBER.search(place)
    return f" no.{NO_BREAK}{found[1]}" if found else ""


_NUMBER = re.compile(r"\.(\d+)")


def _bracketed(words: Sequence[str]) -> str:
    return f" ({', '.join(words)})" if words else ""


def _plain(word: str) -> str:
    return word.replace("_", " ")


def _seen(seen: Seen, book: Book) -> str:
    rungs = {rung.id: rung.title for rung in book.ladder.rungs}
    said = []
    if seen.not_reached:
        said.append(f"stopped before '{rungs[seen.not_reached]}'")
    elif seen.reached:
        said.append(f"reached '{rungs[seen.reached]}'")
    if seen.stayed:
        said.append("stayed up")
    elif seen.stop is not None:
        kind = _plain(seen.stop.kind) or "stops"
        said.append(kind if seen.stop.seconds is None else f"{kind} after {length_in_words(seen.stop.seconds)}")
    lit = {lit for stages in seen.picture.values() for lit in stages.values()}
    if lit:
        said.append("picture" if lit == {True} else "no picture" if lit == {False} else "picture at one stage only")
    said += [book.signs[sign].said(was=True) for sign, was in seen.signs.items() if was == YES]
    said += [book.signs[sign].said(was=False) for sign, was in seen.signs.items() if was == NO]
    return ", ".join(said) or "a run"


def _on(run: Run, book: Book) -> str:
    return _bracketed(setup_in_words(run, book))


def _under(conditions: Conditions, book: Book) -> str:
    return "".join(f", {said}" for said in conditions_in_words(conditions, book))
