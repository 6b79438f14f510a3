"""Two grids of the bench, filled from the log: memory modules by slots, and outputs by cables by monitors.

The last run of a cell counts.  A run that says nothing of what the grid asks is no try.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from halfsplit.job.changes import Course
from halfsplit.job.columns import run_column
from halfsplit.job.lines import numbered, title_of
from halfsplit.job.pictures import STAGES
from halfsplit.job.units import OWNER, Together, kind_of, number_of
from halfsplit.job.weighed import NOT_REACHED, REACHED, STOPPED
from halfsplit.model.book import Book
from halfsplit.model.job import YES, Run

PASSED, FAILED, NOT_TRIED = "passed", "failed", "not_tried"
"""What the runs so far say of one cell."""

MEMORY, CABLE, MONITOR = "memory", "video_cable", "monitor"
"""The kinds of part that the grids are about."""

MEMORY_PASSES = "memory_passes"

FAILING_SIGNS = ("memory_complaint", "memory_test_errors")
"""Signs of a run in which memory failed, however far the run came."""


@dataclass(frozen=True)
class Cell:
    """What the runs say of one row in one column.

    Args:
        state: PASSED, FAILED or NOT_TRIED.
        run: the id of the run that says so, or "".
        with_others: of memory that failed, whether other modules were in, so that it may be one of those.
    """

    state: str = NOT_TRIED
    run: str = ""
    with_others: bool = False


@dataclass(frozen=True)
class Grid:
    """A grid of the bench.

    Args:
        rows, columns: pairs of id and title, in the order in which they are shown.
        cells: (row, column) -> what the runs say, for every row and column.
    """

    rows: tuple[tuple[str, str], ...]
    columns: tuple[tuple[str, str], ...]
    cells: Mapping[tuple[str, str], Cell]

    @property
    def is_tried(self) -> bool:
        """Whether any run says something."""
        return any(cell.state != NOT_TRIED for cell in self.cells.values())


def memory_cells(course: Course, book: Book) -> Grid:
    """Return the memory grid of a job: each module in each slot of the owner's machine, or on another host.

    Args:
        course: what the log did to the machine (``walk_job``).
        book: the fault book.

    Returns:
        A run in which memory passed is a pass of every module that was in.  Memory failed where the run stopped
        just before "memory passes", where it stopped under a load on memory, and where beeps, a lamp or a test
        said so.  A module that failed alone has failed; one that failed among others has not if it passed
        another run in that slot, and else is ``with_others``.
    """
    modules = dict.fromkeys(_units_of(MEMORY, course.intake[OWNER].slots))
    columns = dict.fromkeys(slot for slot in course.intake[OWNER].slots if kind_of(slot) == MEMORY)
    found: dict[tuple[str, str], Cell] = {}
    for run, together in _runs(course):
        slots = {slot: unit for slot, unit in together.setup.slots.items() if kind_of(slot) == MEMORY}
        state = _memory_state(run, together, book)
        tried = {unit: slot for slot, unit in slots.items() if run.on == OWNER or unit.partition(".")[0] != run.on}
        for unit, slot in tried.items():
            modules[unit] = None
            column = slot if run.on == OWNER else run.on
            columns[column] = None
            before = found.get((unit, column), Cell())
            among = state == FAILED and len(slots) > 1
            if state != NOT_TRIED and not (among and before.state != NOT_TRIED and not before.with_others):
                found[unit, column] = Cell(state, run.id, among)
    in_slots = sorted((name for name in columns if kind_of(name) == MEMORY), key=lambda slot: int(number_of(slot)[1:]))
    elsewhere = [name for name in columns if kind_of(name) != MEMORY]
    return _grid(
        [(unit, title_of(unit, book)) for unit in modules],
        [(slot, numbered("slot", slot)) for slot in in_slots] + [(host, book.hosts[host].title) for host in elsewhere],
        found,
    )


def output_cells(course: Course, book: Book) -> Grid:
    """Return the output grid of a job: each output of the machine by each pair of cable and monitor.

    Args:
        course: what the log did to the machine (``walk_job``).
        book: the fault book.

    Returns:
        Rows are outputs, columns ``cable+monitor`` by their units.  A picture at any stage is a pass.  No picture
        is a failure unless the run is known not to have come so far that there could be one.
    """
    home = course.intake[OWNER].slots
    pairs = {f"{cable}+{monitor}": (cable, monitor) for cable, monitor in _ways(home)}
    outputs = dict.fromkeys(name for name, output in book.outputs.items() if course.intake[OWNER].has(output.part))
    found: dict[tuple[str, str], Cell] = {}
    for run, together in _runs(course):
        if run.on != OWNER:
            continue
        for cable, monitor in _ways(together.setup.slots):
            for output, stages in run.seen.picture.items():
                state = _picture_state(stages, run, book)
                if state == NOT_TRIED:
                    continue
                pairs[f"{cable}+{monitor}"] = (cable, monitor)
                for used in (output,) if output in book.outputs else together.used[:1]:
                    outputs[used] = None
                    found[used, f"{cable}+{monitor}"] = Cell(state, run.id)
    return _grid(
        [(name, book.outputs[name].title) for name in book.outputs if name in outputs],
        [(name, " + ".join(title_of(unit, book) for unit in pair)) for name, pair in pairs.items()],
        found,
    )


def _grid(rows: list[tuple[str, str]], columns: list[tuple[str, str]], found: dict[tuple[str, str], Cell]) -> Grid:
    cells = {(row, column): found.get((row, column), Cell()) for row, _ in rows for column, _ in columns}
    return Grid(tuple(rows), tuple(columns), MappingProxyType(cells))


def _runs(course: Course) -> Iterable[tuple[Run, Together]]:
    return [(moment.entry, moment.together) for moment in course.moments if isinstance(moment.entry, Run)]


def _units_of(kind: str, slots: Mapping[str, str]) -> list[str]:
    return [unit for slot, unit in slots.items() if unit and kind_of(slot) == kind]


def _ways(slots: Mapping[str, str]) -> list[tuple[str, str]]:
    """Return the cable and the monitor that are there together; the first of each."""
    return list(zip(_units_of(CABLE, slots)[:1], _units_of(MONITOR, slots)[:1], strict=False))


def _memory_state(run: Run, together: Together, book: Book) -> str:
    seen = run.seen
    mark = run_column(run, book).marks[book.ladder.place(MEMORY_PASSES)]
    is_lit = any(lit for stages in seen.picture.values() for lit in stages.values())
    passed = mark == REACHED or is_lit
    if run.failed == 0:
        return PASSED if passed else NOT_TRIED
    if mark == STOPPED or any(seen.signs.get(sign) == YES for sign in FAILING_SIGNS):
        return FAILED
    if seen.stop is not None and mark != NOT_REACHED and MEMORY in book.loads[run.conditions.load].stresses:
        return FAILED
    return PASSED if passed else NOT_TRIED


def _picture_state(stages: Mapping[str, bool], run: Run, book: Book) -> str:
    if any(stages.values()):
        return PASSED
    marks = run_column(run, book).marks
    came = [marks[book.ladder.place(STAGES[stage])] not in (STOPPED, NOT_REACHED) for stage in stages]
    return FAILED if any(came) else NOT_TRIED
