"""The sections that say what is seen: events, signs, tools, inspections, measurements."""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.book.desk import ABOVE_0, ANY, AT_LEAST_0, Desk
from halfsplit.book.form import Form
from halfsplit.book.machine_sections import forms_of
from halfsplit.book.strength import read_basis
from halfsplit.measure import RAIL_NAMES
from halfsplit.model.bench import Event, Inspection, Measurement, Sign, Tool

FINE = "fine"
"""The last of the words of every inspection."""

UNITS = ("volts", "ohms", "watts", "celsius", "rpm")


def read_events(desk: Desk) -> Mapping[str, Event]:
    """Read ``events``."""
    events = {}
    for form in forms_of(desk, "events", "event"):
        events[form.id] = Event(
            form.id,
            form.prose("title"),
            form.chance("p_true", 0.95),
            form.number("eases", 1.0, unit="", within=AT_LEAST_0),
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
            on_screen=form.is_yes("screen"),
            is_on=form.is_yes("on"),
            has=form.refs("has", "parts"),
            words=form.prose_list("words"),
            told_anyway=form.chance("told_anyway", 0.05),
            absent=form.prose("absent", ""),
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
        seen = tuple(word for _, word in form.words("seen", needed=True))
        if seen and (seen[-1] != FINE or len(seen) == 1 or len(set(seen)) != len(seen)):
            so = f"the words seen are {', '.join(seen)}"
            should = f"they are different words, worst first, and the last of several is '{FINE}'"
            desk.say(form.place_of("seen"), "HS308", so, should, f"End the list with '{FINE}', each word once")
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
        rail = form.choice("rail", RAIL_NAMES, "")
        low = form.maybe_number("low", unit=unit, within=ANY)
        high = form.maybe_number("high", unit=unit, within=ANY)
        _check_limits(form, rail, low, high)
        source = form.node("source")
        basis = "common practice" if source is None else read_basis(desk, source)
        desk.rest_on([node.place for node in (form.node("low"), form.node("high")) if node is not None], basis)
        measurements[form.id] = Measurement(
            form.id,
            form.prose("title"),
            unit,
            form.ref("at", "parts", "joints"),
            rail,
            low,
            high,
            form.number("spread", 0.5, unit=unit, within=ABOVE_0),
            form.ref("opening", "openings", default=""),
            basis,
        )
        form.close()
    return MappingProxyType(measurements)


def _check_limits(form: Form, rail: str, low: float | None, high: float | None) -> None:
    has_own = "low" in form.slots or "high" in form.slots
    has_rail = "rail" in form.slots
    so = ""
    if has_rail == has_own and not form.is_blank:
        so = f"measurement '{form.id}' has {'a rail and' if has_rail else 'no rail and no'} limits of its own"
    elif low is not None and high is not None and low >= high:
        so = f"the low limit {low:g} is not below the high limit {high:g}"
    if so:
        should = "it has a 'rail' with published limits, or a 'low' below a 'high' (one may be left out)"
        form.desk.say(form.place, "HS334", so, should, "Correct the limits")
