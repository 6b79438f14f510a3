"""What is known of the machine, and of the complaint: filled in as it is seen, and put right where it was not so."""

from dataclasses import dataclass

from starlette.responses import Response

from halfsplit import actions
from halfsplit.errors import InputError, Mistake, WebError
from halfsplit.jobfile import write_known
from halfsplit.model.job import Job
from halfsplit.web.entry_fields import Chapter, chapters_of, corrected
from halfsplit.web.machine_fields import machine_groups
from halfsplit.web.screen import REFUSED, show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit, go_to


@dataclass(frozen=True)
class MachinePage:
    """What is known of a machine.

    Args:
        number: of the job.
        chapters: its fields.
        mistakes: why what was sent was not entered.
    """

    number: int
    chapters: tuple[Chapter, ...]
    mistakes: tuple[Mistake, ...] = ()


def show_machine(visit: Visit) -> Response:
    """Answer with what is known of the machine of a job, to be filled in."""
    view = actions.job_view(visit.desk.bench, visit.number)
    groups = machine_groups(view.job or Job(), view.on_file.book)
    return show(visit, "machine", MachinePage(visit.number, chapters_of(groups, {})))


def keep_machine(visit: Visit) -> Response:
    """Enter what is known of a machine; what is refused comes back as it was filled in.

    Raises:
        StoreError: HS711 there is no such job; HS713 it is put away.
    """
    view = actions.job_view(visit.desk.bench, visit.number)
    job = view.job or Job()
    groups = machine_groups(job, view.on_file.book)
    try:
        now = corrected(job, groups, visit.fields)
        if now == job:
            do = say("machine.change_first")
            raise WebError([Mistake("form", "HS805", say("entry.unchanged"), say("machine.changes"), do)])
        actions.describe(visit.desk.bench, visit.number, write_known(now, job), by=visit.who, now=visit.now)
    except InputError as error:
        page = MachinePage(visit.number, chapters_of(groups, visit.fields), error.mistakes)
        return show(visit, "machine", page, status=REFUSED)
    return go_to(f"/jobs/{visit.number}#next")
