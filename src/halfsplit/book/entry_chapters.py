"""What the pages of all entries but the faults say, chapter by chapter."""

from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType

from halfsplit.book.speech import Speech, chance, titles
from halfsplit.job.amounts import amount, length_in_words, with_symbol
from halfsplit.job.openings import OpeningsOf, minutes_of
from halfsplit.measure import rail_limits
from halfsplit.model.bench import (
    Check,
    Event,
    Hazard,
    Inspection,
    Measurement,
    Minutes,
    Opening,
    Repair,
    Sign,
    Trigger,
)
from halfsplit.model.book import Book
from halfsplit.model.faults import Act

_BARS: Mapping[str, str] = MappingProxyType(
    {
        "": "",
        "power": "every start of the owner's machine, while it is raised",
        "owners_drive": "every start with the owner's drive in, while it is raised",
        "supply": "every start that the supply which was measured would feed, while it is raised",
        "named": "the checks and repairs that name it, while it is raised",
    }
)

Chapters = list[tuple[str, list[str]]]
"""Heading and lines; a chapter without lines is left out of the page."""


def check_chapters(check: Check, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a check."""
    asked = titles(book.signs, book.inspections, book.measurements, book.events, book.facts)
    told = [fault for fault in book.faults.values() if check.id in fault.told_by]
    return [
        ("kind", [f"{check.kind} on the {book.hosts[check.host].title}" if check.host in book.hosts else check.kind]),
        ("why", _filled(check.why)),
        (
            "time",
            [*_time(check.minutes), f"{amount(minutes_of(check, book), 'minutes')} of hands with its openings"],
        ),
        ("opening", _openings(check.opening, book)),
        ("setup", [f"{speech.slot(slot)}: {_held(put, book)}" for slot, put in check.setup.items()]),
        ("conditions", [_condition(name, word, book) for name, word in check.conditions.items()]),
        ("only", only_lines(check.only, book)),
        ("needs", [*_rung(check.needs, book), *(_needed(name, book) for name in (*check.tools, *check.shelf))]),
        ("how", list(check.steps)),
        ("asks", [f"{name}: {asked[name]}" if name in asked else name for name in check.asks]),
        ("results", [f"{word.replace('_', ' ')}: {line}" for word, line in check.results.items()]),
        ("cautions", _cautions(check.hazards, book)),
        ("rules that no price overrides", _cautions(check.rules, book)),
        ("tells best", [f"{fault.id}: {fault.title}" for fault in told]),
    ]


def repair_chapters(repair: Repair, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a repair."""
    cured = [(fault, cure) for fault in book.faults.values() for cure in fault.cures if cure.repair == repair.id]
    made = [(fault, fault.made_by[repair.id]) for fault in book.faults.values() if repair.id in fault.made_by]
    made += [(fault, cure.comes) for fault, cure in cured if cure.comes is not None and cure.comes.p > 0.0]
    return [
        ("does", [f"{repair.does.replace('_', ' ')}: {speech.place(repair.at)}"]),
        ("time", _time(repair.minutes)),
        ("opening", _openings(repair.opening, book)),
        ("part", _filled(speech.place(repair.part) if repair.part else "")),
        ("done properly", [] if repair.p_proper is None else [speech.strength(repair.p_proper)]),
        ("only", only_lines(repair.only, book)),
        ("how", list(repair.steps)),
        ("checked again by", [f"{repair.recheck}: {book.checks[repair.recheck].title}"] if repair.recheck else []),
        ("cautions", _cautions(repair.hazards, book)),
        ("rules that no price overrides", _cautions(repair.rules, book)),
        ("cures", [f"{fault.id}: {fault.title}, {speech.strength(cure.goes)}" for fault, cure in cured]),
        ("may bring in", [f"{fault.id}: {fault.title} ({chance(p.p)})" for fault, p in made]),
    ]


def sign_chapters(sign: Sign, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a sign."""
    rungs = {rung.id: rung.title for rung in book.ladder.rungs}
    usual = "a sound machine shows it" if sign.is_on else "a sound machine does not show it"
    endings = [
        (fault, ending)
        for fault in book.faults.values()
        for p in fault.patterns
        for act in p.acts
        for ending in act.endings
    ]
    shown = {fault.id: fault.title for fault, ending in endings if sign.id in ending.shows}
    hidden = {fault.id: fault.title for fault, ending in endings if sign.id in ending.hides}
    return [
        ("needs", [f"{rungs[sign.needs]}; proves: {rungs[sign.proves]}; {usual}"]),
        ("on a screen", ["yes"] if sign.on_screen else []),
        ("only with", [speech.slot(slot) for slot in sign.has]),
        ("not there", [sign.said(was=False)]),
        ("owners say", _quoted(sign.words)),
        ("said anyway", [chance(sign.told_anyway)]),
        ("shown by", _listed(shown)),
        ("hidden by", _listed(hidden)),
        ("shown by the setup", [speech.act(act) for act in _forced(book, sign.id)]),
        ("asked by", [check.title for check in book.checks.values() if sign.id in check.asks]),
        ("rules", _ruled(book, lambda trigger: sign.id in trigger.shows)),
    ]


def event_chapters(event: Event, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of an event."""
    after = [(fault, fault.after[event.id]) for fault in book.faults.values() if event.id in fault.after]
    after.sort(key=lambda item: -item[1].p)
    eased = f"wear is {event.eases:g} x as likely after it" if event.eases != 1.0 else ""
    return [
        ("true when told", [f"{event.p_true:g}"]),
        ("eases", _filled(eased)),
        ("owners say", _quoted(event.words)),
        ("makes likelier", [f"{fault.id}: {fault.title}, adds {chance(p.p)}" for fault, p in after]),
        ("asked by", [check.title for check in book.checks.values() if event.id in check.asks]),
        ("rules", _ruled(book, lambda trigger: event.id in trigger.told)),
    ]


def inspection_chapters(inspection: Inspection, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of an inspection."""
    looks = [
        f"{look.word.replace('_', ' ')}: {fault.title}, seen {speech.strength(look.catch)}"
        for fault in book.faults.values()
        for pattern in fault.patterns
        for look in pattern.looks
        if look.inspection == inspection.id
    ]
    return [
        ("at", [speech.place(inspection.at)]),
        ("asks", _filled(inspection.asks)),
        ("may be seen", [word.replace("_", " ") for word in inspection.seen]),
        ("false alarm", [chance(inspection.false_alarm.p)]),
        ("opening", _openings(inspection.opening, book)),
        ("shows", list(dict.fromkeys(looks))),
        ("asked by", [check.title for check in book.checks.values() if inspection.id in check.asks]),
        ("rules", _ruled(book, lambda trigger: inspection.id in (*trigger.seen, *trigger.all_seen))),
    ]


def measurement_chapters(point: Measurement, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a measurement."""
    reads = [
        f"{fault.title}: {speech.read(read).partition(': ')[2]}"
        for fault in book.faults.values()
        for pattern in fault.patterns
        for read in pattern.reads
        if read.measurement == point.id
    ]
    limits = [f"at least {amount(point.low, point.unit)}"] if point.low is not None else []
    limits += [f"at most {amount(point.high, point.unit)}"] if point.high is not None else []
    rail = ", ".join(limits)
    if point.rail:
        low, high = rail_limits(point.rail).low_volts, rail_limits(point.rail).high_volts
        rail = f"{with_symbol(f'{low:g} to {high:g}', 'V')}, the published limits of {point.rail}"
    return [
        ("at", [speech.place(point.at)]),
        ("limits", [rail, point.source]),
        ("a bad value lies", [f"typically {amount(point.spread, point.unit)} outside"]),
        ("opening", _openings(point.opening, book)),
        ("moved by", list(dict.fromkeys(reads))),
        ("asked by", [check.title for check in book.checks.values() if point.id in check.asks]),
        ("rules", _ruled(book, lambda trigger: point.id in trigger.measured)),
    ]


def opening_chapters(opening: Opening, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of an opening."""
    made = [(fault, fault.made_by[opening.id]) for fault in book.faults.values() if opening.id in fault.made_by]
    return [
        (
            "time",
            [f"{amount(opening.minutes_open, 'minutes')} to open, {amount(opening.minutes_close, 'minutes')} to close"],
        ),
        ("inside", _openings(opening.inside, book)),
        ("powered up with it open", ["yes" if opening.stays else "never"]),
        ("disturbs", [f"{speech.place(joint)} ({chance(p.p)})" for joint, p in opening.disturbs.items()]),
        ("may bring in", [f"{fault.id}: {fault.title} ({chance(p.p)})" for fault, p in made]),
        ("uses", list(opening.uses)),
        ("cautions", _cautions(opening.hazards, book)),
        ("leads to", [each.title for each in _doings(book) if each.opening == opening.id]),
    ]


def hazard_chapters(hazard: Hazard, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a hazard."""
    met = [each.title for each in _doings(book) if hazard.id in (*each.hazards, *each.rules)]
    met += [opening.title for opening in book.openings.values() if hazard.id in opening.hazards]
    return [
        ("caution", [hazard.caution]),
        ("bars", _filled(_BARS[hazard.bars])),
        ("raised by", _trigger(hazard.raised, book)),
        ("cleared by", [*_trigger(hazard.cleared, book), *_mended(hazard, book)]),
        ("met in", met),
    ]


def _trigger(trigger: Trigger, book: Book) -> list[str]:
    """Return what raises or clears a rule, one thing a line."""
    lines = [f"told: {book.events[event].title}" for event in trigger.told]
    lines += [f"a run shows: {book.signs[sign].title}" for sign in trigger.shows]
    lines += _looks(trigger.seen, book)
    together = _looks(trigger.all_seen, book)
    lines += [f"all of these: {'; '.join(together)}"] if len(together) > 1 else together
    lines += [
        f"measured: {book.measurements[point].title}: {' or '.join(sides)}" for point, sides in trigger.measured.items()
    ]
    lines += [f"done: {book.repairs[repair].title}" for repair in trigger.repairs]
    lines += only_lines(trigger.facts, book)
    return [*lines, *(f"suspected from {p:g} on: {book.faults[fault].title}" for fault, p in trigger.faults.items())]


def _mended(hazard: Hazard, book: Book) -> Iterable[str]:
    """Yield what alone clears what a look raised, one look a line."""
    for look, repairs in hazard.mended.items():
        done = "; ".join(book.repairs[repair].title for repair in repairs)
        yield f"where '{book.inspections[look].title}' raised it, only a newer look there, or one of these: {done}"


def _looks(seen: Mapping[str, tuple[str, ...]], book: Book) -> list[str]:
    return [f"{book.inspections[look].title}: {' or '.join(words).replace('_', ' ')}" for look, words in seen.items()]


def _ruled(book: Book, has: Callable[[Trigger], bool]) -> list[str]:
    """Return the rules that something raises or clears."""
    hazards = book.hazards.values()
    raised = [f"raises '{hazard.title}'" for hazard in hazards if has(hazard.raised)]
    return [*raised, *(f"clears '{hazard.title}'" for hazard in hazards if has(hazard.cleared))]


def _forced(book: Book, sign: str) -> list[Act]:
    """Return what setups do that shows or hides a sign."""
    return [
        Act(forced.q, forced.endings, forced.when)
        for forced in book.forced
        if any(sign in (*ending.shows, *ending.hides) for ending in forced.endings)
    ]


def _doings(book: Book) -> list[Check | Repair]:
    return [*book.checks.values(), *book.repairs.values()]


def _filled(text: str) -> list[str]:
    return [text] if text else []


def _quoted(words: Iterable[str]) -> list[str]:
    return [f"\u201c{each}\u201d" for each in words]


def _listed(faults: Mapping[str, str]) -> list[str]:
    return [f"{name}: {title}" for name, title in faults.items()]


def _time(minutes: Minutes) -> list[str]:
    days = f", {amount(minutes.days, 'days')}" if minutes.days else ""
    hands, place = (amount(each, "minutes") for each in (minutes.hands_on, minutes.place))
    return [f"{hands} of hands, {place} of a place on the bench{days}"]


def _openings(name: str, book: Book) -> list[str]:
    chain = OpeningsOf(book).chain(name)
    return [", then ".join(book.openings[each].title for each in chain)] if chain else []


def only_lines(only: Mapping[str, tuple[str, ...]], book: Book) -> list[str]:
    """Return fact by fact which values of it are meant."""
    return [f"{book.facts[fact].title}: {' or '.join(values)}" for fact, values in only.items()]


def _held(put: str, book: Book) -> str:
    part = put.removeprefix("shelf.")
    return (book.shelf[part].title or part) if part in book.shelf else put


def _condition(name: str, word: str, book: Book) -> str:
    """Return one condition of a check's run in words."""
    words = {
        "load": ("busy with", titles(book.loads)),
        "position": ("stands", titles(book.positions)),
        "touched": ("meanwhile", titles(book.touches)),
        "started_by": ("started by", titles(book.starters)),
    }
    if name == "minutes":
        return f"for {length_in_words(60.0 * float(word))}"
    if name == "cold":
        return "cold" if word == "yes" else "warm"
    if name in words and word in words[name][1]:
        return f"{words[name][0]}: {words[name][1][word]}"
    return f"mains lead out before: {word}" if name == "lead_out" else f"{name.replace('_', ' ')}: {word}"


def _rung(needs: str, book: Book) -> list[str]:
    """Return what a check needs of the machine: that it gets to a rung of the ladder."""
    return [f"a machine that gets to: {rung.title}" for rung in book.ladder.rungs if rung.id == needs]


def _needed(name: str, book: Book) -> str:
    if name in book.tools:
        return book.tools[name].title
    return (book.shelf[name].title or name) if name in book.shelf else f"{book.kinds[name].title}, of the shelf"


def _cautions(names: Iterable[str], book: Book) -> list[str]:
    return [f"{book.hazards[name].title}: {book.hazards[name].caution}" for name in dict.fromkeys(names)]
