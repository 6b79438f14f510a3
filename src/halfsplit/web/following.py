"""A form that a page sends by itself is answered with the page that a browser would be sent on to: one way, not two."""

from urllib.parse import unquote, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

ASKED = "x-follow"
"""The header by which a page asks for it; the answer's Content-Location is the address that it was sent on to."""

SEE_OTHER = 303


class Following:
    """Follows an address that a form leads to, where that is asked for.

    Args:
        app: what is behind it.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request."""
        if scope["type"] != "http" or ASKED not in Headers(scope=scope):
            await self._app(scope, receive, send)
            return
        to = ""

        async def send_but_where_to(message: Message) -> None:
            nonlocal to
            if message["type"] == "http.response.start" and message["status"] == SEE_OTHER:
                to = Headers(raw=message["headers"])["location"]
            if not to:
                await send(message)

        await self._app(scope, receive, send_but_where_to)
        if to:
            await self._app(_led_to(scope, to), _nothing, _located(send, to))


def _led_to(scope: Scope, to: str) -> Scope:
    """Return the request for the page that a form led to."""
    parts = urlsplit(to)
    about_form = (b"content-length", b"content-type", ASKED.encode())
    return {
        **{name: value for name, value in scope.items() if name not in ("path_params", "endpoint", "route")},
        "method": "GET",
        "path": unquote(parts.path),
        "raw_path": parts.path.encode(),
        "query_string": parts.query.encode(),
        "headers": [(name, value) for name, value in scope["headers"] if name not in about_form],
        "state": {},
    }


def _located(send: Send, to: str) -> Send:
    async def send_located(message: Message) -> None:
        if message["type"] == "http.response.start":
            MutableHeaders(scope=message)["Content-Location"] = to
        await send(message)

    return send_located


async def _nothing() -> Message:
    return {"type": "http.request", "body": b"", "more_body": False}
