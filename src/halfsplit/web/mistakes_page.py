"""What is not as it should be, with its code and what to do; and what was entered, to be put right and sent again."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from starlette.responses import Response

from halfsplit.errors import InputError, Mistake
from halfsplit.job.amounts import with_symbol
from halfsplit.job.units import kind_of
from halfsplit.web.number_field import asked_for, number_field
from halfsplit.web.screen import REFUSED, show
from halfsplit.web.texts import say, texts
from halfsplit.web.visit import Visit

STATUSES: Mapping[int, tuple[str, ...]] = MappingProxyType(
    {404: ("HS711", "HS724", "HS802", "HS904"), 403: ("HS801",), 500: ("HS806",)}
)
"""Status of the answer -> the codes that it is given for; all others are 422."""

ENTERED = ("HS705",)
"""Codes of what is left to do after all was entered: it is not to be sent again."""

UNSEEN = ("token", "passcode", "takes_back")
"""Fields that are not shown again."""

TYPED = (
    *(
        "words",
        "name",
        "title",
        "phone",
        "person",
        "email",
        "notes",
        "came_along",
        "waiting_for",
        "day",
        "code",
        "many",
    ),
    *("people", "shop", "currency", "person_days", "meter_name", "meter_accuracy", "meter_step"),
)
"""Fields that somebody writes into, beside numbers and rates; what others send is kept and not shown."""

TEXTS = {"settings": ("settings", "rate"), "shelf": ("shelf",), "new": ("intake",), "person": ("person", "intake")}
"""The last word of an address -> how the keys of the texts begin that its fields are labelled with."""


@dataclass(frozen=True)
class Sent:
    """One field as it was sent: its name, what it asks for, its value, and whether somebody wrote into it."""

    name: str
    title: str
    value: str
    is_typed: bool


@dataclass(frozen=True)
class MistakesPage:
    """A page that says no.

    Args:
        mistakes: all of them.
        title: the heading.
        fields: what was entered, to be put right and sent again.
        address: where it is sent to, "" = nothing is.
        back: where to go on from.
    """

    mistakes: tuple[Mistake, ...]
    title: str
    fields: tuple[Sent, ...]
    address: str
    back: str


def refuse(visit: Visit, error: InputError) -> Response:
    """Return the page that says what was not as it should be."""
    codes = {mistake.code for mistake in error.mistakes}
    status = next((status for status, which in STATUSES.items() if codes & set(which)), REFUSED)
    sent = [
        _sent(visit, name, value) for name, values in visit.fields.items() for value in values if name not in UNSEEN
    ]
    back = f"/jobs/{visit.path['number']}" if "number" in visit.path and "HS711" not in codes else "/"
    is_entered = bool(codes & set(ENTERED))
    address = visit.address if visit.method == "POST" and not is_entered else ""
    title = say("mistakes.left") if is_entered else say("mistakes.title") if address else say("mistakes.not_there")
    return show(visit, "mistakes", MistakesPage(error.mistakes, title, tuple(sent), address, back), status=status)


def _sent(visit: Visit, name: str, value: str) -> Sent:
    asked, book = asked_for(name), visit.desk.bench.book
    if asked is not None and kind_of(asked.what) in book.measurements:
        field = number_field(asked, book)
        return Sent(name, with_symbol(f"{field.title},", field.unit), value, True)
    keys = [f"{prefix}.{name}" for prefix in TEXTS.get(visit.address.rpartition("/")[2], ())]
    label = next((say(key) for key in keys if key in texts()), name.replace("_", " "))
    return Sent(name, label, value, name in TYPED or f"rate.{name}" in texts())
