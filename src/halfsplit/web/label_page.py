"""Labels: of a job with the parts that are taken out of it, and of the parts of the shelf; made to be printed."""

from collections.abc import Iterable
from dataclasses import dataclass

from markupsafe import Markup
from starlette.responses import Response

from halfsplit import actions
from halfsplit.actions import JobView
from halfsplit.job.lines import title_of_slot
from halfsplit.job.setups import RIDES_ON
from halfsplit.job.units import OWNER, kind_of
from halfsplit.model.book import Book
from halfsplit.store.shelf import PartOnShelf
from halfsplit.web.codes import JOB, SHELF, Code, qr_of
from halfsplit.web.screen import day_of, show, whole_day
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

TAGGED = ("memory", "drive", "card", "processor", "supply", "cooler", "add_on_card", "radio", "cell", "monitor")
"""Kinds of part that are mixed up between two open machines, or left here (common practice)."""


@dataclass(frozen=True)
class Label:
    """One label.

    Args:
        qr: its QR, drawn.
        code: what stands in it.
        big: what is read from a metre away.
        lines: what stands below it, in small print.
    """

    qr: Markup
    code: str
    big: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class LabelPage:
    """Labels to be printed.

    Args:
        title: of the page.
        labels: for a machine or for parts of the shelf.
        tags: small ones, for the parts that are taken out of the machine.
        back: where to go on.
    """

    title: str
    labels: tuple[Label, ...]
    tags: tuple[Label, ...]
    back: str


def show_label(visit: Visit) -> Response:
    """Answer with the label of a job, and tags for its parts."""
    view = actions.job_view(visit.desk.bench, visit.number)
    row, book = view.row, view.on_file.book
    code, number = Code(JOB, str(row.number)), f"{row.number}"
    qr = qr_of(code, say("label.of_job", number=number))
    complaint = book.complaints[row.complaint].title if row.complaint in book.complaints else ""
    lines = (row.name, complaint, say("label.came", day=whole_day(day_of(row.opened_at))))
    label = Label(qr, str(code), number, tuple(line for line in lines if line))
    tags = tuple(Label(qr, str(code), number, (title,)) for title in _parts(view, book))
    page = LabelPage(say("label.job_title", number=number), (label,), tags, f"/jobs/{row.number}")
    return show(visit, "labels", page)


def show_shelf_labels(visit: Visit) -> Response:
    """Answer with the labels of the parts of the shelf; of one of them where it is asked for."""
    parts = actions.list_shelf(visit.desk.bench)[0]
    wanted = visit.query.get("part", "")
    labels = tuple(_of_part(part) for part in parts if not part.is_gone and wanted in ("", part.id))
    return show(visit, "labels", LabelPage(say("label.shelf_title"), labels, (), "/shelf"))


def _of_part(part: PartOnShelf) -> Label:
    code, title = Code(SHELF, part.id), part.title or part.id.replace("_", " ")
    return Label(qr_of(code, say("label.of_part", title=title)), str(code), title, (say("label.ours"),))


def _parts(view: JobView, book: Book) -> Iterable[str]:
    """Yield the titles of the owner's parts that get a tag of their own when they are taken out."""
    if view.course is None:
        return
    for slot in view.course.intake[OWNER].slots:
        if kind_of(slot) in TAGGED and kind_of(slot) not in RIDES_ON:
            yield title_of_slot(slot, book)
