"""What the page of a fault says, chapter by chapter."""

from collections.abc import Iterable

from halfsplit.book.speech import Speech, chance, titles
from halfsplit.job.amounts import amount
from halfsplit.job.openings import OpeningsOf, minutes_of
from halfsplit.model.book import Book
from halfsplit.model.faults import Cure, Fault, Pattern, Strength

MOST_KINDRED = 3
"""Of the faults that have one cause with another one so many are named."""

MOST_BROKEN = 8
"""Of what a repair may bring in, the likeliest so many are named."""


def fault_chapters(fault: Fault, book: Book, speech: Speech) -> list[tuple[str, list[str]]]:
    """Return heading and lines of each chapter.

    Args:
        fault: the fault.
        book: its book.
        speech: says its nouns in words.
    """
    return [
        ("at", [_at(fault, book, speech)]),
        ("owners say", [f"\u201c{words}\u201d" for words in fault.words]),
        ("how likely", _prior(fault, book)),
        ("how it shows", [line for pattern in fault.patterns for line in _pattern(fault, pattern, book, speech)]),
        ("told cheapest by", _told_by(fault, book)),
        ("cures", [f"{cure.repair}: {speech.cure(cure)}" for cure in fault.cures]),
        ("checked again by", _rechecks(fault, book)),
        ("what mending it may break", _broken(fault, book, speech)),
        ("to the owner", [fault.owner_says] if fault.owner_says else []),
    ]


def strength_words(fault: Fault) -> tuple[str, ...]:
    """Return the strength words that a fault is written with."""
    return tuple(dict.fromkeys(strength.word for strength in _strengths(fault) if strength.word))


def _strengths(fault: Fault) -> Iterable[Strength]:
    yield fault.base
    yield from fault.after.values()
    yield from fault.made_by.values()
    for cure in fault.cures:
        yield cure.goes
        yield from [cure.comes] if cure.comes is not None else []
    for pattern in fault.patterns:
        yield from (act.q for act in pattern.acts)
        yield from (look.catch for look in pattern.looks)
        yield from (read.q for read in pattern.reads)
        yield from [pattern.harm.chance] if pattern.harm is not None else []


def _at(fault: Fault, book: Book, speech: Speech) -> str:
    said = [" and ".join(speech.place(at) for at in fault.at)]
    said += ["acts only while all of them are together"] if fault.together else []
    said += [f"{book.facts[fact].title}: {' or '.join(values)}" for fact, values in fault.only.items()]
    said += [
        f"{book.facts[fact].title}: {value}, {weight:g} times as likely"
        for fact, weights in fault.likelier.items()
        for value, weight in weights.items()
    ]
    said += [f"of one cause with {_kindred(fault, book)}"] if fault.cause else []
    said += ["normal, and taken for a fault"] if fault.is_normal else []
    said += ["whatever the book does not know of it"] if fault.is_unlisted else []
    said += [f"kin: nothing tells it from {_others(fault, book)}"] if fault.kin else []
    said += [] if fault.matters else ["may be handed back with it"]
    return "; ".join(said)


def _others(fault: Fault, book: Book) -> str:
    return ", ".join(other.title for other in book.faults.values() if other.kin == fault.kin and other is not fault)


def _kindred(fault: Fault, book: Book) -> str:
    """Return the faults that one common cause may bring along; where there are many, how many more."""
    names = [other.title for other in book.faults.values() if other.cause == fault.cause and other.id != fault.id]
    more = [f"{len(names) - MOST_KINDRED} more"] if len(names) > MOST_KINDRED else []
    return ", ".join([*names[:MOST_KINDRED], *more]) or f"nothing else yet ({fault.cause})"


def _prior(fault: Fault, book: Book) -> list[str]:
    aged = f" The older the likelier (Weibull shape {fault.wear:g})." if fault.wear > 1.0 else ""
    lines = [f"{chance(fault.base.p)} in a machine of five years that is brought in.{aged}"]
    by_chance = sorted(fault.after.items(), key=lambda item: -item[1].p)
    lines += [f"{book.events[event].title}: adds {chance(added.p)}" for event, added in by_chance]
    made = titles(book.openings, book.repairs)
    return [*lines, *(f"made by '{made[name]}': {chance(p.p)}" for name, p in fault.made_by.items())]


def _pattern(fault: Fault, pattern: Pattern, book: Book, speech: Speech) -> list[str]:
    share = f", {pattern.share:.0%}" if len(fault.patterns) > 1 else ""
    at = f" at {' and '.join(speech.place(at) for at in pattern.at)}" if pattern.at else ""
    lines = [f"{pattern.id.replace('_', ' ')}{share}{at}"]
    lines += [f"  {speech.act(act)}" for act in pattern.acts]
    lines += [f"  {speech.look(look)}" for look in pattern.looks]
    lines += [f"  {speech.read(read)}" for read in pattern.reads]
    if pattern.harm is not None:
        harm = pattern.harm
        hit = f"{book.faults[harm.as_fault].title}" if harm.as_fault in book.faults else harm.as_fault
        lines.append(f"  harms the {speech.place(harm.part)} at each power-up ({chance(harm.chance.p)}): {hit}")
    return lines


def _told_by(fault: Fault, book: Book) -> list[str]:
    checks = sorted((book.checks[name] for name in fault.told_by), key=lambda check: minutes_of(check, book))
    return [f"{check.id}: {check.title}, {amount(minutes_of(check, book), 'minutes')}" for check in checks]


def _rechecks(fault: Fault, book: Book) -> list[str]:
    names = dict.fromkeys(book.repairs[cure.repair].recheck for cure in fault.cures)
    return [f"{name}: {book.checks[name].title}" for name in names if name]


def _broken(fault: Fault, book: Book, speech: Speech) -> list[str]:
    """Return what its repairs, with the openings that lead to them, may bring in or disturb."""
    found: dict[str, float] = {}
    for cure in fault.cures:
        for line, p in _harms(cure, book, speech):
            found[line] = max(p, found.get(line, 0.0))
    best = sorted(found.items(), key=lambda item: (-item[1], item[0]))[:MOST_BROKEN]
    return [f"{line} ({chance(p)})" for line, p in best]


def _harms(cure: Cure, book: Book, speech: Speech) -> Iterable[tuple[str, float]]:
    repair = book.repairs[cure.repair]
    openings = OpeningsOf(book).chain(repair.opening)
    for doing in (repair.id, *openings):
        title = repair.title if doing == repair.id else book.openings[doing].title
        for other in book.faults.values():
            if doing in other.made_by and other.made_by[doing].p > 0.0:
                yield f"{title}: {other.title}", other.made_by[doing].p
    for opening in openings:
        for joint, p in book.openings[opening].disturbs.items():
            yield f"{book.openings[opening].title}: {speech.place(joint)} disturbed", p.p
