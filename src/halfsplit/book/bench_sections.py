"""The sections that say what is seen, asked and done at the bench: events to repairs."""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.book.desk import Desk
from halfsplit.book.form import Form, yes_no_of
from halfsplit.book.machine_sections import forms_of, pair_of
from halfsplit.book.strength import read_basis
from halfsplit.book.tree import Text
from halfsplit.book.words import parse_number, parse_yes_no
from halfsplit.measure.rails import RAIL_NAMES
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
    Tool,
)
from halfsplit.model.machine import Fact

FINE = "fine"
"""The last of the words of every inspection."""

UNITS = ("volts", "ohms", "watts", "celsius", "rpm")
CHECK_KINDS = ("run", "inspect", "measure", "ask")
REPAIR_WORDS = (
    "reseat",
    "clean",
    "straighten",
    "reset",
    "flash",
    "replace",
    "refit",
    "set",
    "leave_off",
    "watch",
    "refer",
)
ALWAYS_ASKED = ("stop", "picture")
"""What every run shows besides signs; ``picture.ID`` is the picture of one output."""

PUT = ("out", "in", "owner", "shelf")
"""What may be put in a slot, besides a part of the shelf."""


def read_events(desk: Desk) -> Mapping[str, Event]:
    """Read ``events``."""
    events = {}
    for form in forms_of(desk, "events", "event"):
        events[form.id] = Event(
            form.id,
            form.prose("title"),
            form.chance("p_true", 0.95),
            form.number("eases", 1.0),
            form.prose_list("words"),
        )
        form.close()
    return MappingProxyType(events)


def read_signs(desk: Desk) -> Mapping[str, Sign]:
    """Read ``signs``."""
    signs = {}
    for form in forms_of(desk, "signs", "sign"):
        signs[form.id] = Sign(
            form.id,
            form.prose("title"),
            form.ref("needs", "ladder"),
            form.ref("proves", "ladder"),
            on_screen=form.yes_no("screen", default=False),
            is_on=form.yes_no("on", default=False),
            has=form.refs("has", "parts"),
            words=form.prose_list("words"),
            told_anyway=form.chance("told_anyway", 0.05),
        )
        form.close()
    return MappingProxyType(signs)


def read_tools(desk: Desk) -> Mapping[str, Tool]:
    """Read ``tools``."""
    tools = {}
    for form in forms_of(desk, "tools", "tool"):
        tools[form.id] = Tool(form.id, form.prose("title"), form.chance("reach"))
        form.close()
    return MappingProxyType(tools)


def read_inspections(desk: Desk) -> Mapping[str, Inspection]:
    """Read ``inspections``; the last of the words seen is "fine" (HS308)."""
    inspections = {}
    for form in forms_of(desk, "inspections", "inspection"):
        seen = form.word_list("seen", needed=True)
        if seen and (seen[-1] != FINE or len(set(seen)) != len(seen) or len(seen) == 1):
            desk.say(
                form.place_of("seen"),
                "HS308",
                f"the words seen are {', '.join(seen)}",
                f"they are different words, worst first, and the last is '{FINE}'",
                f"End the list with '{FINE}'",
            )
        inspections[form.id] = Inspection(
            form.id,
            form.prose("title"),
            form.ref("at", "parts", "joints"),
            seen,
            form.ref("opening", "openings", default=""),
            form.strength("false_alarm"),
            form.prose("asks", ""),
        )
        form.close()
    return MappingProxyType(inspections)


def read_measurements(desk: Desk) -> Mapping[str, Measurement]:
    """Read ``measurements``; each has a rail, or limits of its own (HS334)."""
    measurements = {}
    for form in forms_of(desk, "measurements", "measurement"):
        unit = form.choice("unit", UNITS)
        low, high = form.limit("low", unit=unit), form.limit("high", unit=unit)
        rail = form.choice("rail", RAIL_NAMES, "")
        own = low is not None or high is not None
        if bool(rail) == own or (low is not None and high is not None and low >= high):
            desk.say(
                form.place,
                "HS334",
                f"measurement '{form.id}' has {'both a rail and' if rail else 'neither a rail nor'} limits of its own"
                if bool(rail) == own
                else f"the low limit {low:g} is not below the high limit {high:g}",
                "it has a 'rail' with published limits, or a 'low' below a 'high', either side left open",
                "Correct the limits",
            )
        source = form.node("source")
        measurements[form.id] = Measurement(
            form.id,
            form.prose("title"),
            unit,
            form.ref("at", "parts", "joints"),
            rail,
            low,
            high,
            form.number("spread", 0.5, unit=unit, above=0.0),
            form.ref("opening", "openings", default=""),
            "common practice" if source is None else read_basis(desk, source),
        )
        form.close()
    return MappingProxyType(measurements)


def read_openings(desk: Desk) -> Mapping[str, Opening]:
    """Read ``openings``."""
    openings = {}
    for form in forms_of(desk, "openings", "opening"):
        minutes_open, minutes_close = pair_of(form, "minutes", "minutes")
        openings[form.id] = Opening(
            form.id,
            form.prose("title"),
            form.ref("inside", "openings", default=""),
            minutes_open,
            minutes_close,
            form.strengths_by("disturbs", "joints"),
            form.word_list("uses"),
            form.refs("hazards", "hazards"),
        )
        form.close()
    return MappingProxyType(openings)


def read_hazards(desk: Desk) -> Mapping[str, Hazard]:
    """Read ``hazards``; each has its caution (HS328)."""
    hazards = {}
    for form in forms_of(desk, "hazards", "hazard"):
        caution = form.prose("caution", "")
        if not caution and "caution" not in form.slots and not form.is_blank:
            desk.say(
                form.place,
                "HS328",
                f"hazard '{form.id}' has no caution",
                "whoever is told of a hazard is told what to do about it",
                "Write 'caution: ...'",
            )
        hazards[form.id] = Hazard(form.id, form.prose("title"), caution)
        form.close()
    return MappingProxyType(hazards)


def read_checks(desk: Desk, facts: Mapping[str, Fact]) -> Mapping[str, Check]:
    """Read ``checks``."""
    pictures = (*ALWAYS_ASKED, *(f"picture.{output}" for output in desk.ids(("outputs",))))
    checks = {}
    for form in forms_of(desk, "checks", "check"):
        checks[form.id] = Check(
            form.id,
            form.prose("title"),
            form.choice("kind", CHECK_KINDS),
            form.ref("opening", "openings", default=""),
            read_minutes(form),
            form.prose_list("steps", needed=True),
            form.prose("why", ""),
            read_setup(form),
            read_conditions(form),
            form.ref("host", "hosts", default="owner"),
            form.refs("asks", "signs", "inspections", "measurements", "events", "facts", also=pictures),
            form.prose_map("results"),
            form.refs("tools", "tools"),
            form.refs("shelf", "shelf", "parts"),
            form.refs("hazards", "hazards"),
            form.word_list("rules"),
            read_only(form, facts),
        )
        form.close()
    return MappingProxyType(checks)


def read_repairs(desk: Desk, facts: Mapping[str, Fact]) -> Mapping[str, Repair]:
    """Read ``repairs``; each but a referral has its re-check (HS327)."""
    repairs = {}
    for form in forms_of(desk, "repairs", "repair"):
        does = form.choice("does", REPAIR_WORDS)
        at = form.ref("at", "parts", "joints")
        recheck = form.ref("recheck", "checks", default="")
        if "recheck" not in form.slots and does != "refer" and not form.is_blank:
            desk.say(
                form.place,
                "HS327",
                f"repair '{form.id}' has no re-check",
                "a repair is not proven before a check shows that it holds",
                "Write 'recheck: ...' with the id of a check",
            )
        repairs[form.id] = Repair(
            form.id,
            form.prose("title"),
            does,
            at,
            form.ref("opening", "openings", default=""),
            read_minutes(form),
            form.prose_list("steps", needed=True),
            recheck,
            form.ref("part", "parts", default=at if does == "replace" and at in desk.ids(("parts",)) else ""),
            form.strength("p_proper") if form.slot("p_proper") else None,
            form.refs("hazards", "hazards"),
            form.word_list("rules"),
            read_only(form, facts),
        )
        form.close()
    return MappingProxyType(repairs)


def read_minutes(form: Form) -> Minutes:
    """Read ``minutes``: hands-on, the place taken (as long, if it is left out), and calendar days."""
    node = form.node("minutes", needed=True)
    if node is None:
        return Minutes(0.0, 0.0)
    minutes = Form(form.desk, form.place_of("minutes"), node, "minutes")
    hands_on = minutes.number("hands_on", unit="minutes")
    read = Minutes(
        hands_on, minutes.number("place", hands_on, unit="minutes"), minutes.number("days", 0.0, unit="days")
    )
    minutes.close()
    return read


def read_only(form: Form, facts: Mapping[str, Fact]) -> Mapping[str, tuple[str, ...]]:
    """Read ``only``: the facts of the machine that something needs."""
    found = {}
    only = Form(form.desk, form.place_of("only"), node, "only") if (node := form.node("only")) else None
    if only is None:
        return MappingProxyType({})
    for fact_id, slot in only.slots.items():
        only.asked[fact_id] = None
        if form.desk.id_at(slot.place, fact_id, ("facts",)) is None:
            continue
        values = facts[fact_id].values
        if not values:
            form.desk.say(
                slot.place,
                "HS308",
                f"fact '{fact_id}' is a plain number",
                "'only' asks for values",
                "Leave it out",
            )
            continue
        found[fact_id] = tuple(
            word for place, word in only.placed_words(fact_id) if form.desk.word_at(place, word, values)
        )
    return MappingProxyType(found)


def read_setup(form: Form) -> Mapping[str, str]:
    """Read ``setup`` of a check: slot -> what is in it, ``output``, ``case``."""
    desk = form.desk
    found = {}
    for slot_name, slot in form.entries("setup"):
        text = desk.text_of(slot.node, f"'{slot_name}'")
        if text is None:
            continue
        if slot_name == "case":
            is_right = desk.word_at(slot.node.place, text, ("in", "out"))
        elif slot_name == "output":
            is_right = desk.id_at(slot.node.place, text, ("outputs",)) is not None
        else:
            kind = slot_kind(desk, slot_name)
            is_right = (
                desk.id_at(
                    slot.place, slot_name if kind is None else kind, ("parts",), also=("case", "output")
                )
                is not None
            )
            unit = text.removeprefix("shelf.")
            is_right &= desk.id_at(slot.node.place, unit, ("shelf",), also=PUT) is not None
        if is_right:
            found[slot_name] = text
    return MappingProxyType(found)


def slot_kind(desk: Desk, slot_name: str) -> str | None:
    """Return the kind of part of a slot (``memory.2``), or None when it is none."""
    kind, _, number = slot_name.partition(".")
    if kind in desk.ids(("parts",)) and (not number or parse_number(number) is not None):
        return kind
    return None


def read_conditions(form: Form) -> Mapping[str, str]:
    """Read ``conditions`` of a check, as text by the names of a job file."""
    desk = form.desk
    node = form.node("conditions")
    if node is None:
        return MappingProxyType({})
    conditions = Form(desk, form.place_of("conditions"), node, "conditions")
    found: dict[str, str] = {}
    if conditions.slot("load"):
        found["load"] = conditions.ref("load", "loads")
    for key in ("cold", "lead_out"):
        value = conditions.node(key)
        if value is not None and yes_no_of(desk, value, f"'{key}'") is not None and isinstance(value, Text):
            found[key] = "yes" if parse_yes_no(value.text) else "no"
    for key in ("minutes", "lead_out_minutes"):
        value = conditions.node(key)
        if value is not None and desk.number_of(value, f"'{key}'", unit="minutes", low=0.0) is not None:
            found[key] = value.text if isinstance(value, Text) else ""
    for key, sections in CONDITION_WORDS.items():
        if conditions.slot(key):
            found[key] = conditions.ref(key, *sections)
    conditions.close()
    return MappingProxyType(found)


CONDITION_WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "position": ("positions",),
        "touched": ("touches",),
        "started_by": ("starters",),
        "first_after": ("conditions", "events", "repairs", "openings"),
    }
)
"""The conditions that are words, and the sections that they are from."""
