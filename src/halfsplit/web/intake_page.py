"""Intake: what the owner says, as tiles; every question may be left out, and nothing has to be typed."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from types import MappingProxyType

from starlette.responses import Response

from halfsplit import actions
from halfsplit.book import find_offers
from halfsplit.job.corrections import apply_corrections
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.store.persons import Person
from halfsplit.web.entry_fields import read_whole
from halfsplit.web.entry_text import fields_text, quoted
from halfsplit.web.once import new_mark
from halfsplit.web.screen import show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit, go_to

HAZARDS = ("smell", "smoke", "spill", "shock", "bang")
"""Events that end all power-ups until they are cleared; their tiles lie beside the complaint's."""

BEFORE = (
    "opened_by_owner",
    "opened_by_shop",
    "cleaned_inside",
    "new_memory",
    "new_card",
    "new_drive",
    "new_supply",
    "system_update",
    "driver_update",
    "firmware_update",
    "carried",
    "moved_house",
    "knocked",
    "power_cut",
    "storm",
    "long_unused",
    "child_or_pet",
    "got_slower_first",
    "noisier_first",
    "drive_warned",
)
"""Events that are asked for first; any other is found by the owner's words."""

TRIED = ("other_outlet", "new_monitor", "new_video_cable", "cables_replugged", "settings_reset", "system_reinstalled")

ENDS: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "off": {"stop": "cuts_out"},
        "restarts": {"stop": "resets"},
        "freezes": {"stop": "freezes"},
        "error": {"signs": "[error_screen]"},
        "stripes": {"signs": "[artefacts]"},
        "beeps": {"signs": "[other_beeps]"},
        "slow": {"signs": "[slow]"},
        "noisy": {"signs": "[fan_rattles]"},
    }
)
"""What it does -> the fields that say so."""

WHEN: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {"load": {"load": "games"}, "cold": {"cold": "yes"}, "warm": {"cold": "no"}}
)
"""When it does so -> the fields that say so."""

KINDS: Mapping[str, str] = MappingProxyType(
    {
        "ready_plain": "{kind: ready_made, card: none}",
        "ready_card": "{kind: ready_made, card: {}}",
        "built_plain": "{kind: built, card: none}",
        "built_card": "{kind: built, card: {}}",
    }
)
"""Kind of machine at the counter -> what is then known of it."""

AGES: Mapping[str, float] = MappingProxyType({"new": 1, "young": 3.5, "grown": 6.5, "old": 11})
"""Age at the counter -> years, the middle of what it stands for."""

SUMS = (50, 100, 200, 400)
"""Limits that are offered, in whole units of the bench's currency."""

DUE_DAYS: Mapping[str, int] = MappingProxyType({"tomorrow": 1, "three_days": 3, "week": 7})


@dataclass(frozen=True)
class Tile:
    """One tile: what it sends, and what stands on it."""

    value: str
    title: str


@dataclass(frozen=True)
class IntakePage:
    """The intake of a machine.

    Args:
        complaints, hazards, always, ends, when, before, tried, kinds, ages, copied, locked, sums, due: the
            tiles of each question.
        comeback_of: the number of the earlier job, or "".
        mark: tells this form from any other that is shown: sent twice it opens one job.
    """

    complaints: tuple[Tile, ...]
    hazards: tuple[Tile, ...]
    always: tuple[Tile, ...]
    ends: tuple[Tile, ...]
    when: tuple[Tile, ...]
    before: tuple[Tile, ...]
    tried: tuple[Tile, ...]
    kinds: tuple[Tile, ...]
    ages: tuple[Tile, ...]
    copied: tuple[Tile, ...]
    locked: tuple[Tile, ...]
    sums: tuple[Tile, ...]
    due: tuple[Tile, ...]
    comeback_of: str
    mark: str


@dataclass(frozen=True)
class OfferLine:
    """Something that the owner's words may mean, and what is entered if so."""

    title: str
    phrase: str
    yes: str


@dataclass(frozen=True)
class StoryPage:
    """The owner's words, and what of the book they may mean.

    Args:
        number: of the job.
        words: the owner's words.
        offers: what they may mean, likeliest first.
        told: what was told, in a few words each.
    """

    number: int
    words: str
    offers: tuple[OfferLine, ...]
    told: tuple[str, ...]


def show_intake(visit: Visit) -> Response:
    """Answer with the intake of a new machine."""
    book, currency = visit.desk.bench.book, visit.settings.currency
    page = IntakePage(
        tuple(Tile(name, noun.title) for name, noun in book.complaints.items()),
        _events(HAZARDS, book),
        _tiles("always", ("yes", "no")),
        _tiles("ends", ENDS),
        _tiles("when", WHEN),
        _events(BEFORE, book),
        _events(TRIED, book),
        _tiles("kinds", KINDS),
        _tiles("ages", AGES),
        _tiles("copied", ("yes", "no")),
        _tiles("locked", ("encrypted", "open")),
        tuple(Tile(str(units), f"{units} {currency}") for units in SUMS),
        _tiles("due", DUE_DAYS),
        visit.query.get("comeback_of", ""),
        new_mark(),
    )
    return show(visit, "intake", page)


def take_in(visit: Visit) -> Response:
    """Open a job from what was told at the counter; a form that was sent already leads to the job that it opened."""
    number = visit.desk.once.do(visit.one("mark"), lambda: _open(visit))
    return go_to(f"/jobs/{number}/told" if visit.one("words") else f"/jobs/{number}#next")


def _open(visit: Visit) -> int:
    earlier, due = visit.one("comeback_of"), DUE_DAYS.get(visit.one("due"))
    person = Person(visit.one("person"), visit.one("phone"))
    return actions.open_job(
        visit.desk.bench,
        _machine(visit),
        by=visit.who,
        now=visit.now,
        comeback_of=read_whole(say("intake.comeback_of"), earlier) if earlier else None,
        told="\n".join(_statements(visit)),
        promised=None if due is None else visit.desk.today() + timedelta(days=due),
        person=None if person == Person() else person,
    )


def show_told(visit: Visit) -> Response:
    """Answer with the owner's words and what they may mean."""
    view = actions.job_view(visit.desk.bench, visit.number)
    book = view.on_file.book
    entries = apply_corrections(view.job or Job(), [])[0]
    words = visit.query.get("words", "") or " ".join(entry.words for entry in entries if entry.words)
    known = {entry.event for entry in entries} | {
        sign for entry in entries if entry.seen is not None for sign in entry.seen.signs
    }
    offers = [offer for offer in find_offers(words, book) if offer.id not in known] if words else []
    lines = [_offer(offer.kind, offer.id, offer.title, offer.phrase) for offer in offers]
    told = [book.events[entry.event].title for entry in entries if entry.event and entry.is_true]
    page = StoryPage(visit.number, words, tuple(line for line in lines if line is not None), tuple(told))
    return show(visit, "told", page)


def _offer(kind: str, name: str, title: str, phrase: str) -> OfferLine | None:
    if kind == "event":
        return OfferLine(title, phrase, fields_text("told", {"event": name}))
    if kind == "sign":
        return OfferLine(title, phrase, fields_text("told", {"signs": f"[{name}]"}))
    return OfferLine(title, phrase, fields_text("told", {"stop": name})) if kind == "stop" else None


def _machine(visit: Visit) -> str:
    lines = []
    if visit.one("name"):
        lines.append(f"name: {quoted(visit.one('name'))}")
    facts = [KINDS[visit.one("kind")].strip("{").removesuffix("}")] if visit.one("kind") in KINDS else []
    if visit.one("age") in AGES:
        facts.append(f"age_years: {AGES[visit.one('age')]:g}")
    if visit.one("locked"):
        facts.append(f"drive_lock: {visit.one('locked')}")
    if facts:
        lines.append(f"machine: {{{', '.join(facts)}}}")
    if visit.one("complaint"):
        lines.append(f"complaint: {visit.one('complaint')}")
    return "\n".join(lines)


def _statements(visit: Visit) -> Iterable[str]:
    """Yield what was told as entries of the log."""
    when = {name: value for each in visit.all("when") if each in WHEN for name, value in WHEN[each].items()}
    always = visit.one("always")
    ends = [ENDS[each] for each in visit.all("ends") if each in ENDS]
    for number, shown in enumerate(ends or ([_COMPLAINED[visit.one("complaint")]] if _is_told(visit, when) else [])):
        yield fields_text("told", {**shown, **when, "always": always if number == 0 else ""})
    for event in (*visit.all("hazard"), *visit.all("before"), *visit.all("tried")):
        yield fields_text("told", {"event": event})
    if visit.one("words"):
        yield fields_text("told", {"words": quoted(visit.one("words"))})
    if visit.one("copied"):
        yield fields_text("note", {"text": quoted(say(f"copied.{visit.one('copied')}_note"))})
    if visit.one("came_along"):
        yield fields_text("note", {"text": quoted(say("intake.came_along_note", what=visit.one("came_along")))})
    if visit.one("sum"):
        yield fields_text("agree", {"text": quoted(say("intake.sum_note")), "cost": visit.one("sum")})


_COMPLAINED: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "nothing_happens": {"not": "starts"},
        "lights_no_picture": {"picture": "none"},
        "picture_then_stops": {"not": "log_in"},
    }
)
"""Complaint class -> what a run at home shows by it, where it was told when, or whether it is always so."""


def _is_told(visit: Visit, when: Mapping[str, str]) -> bool:
    complaint = visit.one("complaint")
    return complaint in _COMPLAINED and bool(when or visit.one("always"))


def _events(names: Iterable[str], book: Book) -> tuple[Tile, ...]:
    return tuple(Tile(name, book.events[name].title) for name in names if name in book.events)


def _tiles(question: str, names: Iterable[str]) -> tuple[Tile, ...]:
    return tuple(Tile(name, say(f"{question}.{name}")) for name in names)
