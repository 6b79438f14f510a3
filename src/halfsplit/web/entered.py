"""What a tap has entered, in a few words, with the way to take it back.

A page that sends a form by itself is answered with that alone, and with where the form leads to: what was entered
stands on the page at once, and what follows from it is fetched behind it.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from starlette.responses import Response

from halfsplit.actions import JobView, job_view
from halfsplit.actions.taps import UNDO, last_lines, last_tap
from halfsplit.job.units import kind_of
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Inspect
from halfsplit.store.log import LogLine
from halfsplit.web.log_rows import log_rows
from halfsplit.web.passing import DECIDE, REASONS, WITHOUT_NUMBERS
from halfsplit.web.screen import show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

STAY = "stay"
"""The field of a form on a page of a job where there may be more to enter: it leads back there, as the field says."""

_STAYS = re.compile(r"(seen|rebuild)(\?check=[\w,]*)?")


@dataclass(frozen=True)
class Entered:
    """What somebody entered last, as long as it, or what they entered before it, can be taken back.

    Args:
        entry: the id of the last entry of the tap.
        line: what that says, in a few words, and how many more there were; where it took something back, what can be
            taken back next, if there is anything.
        seconds: how long it is shown.
        takes_back: the id of the last entry of the tap that can be taken back; "" = there is none.
    """

    entry: str
    line: str
    seconds: int
    takes_back: str


@dataclass(frozen=True)
class EnteredPage:
    """What a tap has entered.

    Args:
        number: of the job.
        entered: it, or None where nothing can be taken back.
        stay: the page of the job that it was tapped on and that is stayed on, as its address ends; None = the sheet.
    """

    number: int
    entered: Entered | None
    stay: str | None


def show_entered(visit: Visit, to: str) -> Response:
    """Answer a page that sent a form by itself with what that entered, and with where it leads to."""
    view, stay = job_view(visit.desk.bench, visit.number), staying(visit)
    if stay is not None and view.row.is_open:
        visit.desk.weigher.ask(visit.number)  # the sheet, where that is seen to, is not looked at for now
    answer = show(visit, "entered", EnteredPage(visit.number, entered(visit, view), stay))
    answer.headers["Content-Location"] = to
    return answer


def staying(visit: Visit) -> str | None:
    """Return the page of the job that was tapped on and is stayed on, as its address ends; None = the sheet follows."""
    page = visit.one(STAY)
    return page if _STAYS.fullmatch(page) else None


def entered(visit: Visit, view: JobView) -> Entered | None:
    """Return what the last tap of whoever is at the page entered; None where that is too long ago."""
    now = visit.now + timedelta(seconds=1)  # it is read and tapped later
    last = last_lines(view.lines, by=visit.who, now=now)
    if not last:
        return None
    tap = last_tap(view.lines, view.job.log if view.job is not None else (), by=visit.who, now=now)
    line = _said(tap or last, visit, view)
    if tap and tap[-1] != last[-1]:
        line = say("job.undo_next", next=line)
    left = UNDO - (visit.now - datetime.fromisoformat((tap or last)[-1].at))
    return Entered(last[-1].entry, line, int(left.total_seconds()), tap[-1].entry if tap else "")


def _said(tap: Sequence[LogLine], visit: Visit, view: JobView) -> str:
    """Return what a tap entered, in a few words: what it passed over, or what was not fine, or else its first entry."""
    rows = log_rows(view, visit.settings.currency, tap)
    decided, first = rows[0], rows[-1]
    if decided.kind == DECIDE and not decided.line.startswith(REASONS[WITHOUT_NUMBERS]):
        row = decided
    else:
        log = view.job.log if view.job is not None else ()
        fine = {entry.id for entry in log if _is_fine(entry, view.spoken)}
        row = next((each for each in reversed(rows) if each.entry not in fine), first)
    more = say("job.undo_more", many=str(len(tap) - 1)) if len(tap) > 1 else ""
    return f"{row.line}{more}"


def _is_fine(entry: Entry, book: Book) -> bool:
    return isinstance(entry, Inspect) and entry.seen == book.inspections[kind_of(entry.what)].fine
