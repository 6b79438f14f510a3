"""One visit to a page: who came, what was asked and what was entered; and how a page is answered."""

import logging
import secrets
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from types import MappingProxyType
from urllib.parse import unquote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from halfsplit.errors import InputError, Mistake, WebError
from halfsplit.settings import Settings
from halfsplit.web.desk import Desk

_log = logging.getLogger(__name__)

TOKEN = "halfsplit_token"
WHO = "halfsplit_who"
MOST_FIELDS = 600
MOST_TEXT_BYTES = 200_000
MOST_PHOTOS = 4
YEAR_SECONDS = 31_536_000

SEE_OTHER = 303

REFRESH = "X-Refresh"
"""The header of what a page sends by itself, to ask for what is worked out, or to say who is there: nothing rests for
that."""

EARLY = "X-Early"
"""The header of what a page asks for when a link is pressed: nobody is there yet, and may never be."""

BY_ITSELF = "X-Follow"
"""The header of a form that a page sends by itself: what it entered is the answer, and Content-Location says where it
leads to; a browser is sent on there."""


@dataclass(frozen=True)
class Visit:
    """One request, read.

    Args:
        desk: what pages are made from.
        path: what stands in the address ("number").
        query: what stands behind it, each once.
        fields: what a form sent, each with all of its values, in order.
        files: what else it sent: photos, a job file.
        who: initials, "" where nobody said.
        token: the secret that forms of this browser carry.
        now: the moment.
        method: of HTTP.
        address: the address that was asked for.
        is_early: whether it was asked for before anybody went there.
    """

    desk: Desk = field(repr=False)
    path: Mapping[str, str]
    query: Mapping[str, str]
    fields: Mapping[str, tuple[str, ...]]
    files: tuple[bytes, ...] = field(repr=False)
    who: str
    token: str = field(repr=False)
    now: datetime
    method: str
    address: str
    is_early: bool = False

    @cached_property
    def settings(self) -> Settings:
        """What the bench has set, read once for a visit."""
        return self.desk.settings()

    @property
    def number(self) -> int:
        """The number of the job that the address names."""
        return int(self.path["number"])

    def one(self, name: str) -> str:
        """Return what was entered in a field, without blanks around it; "" where nothing was."""
        return self.fields.get(name, ("",))[-1].strip()

    def all(self, name: str) -> tuple[str, ...]:
        """Return all that was entered in fields of one name."""
        return tuple(value for value in self.fields.get(name, ()) if value.strip())


Handler = Callable[[Visit], Response]
Refuser = Callable[[Visit, InputError], Response]
Teller = Callable[[Visit, str], Response]


def visited(handler: Handler, desk: Desk, refuse: Refuser, tell: Teller) -> Callable[[Request], Awaitable[Response]]:
    """Return what answers a request by a handler, which may take its time without holding up others.

    The first request of a day erases the persons whose day has come.

    Args:
        handler: makes the answer.
        desk: what it is made from.
        refuse: makes the answer where the handler says no.
        tell: makes the answer where a page of a job sent a form by itself.

    Any other exception of the handler is a fault of the program: it is logged, and told as one (HS806).
    """

    def handled(visit: Visit, request: Request) -> Response:
        desk.erase_due()
        response = handler(visit)
        if response.status_code == SEE_OTHER and "number" in visit.path and BY_ITSELF in request.headers:
            try:
                return tell(visit, response.headers["Location"])
            except Exception:  # it is entered: who is sent on finds it there
                _log.exception("what %s entered could not be told", visit.address)
        return response

    async def answer(request: Request) -> Response:
        if REFRESH not in request.headers:
            number, is_entry = int(request.path_params.get("number", 0)), request.method == "POST"
            desk.weigher.make_way(number, is_entry=is_entry)
        visit = await read_visit(request, desk)
        try:
            _check_token(visit, request)
            response = await run_in_threadpool(handled, visit, request)
        except InputError as error:
            response = await run_in_threadpool(refuse, visit, error)
        except Exception:
            _log.exception("%s %s failed", visit.method, visit.address)
            response = await run_in_threadpool(refuse, visit, WebError([_failed(visit)]))
        if request.cookies.get(TOKEN) != visit.token:
            response.set_cookie(TOKEN, visit.token, httponly=True, samesite="strict", path="/", max_age=YEAR_SECONDS)
        return response

    return answer


async def read_visit(request: Request, desk: Desk) -> Visit:
    """Return a request as it came."""
    fields: dict[str, tuple[str, ...]] = {}
    files: list[bytes] = []
    if request.method == "POST":
        async with request.form(max_files=MOST_PHOTOS, max_fields=MOST_FIELDS, max_part_size=MOST_TEXT_BYTES) as form:
            for name, value in form.multi_items():
                if isinstance(value, UploadFile):
                    content = await value.read()
                    files += [content] if content else []
                else:
                    fields[name] = (*fields.get(name, ()), value)
    return Visit(
        desk,
        MappingProxyType({name: str(value) for name, value in request.path_params.items()}),
        MappingProxyType(dict(request.query_params)),
        MappingProxyType(fields),
        tuple(files),
        unquote(request.cookies.get(WHO, "")),
        request.cookies.get(TOKEN) or secrets.token_urlsafe(24),
        desk.clock(),
        request.method,
        request.url.path + (f"?{request.url.query}" if request.url.query else ""),
        EARLY in request.headers,
    )


def _check_token(visit: Visit, request: Request) -> None:
    """Check that a form carries the secret that this browser was given with the page.

    Raises:
        WebError: HS801 it does not.
    """
    if request.method != "POST":
        return
    sent, kept = visit.one("token"), request.cookies.get(TOKEN, "")
    if not kept or not secrets.compare_digest(sent.encode(), kept.encode()):
        so, should = "it does not carry the mark of this browser", "a form is sent from a page of this bench"
        raise WebError([Mistake("form", "HS801", so, should, "Look at what was entered, and send it from here")])


def _failed(visit: Visit) -> Mistake:
    so, should = "the program failed here, and the fault is ours", "nothing of it was entered"
    return Mistake(
        visit.address, "HS806", so, should, "Try it once more, or go on by hand; the program's own log says more"
    )


def go_to(address: str) -> Response:
    """Return the answer that sends a browser on to a page, after something was entered."""
    return RedirectResponse(address, SEE_OTHER)
