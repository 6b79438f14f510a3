"""The paper slip, A5: the fields of the job sheet to be filled in by hand, blank or with what a job has so far."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup
from starlette.responses import Response

from halfsplit import actions
from halfsplit.job.amounts import SYMBOLS, amount
from halfsplit.job.asked import placed_entries
from halfsplit.job.changes import Course
from halfsplit.job.columns import run_column
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.done import Done
from halfsplit.job.grids import memory_cells, output_cells
from halfsplit.job.lines import title_of, title_of_point, title_of_slot
from halfsplit.job.setups import RIDES_ON
from halfsplit.job.trail import walk_job
from halfsplit.job.units import OWNER, kind_of
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Inspect, Job, Measure, OwnedPart, RepairDone, Run, Told
from halfsplit.web.codes import JOB, Code, qr_of
from halfsplit.web.drawings import memory_grid, output_grid
from halfsplit.web.drawings.ladder import heads_shown
from halfsplit.web.log_rows import entry_in_words
from halfsplit.web.machine_words import machine_words
from halfsplit.web.screen import day_of, show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

RUNS = 6
"""Columns of the ladder: the last runs of a job, or blank ones."""

SIGNS = (
    "burnt_smell",
    "standby_light",
    "fans_turn",
    "self_test_beep",
    "memory_complaint",
    "card_complaint",
    "processor_complaint",
    "other_beeps",
    "caps_lock_answers",
    "logo_screen",
    "setup_opens",
    "no_boot_drive_message",
    "error_screen",
    "artefacts",
    "start_loop",
    "clock_wrong",
)
"""Signs that have a line of their own (common practice); others that a job's runs showed come first."""

MOST_SIGNS = 16

CHECKS = (
    "counter_run",
    "wall_watts",
    "other_outlet",
    "all_outside_off",
    "lead_out_hold",
    "output_grid",
    "sign_of_life",
    "exhaust_smell",
    "look_inside",
    "power_plugs_look",
    "seats_look",
    "speaker_on",
    "memory_grid",
    "card_out_other_output",
    "front_leads_off_pins",
    "minimum_parts",
    "short_to_ground",
    "hooked_up_supply",
    "out_of_case",
    "bench_stick",
    "drive_dock",
    "records",
    "settings_photo",
    "sensors_under_load",
    "load_all",
    "memory_test_overnight",
)
"""Checks with a box, in the order in which a bench comes to them (common practice)."""

POINTS = ("rail_5vsb", "rail_12v", "wall_watts_off", "wall_watts_on", "cell_volts", "cpu_temp_load")
"""Points to measure at that have a line of their own (common practice); what a job measured comes first."""

MOST_POINTS = 6

LEFT_OUT = ("sound", "network", "mouse", "headset", "case", "outlet")
"""Kinds of part that have no line in the setup: they are seldom taken out."""

MODULES = 4
"""Memory modules and slots on a blank slip."""

MOST_HEADS = 3
"""Words over a column that say what sets its run apart."""

LINES = 4
"""Lines for repairs and notes: the last repairs, and one blank line at least."""


@dataclass(frozen=True)
class SlipRun:
    """A column of the ladder: what sets the run apart, its marks highest rung first, and how it ended."""

    heads: tuple[str, ...] = ()
    marks: tuple[str, ...] = ()
    ended: str = ""


@dataclass(frozen=True)
class SlipPage:
    """The slip.

    Args:
        number: of the job, or "".
        qr: the code of the job, or nothing.
        name, complaint, machine: what is known of it, or "".
        came: the day that it came, or "".
        told: what was told, in a few words each.
        rungs: titles of the rungs, the highest first.
        runs: the columns of the ladder.
        signs: title of each sign, with "yes", "no", "unsure" or "" for each run.
        memory, outputs: the two grids.
        setup: title of each part, and what is there: "in", "out", or what is there instead; "" on a blank slip.
        checks: title and minutes of each check, and whether it was done.
        points: title, unit and last value of each point to measure at.
        repairs: what was done last.
        blanks: blank lines below that.
        back: where to go on.
    """

    number: str
    qr: Markup
    name: str
    complaint: str
    machine: str
    came: str
    told: tuple[str, ...]
    rungs: tuple[str, ...]
    runs: tuple[SlipRun, ...]
    signs: tuple[tuple[str, tuple[str, ...]], ...]
    memory: Markup
    outputs: Markup
    setup: tuple[tuple[str, str], ...]
    checks: tuple[tuple[str, str, bool], ...]
    points: tuple[tuple[str, str, str], ...]
    repairs: tuple[str, ...]
    blanks: int
    back: str


def show_blank_slip(visit: Visit) -> Response:
    """Answer with a blank slip."""
    book = visit.desk.bench.book
    job = Job(parts=tuple(OwnedPart(f"memory.{number}") for number in range(1, MODULES + 1)))
    return show(visit, "slip", slip_page(job, walk_job(job, book), book))


def show_slip(visit: Visit) -> Response:
    """Answer with the slip of a job, as far as it is known."""
    view = actions.job_view(visit.desk.bench, visit.number)
    book, job = view.on_file.book, view.job or Job()
    course = view.course if view.course is not None else walk_job(Job(), book)
    return show(visit, "slip", slip_page(job, course, book, number=view.row.number, came=day_of(view.row.opened_at)))


def slip_page(job: Job, course: Course, book: Book, *, number: int = 0, came: str = "") -> SlipPage:
    """Return a slip.

    Args:
        job: the job, or the machine that a blank slip is for.
        course: what its log did to the machine.
        book: the fault book.
        number: of the job, 0 = a blank slip.
        came: the day that it came, or "".
    """
    told, log = apply_corrections(job, [])
    told = (*told, *(entry for entry in log if isinstance(entry, Told)))
    runs = [entry for entry in log if isinstance(entry, Run)][-RUNS:]
    repairs = tuple(entry_in_words(entry, book) for entry in log if isinstance(entry, RepairDone))
    return SlipPage(
        f"{number}" if number else "",
        qr_of(Code(JOB, f"{number}"), say("label.of_job", number=number)) if number else Markup(),
        job.name,
        book.complaints[job.complaint].title if job.complaint in book.complaints else "",
        "; ".join(machine_words(job, book)) if number else "",
        came,
        tuple(entry_in_words(entry, book).removeprefix("told: ") for entry in told),
        tuple(rung.title for rung in reversed(book.ladder.rungs)),
        tuple([_column(run, book) for run in runs] + [SlipRun()] * (RUNS - len(runs))),
        tuple(_signs(runs, book)),
        memory_grid(memory_cells(course, book)),
        output_grid(output_cells(course, book)),
        tuple(_setup(course, book, is_blank=not number)),
        tuple(_checks(job, course, book)),
        tuple(_points(log, book)),
        repairs[-LINES:],
        max(LINES - len(repairs), 1),
        f"/jobs/{number}" if number else "/",
    )


def _column(run: Run, book: Book) -> SlipRun:
    column = run_column(run, book)
    return SlipRun(
        heads_shown(column, MOST_HEADS), column.marks[::-1], say(f"ended.{column.ended}") if column.ended else ""
    )


def _signs(runs: Sequence[Run], book: Book) -> Iterable[tuple[str, tuple[str, ...]]]:
    """Yield each sign with what the runs say of it; those that were said come first."""
    said = [name for run in runs for name, was in run.seen.signs.items() if was == "yes"]
    names = [name for name in dict.fromkeys((*said, *SIGNS)) if name in book.signs][:MOST_SIGNS]
    for name in names:
        marks = [run.seen.signs.get(name, "") for run in runs]
        yield book.signs[name].title, tuple(marks + [""] * (RUNS - len(marks)))


def _setup(course: Course, book: Book, *, is_blank: bool) -> Iterable[tuple[str, str]]:
    before, now = course.intake[OWNER].slots, course.standing[OWNER].slots
    for slot in dict.fromkeys((*before, *now)):
        kind = kind_of(slot)
        if kind in RIDES_ON or kind in LEFT_OUT or kind not in book.kinds:
            continue
        was, held = before.get(slot, ""), now.get(slot, "")
        state = "in" if held and held == was else "out" if not held else title_of(held, book)
        yield title_of_slot(slot, book), "" if is_blank else state


def _checks(job: Job, course: Course, book: Book) -> Iterable[tuple[str, str, bool]]:
    done = Done(job)
    for check in (book.checks[name] for name in CHECKS if name in book.checks):
        entries = placed_entries(check, course.standing[OWNER], book)
        readings = [entry for entry in entries if isinstance(entry, Run | Inspect | Measure)]
        yield check.title, amount(round(check.minutes.hands_on), "minutes"), bool(readings) and done.is_read(entries)


def _points(log: Iterable[Entry], book: Book) -> Iterable[tuple[str, str, str]]:
    measured = {entry.what: f"{entry.value:g}" for entry in log if isinstance(entry, Measure)}
    for name in [*dict.fromkeys((*measured, *POINTS))][:MOST_POINTS]:
        point = book.measurements.get(name.partition(".")[0])
        if point is not None:
            yield title_of_point(name, book), SYMBOLS[point.unit], measured.get(name, "")
