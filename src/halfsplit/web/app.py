"""The application: which address is answered by what, and how it says no."""

from collections.abc import Iterable

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from halfsplit.errors import Mistake, WebError
from halfsplit.web.desk import Desk
from halfsplit.web.entered import show_entered
from halfsplit.web.guard import TOO_MUCH, Guard, TooMuchError
from halfsplit.web.mistakes_page import refuse
from halfsplit.web.routes import ROUTES
from halfsplit.web.screen import FOLDER
from halfsplit.web.visit import read_visit, visited

OWN_NAMES = ("localhost",)


def make_app(desk: Desk, *, names: Iterable[str] = OWN_NAMES) -> Starlette:
    """Return the application of a bench.

    Args:
        desk: what its pages are made from.
        names: names that the computer is called by, beside the numbers of its addresses.
    """

    async def say_no(request: Request, error: Exception) -> Response:
        """Answer an address that there is not, or a form that cannot be read."""
        status = error.status_code if isinstance(error, HTTPException) else 500
        if status not in (404, 405):
            return PlainTextResponse(f"{TOO_MUCH} this form cannot be read, or is more than a form may send", status)
        so, should = f"there is no page '{request.url.path}'", "an address is one of this bench's pages"
        mistake = Mistake("address", "HS802", so, should, "Go to the bench, and on from there")
        visit = await read_visit(request, desk)
        return await run_in_threadpool(refuse, visit, WebError([mistake]))

    async def too_much(request: Request, error: Exception) -> Response:
        return PlainTextResponse(f"{TOO_MUCH} this is more than a form may send", 413)

    routes = [
        Route(path, visited(handler, desk, refuse, show_entered), methods=[method], name=f"{method} {path}")
        for method, path, handler in ROUTES
    ]
    return Starlette(
        routes=[*routes, Mount("/static", StaticFiles(directory=FOLDER / "static"))],
        middleware=[Middleware(Guard, names=tuple(names))],
        exception_handlers={HTTPException: say_no, TooMuchError: too_much},
    )
