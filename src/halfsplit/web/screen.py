"""The screen: a page's record laid out by its template, with the frame that all pages share."""

import contextlib
import hashlib
from dataclasses import dataclass, is_dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import BytecodeCache, Environment, FileSystemBytecodeCache, FileSystemLoader, StrictUndefined
from jinja2.bccache import Bucket
from markupsafe import Markup
from starlette.responses import HTMLResponse, Response

from halfsplit.book.cache import cache_dir
from halfsplit.job.amounts import amount, counted
from halfsplit.text import money_in_words
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

FOLDER = Path(__file__).parent

REFUSED = 422
"""The status of HTTP of a form that comes back with what is not as it should be."""

_DAY = 86_400

HASH_LETTERS = 12
"""So many hexadecimal digits of a file's SHA-256 tell one content of it from another."""


@dataclass(frozen=True)
class Frame:
    """What is around every page.

    Args:
        token: the secret that its forms carry.
        who: initials of whoever is at it, or "".
        people: initials of those who work here.
        here: the address of the page, to come back to.
        today: the day, as it is written on the sheet.
        currency: of every sum.
    """

    token: str
    who: str
    people: tuple[str, ...]
    here: str
    today: str
    currency: str


def show(visit: Visit, template: str, page: object, *, status: int = 200) -> Response:
    """Return a page.

    Args:
        visit: who asks.
        template: its file, without the ending.
        page: its record, a frozen dataclass: all that the template may use beside the frame.
        status: of HTTP.
    """
    if not is_dataclass(page):
        raise TypeError(page)
    settings = visit.settings
    today = visit.desk.today().isoformat()
    frame = Frame(visit.token, visit.who, settings.people, visit.address, today, settings.currency)
    return HTMLResponse(_environment().get_template(f"{template}.html").render(page=page, frame=frame), status)


def day_in_words(moment: str, now: datetime) -> str:
    """Return how long ago a moment was, in whole units and in one line.

    Example:
        >>> now = datetime.fromisoformat("2030-06-14T12:00:00+00:00")
        >>> day_in_words("2030-06-14T11:30:00+00:00", now), day_in_words("2030-06-12T11:00:00+00:00", now)
        ('30\\xa0min\\xa0ago', '2\\xa0days\\xa0ago')
    """
    seconds = (now - datetime.fromisoformat(moment)).total_seconds()
    if seconds >= _DAY:
        return f"{counted(seconds // _DAY, 'day')}\u00a0ago"
    for size, unit in ((3600, "hours"), (60, "minutes")):
        if seconds >= size:
            return f"{amount(seconds // size, unit)}\u00a0ago"
    return say("just now")


def clock_time(moment: str) -> Markup:
    """Return a moment as it is read off at the bench, in one line: month, day and time by the clock of its computer."""
    if not moment:
        return Markup()
    shown = datetime.fromisoformat(moment).astimezone().strftime("%m-%d %H:%M")
    return Markup('<time datetime="{}">{}</time>').format(moment, shown)


def day_of(moment: str) -> str:
    """Return the day of a moment, as in 2030-01-31, by the clock of the bench's computer."""
    return datetime.fromisoformat(moment).astimezone().date().isoformat()


def whole_day(day: str) -> Markup:
    """Return a day, written as in 2030-01-31, in one line."""
    return Markup("<time>{}</time>").format(day)


@cache
def static_address(file: str) -> str:
    """Return the address of a file in ``static``: it says which content is meant, so that a browser may keep it."""
    content = (FOLDER / "static" / file).read_bytes()
    return f"/static/{file}?v={hashlib.sha256(content).hexdigest()[:HASH_LETTERS]}"


class _KeptCode(FileSystemBytecodeCache):
    """Keeps the code that templates are made into; what cannot be kept is made anew."""

    def load_bytecode(self, bucket: Bucket) -> None:
        """Take a template's code from the folder, if it is there."""
        with contextlib.suppress(OSError):
            super().load_bytecode(bucket)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Put a template's code into the folder, if that can be written."""
        with contextlib.suppress(OSError):
            super().dump_bytecode(bucket)


def _kept_code() -> BytecodeCache | None:
    """Return what keeps the code of templates in the user's cache folder, or None where there is none."""
    top = cache_dir()
    if top is None:
        return None
    folder = top / "templates"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    return _KeptCode(str(folder))


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(FOLDER / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=_kept_code(),
    )
    helpers: dict[str, Any] = {
        "say": say,
        "static": static_address,
        "money": money_in_words,
        "amount": amount,
        "clock_time": clock_time,
        "whole_day": whole_day,
    }
    environment.globals.update(helpers)
    return environment
