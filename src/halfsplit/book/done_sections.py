"""The sections that say what is done: openings, hazards, checks, repairs."""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.book.conditions import read_conditions, read_only, read_setup
from halfsplit.book.desk import Desk
from halfsplit.book.form import Form
from halfsplit.book.machine_sections import forms_of, pair_of
from halfsplit.book.triggers import read_mended, read_trigger
from halfsplit.model.bench import LEAVES_OFF, REFERS, REPLACES, Check, Hazard, Inspection, Minutes, Opening, Repair
from halfsplit.model.machine import Fact

CHECK_KINDS = ("run", "inspect", "measure", "ask")

DEEDS = (
    "reseat",
    "clean",
    "straighten",
    "reset",
    "flash",
    REPLACES,
    "refit",
    "set",
    LEAVES_OFF,
    "watch",
    REFERS,
)
"""What a repair does."""

BARS = ("power", "owners_drive", "supply", "named")
"""What a rule keeps from being done while it is raised."""

ALWAYS_SHOWN = ("stop", "picture")
"""What every run shows besides signs; ``picture.ID`` is the picture of one output."""


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
            form.strengths("disturbs", "joints"),
            tuple(word for _, word in form.words("uses")),
            form.refs("hazards", "hazards"),
            form.is_yes("stays"),
        )
        form.close()
    return MappingProxyType(openings)


def read_hazards(desk: Desk, facts: Mapping[str, Fact], inspections: Mapping[str, Inspection]) -> Mapping[str, Hazard]:
    """Read ``hazards``; each has its caution (HS328), and mends what raises it (HS343)."""
    hazards = {}
    for form in forms_of(desk, "hazards", "hazard"):
        if "caution" not in form.slots and not form.is_blank:
            so = f"hazard '{form.id}' has no caution"
            should = "whoever is told of a hazard is told what to do about it"
            desk.say(form.place, "HS328", so, should, "Write 'caution: ...'")
        raised = read_trigger(form, "raised", facts, inspections)
        hazards[form.id] = Hazard(
            form.id,
            form.prose("title"),
            form.prose("caution", ""),
            form.choice("bars", BARS, ""),
            raised,
            read_trigger(form, "cleared", facts, inspections),
            read_mended(form, raised),
        )
        form.close()
    return MappingProxyType(hazards)


def read_checks(desk: Desk, facts: Mapping[str, Fact]) -> Mapping[str, Check]:
    """Read ``checks``."""
    shown = (*ALWAYS_SHOWN, *(f"picture.{output}" for output in desk.pages.sections["outputs"]))
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
            form.refs("asks", "signs", "inspections", "measurements", "events", "facts", also=shown),
            form.prose_map("results"),
            form.refs("tools", "tools"),
            form.refs("shelf", "shelf", "parts"),
            form.refs("hazards", "hazards"),
            form.refs("rules", "hazards"),
            read_only(form, facts),
            form.ref("needs", "ladder", default=""),
        )
        form.close()
    return MappingProxyType(checks)


def read_repairs(desk: Desk, facts: Mapping[str, Fact]) -> Mapping[str, Repair]:
    """Read ``repairs``; each but a referral has its re-check (HS327)."""
    repairs = {}
    for form in forms_of(desk, "repairs", "repair"):
        does = form.choice("does", DEEDS)
        at = form.ref("at", "parts", "joints")
        part = at if does == REPLACES and at in desk.ids("parts") else ""
        if "recheck" not in form.slots and does != REFERS and not form.is_blank:
            so = f"repair '{form.id}' has no re-check"
            should = "a repair is not proven before a check shows that it holds"
            desk.say(form.place, "HS327", so, should, "Write 'recheck: ...' with the id of a check")
        repairs[form.id] = Repair(
            form.id,
            form.prose("title"),
            does,
            at,
            form.ref("opening", "openings", default=""),
            read_minutes(form),
            form.prose_list("steps", needed=True),
            form.ref("recheck", "checks", default=""),
            form.ref("part", "parts", default="") or part,
            form.maybe_strength("p_proper"),
            form.refs("hazards", "hazards"),
            form.refs("rules", "hazards"),
            read_only(form, facts),
        )
        form.close()
    return MappingProxyType(repairs)


def read_minutes(form: Form) -> Minutes:
    """Read ``minutes``: hands-on, the place taken (as long, if it is left out), and calendar days."""
    form.node("minutes", needed=True)
    minutes = form.form("minutes", "minutes")
    if minutes is None:
        return Minutes(0.0, 0.0)
    hands_on = minutes.number("hands_on", unit="minutes")
    place = minutes.number("place", hands_on, unit="minutes")
    days = minutes.number("days", 0.0, unit="days")
    minutes.close()
    return Minutes(hands_on, place, days)
