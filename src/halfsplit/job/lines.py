"""One line for people: what a reading told, what a root and a thing are called."""

from collections.abc import Sequence

from halfsplit.job.eyes import INSIDE, OTHER, Finding, RunSeen
from halfsplit.job.units import OWNER, SHELF, Foothold, Pair, kind_of, number_of
from halfsplit.model.book import Book
from halfsplit.model.job import NO, YES, Entry, Inspect, Measure, Run, Seen, Told
from halfsplit.model.machine import Conditions


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
            what, number = first.what.partition(".")[0], number_of(first.what)
            return f"{book.inspections[what].title}{number.replace('.', ' ')}: {_plain(seen)}"
        case Measure():
            point = book.measurements[first.what.partition(".")[0]]
            return f"{point.title}: {first.value:g} {point.unit}{_under(Conditions(load=first.load), book)}"
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
    shown = [book.signs[name].title for name, was in told.signs if was and name in book.signs]
    missing = [
        f"no {book.signs[name].title}"
        for name, was in told.signs
        if not was and name in book.signs and book.signs[name].is_on and not told.ending.not_reached
    ]
    return ", ".join([told.ending.line, *shown, *missing])


def _fine(entry: Entry, book: Book) -> str:
    return book.inspections[entry.what.partition(".")[0]].seen[-1] if isinstance(entry, Inspect) else INSIDE


def _what(entry: Entry, book: Book) -> str:
    match entry:
        case Inspect():
            return book.inspections[entry.what.partition(".")[0]].title + _number(number_of(entry.what))
        case Measure():
            return book.measurements[entry.what.partition(".")[0]].title + _number(number_of(entry.what))
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
        return f"{book.joints[foothold.joint].title}{_number(foothold.number)}{_bracketed(strange)}"
    whose, _, what = foothold.partition(".")
    if whose == SHELF and what in book.shelf:
        return book.shelf[what].title or what
    if foothold in book.hosts:
        return book.hosts[foothold].title
    kind = kind_of(what)
    title = book.kinds[kind].title if kind in book.kinds else what
    if whose == "new":
        return f"new {title}"
    owner = "" if whose == OWNER else f" of the {book.hosts[whose].title}" if whose in book.hosts else f" of {whose}"
    return f"{title}{_number(number_of(what))}{owner}"


def line_of_swap(slot: str, held: str, book: Book) -> str:
    """Return what was put in a slot for a run, or taken out of it, in a few words."""
    kind = kind_of(slot)
    title = book.kinds[kind].title if kind in book.kinds else _plain(kind)
    part, whose = f"{title}{_number(number_of(slot))}", held.partition(".")[0]
    if whose == SHELF:
        return f"{part} from the shelf"
    if whose in book.hosts:
        return f"{part} of the {book.hosts[whose].title}"
    return f"new {part}" if whose == "new" else f"{part} {_plain(held)}"


def _number(number: str) -> str:
    return number.replace(".", " ")


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
        said.append(kind if seen.stop.seconds is None else f"{kind} after {_length(seen.stop.seconds)}")
    lit = {lit for stages in seen.picture.values() for lit in stages.values()}
    if lit:
        said.append("picture" if lit == {True} else "no picture" if lit == {False} else "picture at one stage only")
    said += [book.signs[sign].title for sign, was in seen.signs.items() if was == YES]
    said += [f"no: {book.signs[sign].title}" for sign, was in seen.signs.items() if was == NO]
    return ", ".join(said) or "a run"


def _on(run: Run, book: Book) -> str:
    said = [] if run.on == OWNER else [f"on the {book.hosts[run.on].title}"]
    said += [line_of_swap(slot, held, book) for slot, held in run.swaps.items()]
    return f" ({', '.join(said)})" if said else ""


def _under(conditions: Conditions, book: Book) -> str:
    said = [] if conditions.load == "idle" else [book.loads[conditions.load].title]
    if conditions.cold is not None:
        said.append("cold" if conditions.cold else "warm")
    return f", {', '.join(said)}" if said else ""


def _length(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:g} s"
    return f"{seconds / 60:g} min" if seconds < 7200 else f"{seconds / 3600:g} h"
