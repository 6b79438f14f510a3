"""What stands before every page: which hosts are answered, how much is taken in, and what a browser may do with it."""

import ipaddress
from collections.abc import Iterable

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BYTES = 22_000_000
"""The most that one form may send: a photo of 20 MB and what goes with it."""

FOREIGN, TOO_MUCH = "HS801", "HS803"
"""The codes of what is refused here."""

SAME_SITE = ("same-origin", "none")
"""Where a form may come from, as browsers say it: these pages, or the technician's own hand."""

POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
KEEP, ASK_AGAIN, KEEP_NOT = "public, max-age=31536000, immutable", "no-cache", "no-store"
"""How long a browser keeps an answer: a file whose address says which content it has for good, no page at all."""

_HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), microphone=(), geolocation=()",
}


class Guard:
    """Answers only what was asked for under a name that is ours, and takes forms only from our own pages.

    Args:
        app: what is behind it.
        names: names that the bench is called by; numbers of addresses are always taken, for no outsider can make a
            browser send his pages' forms to one of them under a name of his.
    """

    def __init__(self, app: ASGIApp, names: Iterable[str]) -> None:
        self._app = app
        self._names = {name.casefold() for name in names}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        refused = self._refusal(scope["method"], Headers(scope=scope), scope["scheme"])
        if refused is not None:
            await refused(scope, receive, _with_headers(send, scope))
            return
        await self._app(scope, _limited(receive), _with_headers(send, scope))

    def _refusal(self, method: str, headers: Headers, scheme: str) -> PlainTextResponse | None:
        host = headers.get("host", "")
        if not self._is_ours(_name_of(host)):
            return PlainTextResponse(f"{FOREIGN} this bench is not called so", 421)
        if method in ("GET", "HEAD"):
            return None
        origin, site = headers.get("origin"), headers.get("sec-fetch-site")
        is_foreign = site is not None and site not in SAME_SITE
        if is_foreign or (origin is not None and origin.casefold() != f"{scheme}://{host}".casefold()):
            return PlainTextResponse(f"{FOREIGN} this form was sent from another site", 403)
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > MOST_BYTES:
            return PlainTextResponse(f"{TOO_MUCH} this is more than a form may send", 413)
        return None

    def _is_ours(self, name: str) -> bool:
        if name.casefold() in self._names:
            return True
        try:
            ipaddress.ip_address(name)
        except ValueError:
            return False
        return True


class TooMuchError(Exception):
    """A form sent more than ``MOST_BYTES``."""


def _name_of(host: str) -> str:
    """Return the name or address in a Host header, without port and brackets."""
    if host.startswith("["):
        return host[1:].partition("]")[0]
    return host.rpartition(":")[0] if ":" in host else host


def _limited(receive: Receive) -> Receive:
    """Return what receives a request, but no more than a form may send, whatever its length was said to be."""
    got = 0

    async def receive_limited() -> Message:
        nonlocal got
        message = await receive()
        got += len(message.get("body", b""))
        if got > MOST_BYTES:
            raise TooMuchError
        return message

    return receive_limited


def _with_headers(send: Send, scope: Scope) -> Send:
    is_file = scope["path"].startswith("/static/")
    kept = KEEP if is_file and scope["query_string"].startswith(b"v=") else ASK_AGAIN if is_file else KEEP_NOT

    async def send_with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers[name] = value
            headers.setdefault("Cache-Control", kept if message["status"] < 400 else KEEP_NOT)
        await send(message)

    return send_with_headers
