"""The bench's settings: who works there, its meters, and what it reckons with."""

import re
from dataclasses import asdict, dataclass, replace
from urllib.parse import quote

from starlette.responses import Response

from halfsplit.errors import InputError, Mistake, WebError
from halfsplit.measure import Meter, parse_meter
from halfsplit.model.rates import Rates
from halfsplit.settings import Settings, save_settings
from halfsplit.web.entry_fields import finite
from halfsplit.web.screen import show
from halfsplit.web.texts import say
from halfsplit.web.visit import WHO, YEAR_SECONDS, Visit, go_to

NO_MONEY = ("note", "years_to_half", "try_first", "stop_share", "call_share")
"""Rates that are no sum of money."""


_OWN = re.compile(r"/[!-\[\]-~]*")
"""An address of this bench: a path, of plain characters without a blank or a backslash."""


@dataclass(frozen=True)
class RateField:
    """One rate: its name, what it is, its value as it is written, and its unit."""

    name: str
    title: str
    value: str
    unit: str


@dataclass(frozen=True)
class SettingsPage:
    """The settings.

    Args:
        shop, currency, people, person_days: as they are written.
        meters: name, accuracy and resolution of each.
        rates: what the bench reckons with.
        is_first: whether nobody's initials are there yet.
        is_saved: whether they were just saved.
    """

    shop: str
    currency: str
    people: str
    person_days: int
    meters: tuple[tuple[str, str, str], ...]
    rates: tuple[RateField, ...]
    is_first: bool
    is_saved: bool


def show_settings(visit: Visit) -> Response:
    """Answer with the settings."""
    settings = visit.settings
    rates = tuple(
        RateField(
            name,
            say(f"rate.{name}"),
            f"{value:g}" if name in NO_MONEY else f"{value / 100:.2f}",
            say(f"unit.{name}") if name in NO_MONEY else settings.currency,
        )
        for name, value in asdict(settings.rates).items()
    )
    meters = tuple(
        (meter.name, f"{meter.percent_of_reading:g}%+{meter.digits:g}", f"{meter.resolution_volts:g}")
        for meter in settings.meters
    )
    page = SettingsPage(
        settings.shop,
        settings.currency,
        " ".join(settings.people),
        settings.person_days,
        meters,
        rates,
        not settings.people,
        "saved" in visit.query,
    )
    return show(visit, "settings", page)


def keep_settings(visit: Visit) -> Response:
    """Keep the settings; all mistakes at once, and then none is kept."""
    mistakes: list[Mistake] = []
    before = visit.settings
    rates = {}
    for name, value in asdict(before.rates).items():
        number = _number(visit.one(name), f"rates.{name}", mistakes) if visit.one(name) else value
        rates[name] = number * 100 if visit.one(name) and name not in NO_MONEY else number
    days = _number(visit.one("person_days") or str(before.person_days), "person_days", mistakes)
    settings = replace(
        before,
        shop=visit.one("shop"),
        currency=visit.one("currency") or before.currency,
        people=tuple(dict.fromkeys(visit.one("people").replace(",", " ").split())),
        person_days=int(days),
        meters=_meters(visit, before, mistakes),
        rates=Rates(**rates),
    )
    if mistakes:
        raise WebError(mistakes)
    save_settings(visit.desk.bench.store, settings)
    return go_to("/settings?saved=1")


def choose_who(visit: Visit) -> Response:
    """Note who is at this browser from now on."""
    response = go_to(_own_address(visit.one("back")))
    response.set_cookie(WHO, quote(visit.one("who")), httponly=True, samesite="strict", path="/", max_age=YEAR_SECONDS)
    return response


def _own_address(address: str) -> str:
    """Return an address of this bench, whatever was sent: browsers leave blanks and control characters out of one."""
    is_ours = _OWN.fullmatch(address) is not None and not address.startswith("//")
    return address if is_ours else "/"


def _number(words: str, place: str, mistakes: list[Mistake]) -> float:
    number = finite(words)
    if number is None:
        do = "Write digits, with a point or comma"
        mistakes.append(Mistake(place, "HS805", f"it is '{words}'", "it is a number", do))
    return number or 0.0


def _meters(visit: Visit, before: Settings, mistakes: list[Mistake]) -> tuple[Meter, ...]:
    """Return the meters as they were entered; a row without a name and accuracy is left out."""
    found = []
    rows = zip(
        visit.fields.get("meter_name", ()),
        visit.fields.get("meter_accuracy", ()),
        visit.fields.get("meter_step", ()),
        strict=False,
    )
    for name, accuracy, step in rows:
        if not accuracy.strip():
            continue
        resolution = _number(step or "0.01", f"meter {name}", mistakes)
        try:
            found.append(parse_meter(accuracy.strip(), resolution_volts=resolution, name=name.strip()))
        except InputError as error:
            mistakes += error.mistakes
    return tuple(found) or before.meters
