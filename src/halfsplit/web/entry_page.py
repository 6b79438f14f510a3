"""One entry of the log, to be corrected in the words by which it was entered, or taken back."""

from dataclasses import dataclass

from starlette.responses import Response

from halfsplit import actions
from halfsplit.actions import JobView
from halfsplit.errors import InputError, Mistake, WebError
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.units import OWNER
from halfsplit.model.job import Correct, Entry, Job
from halfsplit.model.machine import Setup
from halfsplit.web.entry_fields import Chapter, Group, chapters_of, corrected
from halfsplit.web.entry_form import EntryForm, check_entry, correction_text
from halfsplit.web.entry_text import fields_text
from halfsplit.web.log_rows import LogRow, log_rows
from halfsplit.web.screen import REFUSED, show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit, go_to

RUN = "run"
"""The kind of entry that has a name on the ladder."""


@dataclass(frozen=True)
class EntryPage:
    """One entry, to be corrected.

    Args:
        number: of the job.
        entry: the entry's id.
        name: what it is called: a run as on the ladder, anything else by its kind.
        kind: the kind of entry, in words.
        line: what it says now, in a few words.
        chapters: its fields; none where it can only be taken back.
        is_gone: whether it is withdrawn.
        mistakes: why what was sent was not entered.
    """

    number: int
    entry: str
    name: str
    kind: str
    line: str
    chapters: tuple[Chapter, ...]
    is_gone: bool
    mistakes: tuple[Mistake, ...] = ()


def show_entry(visit: Visit) -> Response:
    """Answer with one entry, to be corrected."""
    view = actions.job_view(visit.desk.bench, visit.number)
    row = _row(visit, view)
    return show(visit, "entry", _page(visit, row, chapters_of(_groups(visit, view, row), {})))


def correct(visit: Visit) -> Response:
    """Correct an entry: its fields as they should have been, or that it never was so.

    What is refused comes back as it was filled in, with what is not as it should be.
    """
    view = actions.job_view(visit.desk.bench, visit.number)
    row, entry = _row(visit, view), visit.path["entry"]
    groups = _groups(visit, view, row)
    try:
        if visit.one("withdraw"):
            text = fields_text("correct", {"entry": entry, "withdrawn": "yes"})
        elif visit.one("bring_back"):
            text = fields_text("correct", {"entry": entry, "withdrawn": "no"})
        else:
            text = _changed(visit, view, groups)
        actions.record(visit.desk.bench, visit.number, text, by=visit.who, now=visit.now)
    except InputError as error:
        page = _page(visit, row, chapters_of(groups, visit.fields), error.mistakes)
        return show(visit, "entry", page, status=REFUSED)
    return go_to(f"/jobs/{visit.number}#log")


def _changed(visit: Visit, view: JobView, groups: tuple[Group, ...]) -> str:
    """Return the correction that a form comes to.

    Raises:
        WebError: HS805, nothing was changed, an answer cannot be read, or the answers do not go together.
    """
    entry = _standing_entry(visit, view)
    now = corrected(entry, groups, visit.fields) if entry is not None else None
    if entry is None or now is None or now == entry:
        do = say("entry.change_first")
        raise WebError([Mistake("form", "HS805", say("entry.unchanged"), say("entry.changes"), do)])
    check_entry(now, view.on_file.book)
    return correction_text(entry, now, view.on_file.book)


def _row(visit: Visit, view: JobView) -> LogRow:
    rows = log_rows(view, visit.settings.currency)
    row = next((row for row in rows if row.entry == visit.path["entry"] and row.page.startswith("entries/")), None)
    if row is None:
        so, should = f"'{visit.path['entry']}' is no entry that can be corrected", "it is one of the log"
        raise WebError([Mistake(f"job {visit.number}", "HS802", so, should, "Take it from the log on the sheet")])
    return row


def _standing_entry(visit: Visit, view: JobView) -> Entry | None:
    """Return the entry with its corrections; None where it is withdrawn."""
    told, log = apply_corrections(view.job or Job(), [])
    return next((entry for entry in (*told, *log) if entry.id == visit.path["entry"]), None)


def _groups(visit: Visit, view: JobView, row: LogRow) -> tuple[Group, ...]:
    entry = _standing_entry(visit, view)
    if entry is None or row.is_gone or isinstance(entry, Correct):
        return ()
    standing = view.course.standing.get(OWNER) if view.course is not None else None
    settings = visit.settings
    form = EntryForm(standing or Setup(OWNER, {}), view.on_file.book, settings.currency, settings.meters)
    return form.groups(entry)


def _page(visit: Visit, row: LogRow, chapters: tuple[Chapter, ...], mistakes: tuple[Mistake, ...] = ()) -> EntryPage:
    kind = say(f"kind.{row.kind}")
    name = row.name if row.kind == RUN else kind
    return EntryPage(visit.number, row.entry, name, kind, row.line, chapters, row.is_gone, mistakes)
