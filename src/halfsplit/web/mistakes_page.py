"""What is not as it should be, with its code and what to do; and what was entered, to be put right and sent again."""

from dataclasses import dataclass

from starlette.responses import Response

from halfsplit.errors import InputError, Mistake
from halfsplit.web.screen import show
from halfsplit.web.visit import Visit

NOT_FOUND = ("HS711", "HS724", "HS802", "HS904")
FORBIDDEN = ("HS801",)

UNSEEN = ("token", "passcode")
"""Fields that are not shown again."""


@dataclass(frozen=True)
class MistakesPage:
    """A page that says no.

    Args:
        mistakes: all of them.
        fields: what was entered: name and value, to be put right and sent again.
        address: where it is sent to, "" = nothing was.
        back: where to go on from.
    """

    mistakes: tuple[Mistake, ...]
    fields: tuple[tuple[str, str], ...]
    address: str
    back: str


def refuse(visit: Visit, error: InputError) -> Response:
    """Return the page that says what was not as it should be."""
    codes = {mistake.code for mistake in error.mistakes}
    status = 404 if codes & set(NOT_FOUND) else 403 if codes & set(FORBIDDEN) else 422
    sent = [(name, value) for name, values in visit.fields.items() for value in values if name not in UNSEEN]
    back = f"/jobs/{visit.path['number']}" if "number" in visit.path and "HS711" not in codes else "/"
    address = visit.address if visit.method == "POST" else ""
    return show(visit, "mistakes", MistakesPage(error.mistakes, tuple(sent), address, back), status=status)
