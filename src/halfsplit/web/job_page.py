"""The job sheet: what to do next, how far each fault is to be suspected, the ladder, the log, the setup."""

from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from halfsplit.actions import JobView, job_view
from halfsplit.errors import Mistake
from halfsplit.job.columns import run_column
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.grids import memory_cells, output_cells
from halfsplit.job.lines import book_of
from halfsplit.job.units import OWNER
from halfsplit.model.job import Job, Run
from halfsplit.store.jobs import JobRow
from halfsplit.store.states import COLLECTED, STATES
from halfsplit.web.drawings import ladder, machine_map, memory_grid, output_grid
from halfsplit.web.entered import Entered, entered
from halfsplit.web.log_rows import LogRow, log_rows
from halfsplit.web.machine_words import machine_words
from halfsplit.web.next_part import NextPart, next_part, standing_of
from halfsplit.web.proof import Proof, proofs_of
from halfsplit.web.setup_chips import Chip, chips_of
from halfsplit.web.standing import Standing
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

NEWEST = 8
"""Lines of the log that are shown at once."""

UNTOLD_DAYS = 2
"""So many days without a word to the owner are shown (common practice)."""


@dataclass(frozen=True)
class JobPage:
    """The job sheet.

    Args:
        number: of the job.
        name: what the job is called.
        complaint: the complaint class as the trade says it, or "".
        machine: what is known of the machine, a few words each.
        state: its title, with what the job waits for.
        states: the states that it may be brought into: id and title.
        is_open: whether it is neither collected nor put away.
        is_put_away: whether it is put away.
        days_untold: days since the owner was last spoken to, 0 where it is not long.
        promised_on: the day that it is promised for, or "".
        comeback_of: the earlier job that it comes back from, or None.
        next: the part that follows a tap.
        ladder: the ladder with the runs; empty before the first.
        rows: the log, newest first.
        newest: so many of them are shown at once; the others are folded away.
        entered: what was entered last, as long as it can be taken back with one tap; None = nothing.
        plan: the machine as a drawn map, hatched by suspicion as far as it is weighed.
        memory: modules by slots, and what runs showed of each pair.
        outputs: outputs by cables and monitors, likewise.
        chips: what is in the machine now.
        proofs: runs that prove that it holds; none of a job that is closed.
        photos: hash and title.
        mistakes: why the log cannot be read.
        is_other_book: whether the fault book is another than the job was opened with.
    """

    number: int
    name: str
    complaint: str
    machine: tuple[str, ...]
    state: str
    states: tuple[tuple[str, str], ...]
    is_open: bool
    is_put_away: bool
    days_untold: int
    promised_on: str
    comeback_of: int | None
    next: NextPart
    ladder: Markup
    rows: tuple[LogRow, ...]
    newest: int
    entered: Entered | None
    plan: Markup
    memory: Markup
    outputs: Markup
    chips: tuple[Chip, ...]
    proofs: tuple[Proof, ...]
    photos: tuple[tuple[str, str], ...]
    mistakes: tuple[Mistake, ...]
    is_other_book: bool


def job_page(visit: Visit) -> JobPage:
    """Return the sheet of a job.

    Raises:
        StoreError: HS711 there is no such job.
    """
    view = job_view(visit.desk.bench, visit.number)
    book, row = view.on_file.book, view.row
    job = view.job or Job()
    log = apply_corrections(job, [])[1]
    rungs = tuple((rung.id, rung.title) for rung in book.ladder.rungs)
    columns = tuple(run_column(entry, book) for entry in log if isinstance(entry, Run))
    complaint = book.complaints[row.complaint].title if row.complaint in book.complaints else ""
    standing = standing_of(visit, view)
    rows = log_rows(view, visit.settings.currency)
    return JobPage(
        row.number,
        row.name,
        complaint,
        tuple(machine_words(job, book)),
        state_of(row),
        tuple((name, title) for name, title in STATES.items() if name not in (COLLECTED, row.state)),
        row.is_open,
        bool(row.put_away_at),
        days_untold(row, visit.now),
        row.promised_on,
        row.comeback_of,
        next_part(visit, view, standing),
        ladder(rungs, columns, href=lambda run: f"/jobs/{row.number}/entries/{run}"),
        rows,
        NEWEST,
        entered(visit, view),
        machine_plan(view, standing),
        *_grids(view),
        chips_of(view.course, book) if view.course is not None else (),
        proofs_of(job, view.course, book) if row.is_open else (),
        tuple((photo.hash, photo.title) for photo in view.photos if not photo.is_private),
        view.mistakes,
        view.is_other_book,
    )


def machine_plan(view: JobView, standing: Standing | None) -> Markup:
    """Return the machine's map, hatched by suspicion as far as it is weighed; empty where it cannot be drawn."""
    course, book = view.course, view.on_file.book
    if course is None:
        return Markup()
    parts = None if standing is None else standing.weighed.parts if standing.weighed is not None else ()
    before, now, at = course.intake[OWNER], course.standing[OWNER], f"/jobs/{view.row.number}/seen"
    key = ("plan", *view.on_file.book_key, repr(before), repr(now), parts, at)
    return view.on_file.bench.memory.get(
        key, lambda: machine_map(book_of(course, book), before, now, parts, href=lambda _: at)
    )


def _grids(view: JobView) -> tuple[Markup, Markup]:
    """Return the memory grid and the output grid; what cannot be drawn is empty."""
    course, book = view.course, view.on_file.book
    if course is None:
        return Markup(), Markup()
    return memory_grid(memory_cells(course, book)), output_grid(output_cells(course, book))


def state_of(row: JobRow) -> str:
    """Return where a job is: its state with what it waits for, or that it is put away."""
    return say("state.is_put_away") if row.put_away_at else state_in_words(row.state, row.waiting_for)


def state_in_words(state: str, waiting_for: str) -> str:
    """Return a state with what is waited for."""
    title = STATES.get(state, state)
    return f"{title}: {waiting_for}" if waiting_for else title


def days_untold(row: JobRow, now: datetime) -> int:
    """Return the days since the owner of an open job was last spoken to, 0 where it is not long."""
    days = (now - datetime.fromisoformat(row.contacted_at or row.opened_at)).days
    return days if row.is_open and days >= UNTOLD_DAYS else 0
