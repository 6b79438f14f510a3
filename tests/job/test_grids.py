"""The grids say of each cell what the last run says that says something of it."""

import pytest
from folding import BOOK, job_of

from halfsplit.job.grids import FAILED, NOT_TRIED, PASSED, Cell, Grid, memory_cells, output_cells
from halfsplit.job.trail import walk_job
from halfsplit.job.wanted import setup_wanted

TWO = "{memory: [8, 8]}"
ONE_AND_TWO = ("owner.memory.1", "owner.memory.2")


def memory(*log: str, machine: str = TWO) -> Grid:
    return memory_cells(walk_job(job_of(*log, machine=machine), BOOK), BOOK)


def outputs(*log: str) -> Grid:
    return output_cells(walk_job(job_of(*log, machine="{card: {}}"), BOOK), BOOK)


def tried(grid: Grid) -> dict[tuple[str, str], Cell]:
    return {place: cell for place, cell in grid.cells.items() if cell.state != NOT_TRIED}


def test_without_runs_every_module_is_untried_in_every_slot() -> None:
    grid = memory()
    assert grid.rows == (("owner.memory.1", "memory module no.\u00a01"), ("owner.memory.2", "memory module no.\u00a02"))
    assert grid.columns == (("memory.1", "slot no.\u00a01"), ("memory.2", "slot no.\u00a02"))
    assert len(grid.cells) == 4
    assert not grid.is_tried


def test_a_pass_is_one_of_every_module_that_was_in() -> None:
    found = tried(memory("run: {reached: log_in, stop: none}"))
    assert found == {(f"owner.memory.{n}", f"memory.{n}"): Cell(PASSED, "run_1") for n in (1, 2)}


def test_a_failure_of_two_may_be_either() -> None:
    found = tried(memory("run: {reached: processor_runs, not: memory_passes}"))
    assert found == {(f"owner.memory.{n}", f"memory.{n}"): Cell(FAILED, "run_1", with_others=True) for n in (1, 2)}


def test_the_grid_of_the_bench_one_module_at_a_time() -> None:
    """Both fail; 1 alone passes in slot 1; 2 alone fails in slot 1 and in slot 2."""
    grid = memory(
        "run: {reached: processor_runs, not: memory_passes}",
        "run: {with: {memory.2: out}, reached: log_in}",
        "run: {with: {memory.1: owner.memory.2, memory.2: out}, signs: {memory_complaint: yes}}",
        "run: {with: {memory.1: out}, reached: processor_runs, not: memory_passes}",
    )
    one, two = ONE_AND_TWO
    assert tried(grid) == {
        (one, "memory.1"): Cell(PASSED, "run_2"),
        (two, "memory.1"): Cell(FAILED, "run_3"),
        (two, "memory.2"): Cell(FAILED, "run_4"),
    }
    assert grid.cells[one, "memory.2"] == Cell()


def test_a_module_that_passed_is_not_the_one_that_fails_among_others() -> None:
    grid = memory(
        "run: {with: {memory.2: out}, reached: log_in}",
        "run: {reached: processor_runs, not: memory_passes}",
    )
    one, two = ONE_AND_TWO
    assert tried(grid) == {
        (one, "memory.1"): Cell(PASSED, "run_1"),
        (two, "memory.2"): Cell(FAILED, "run_2", with_others=True),
    }


def test_the_last_run_of_a_cell_counts() -> None:
    grid = memory(
        "run: {with: {memory.2: out}, reached: processor_runs, not: memory_passes}",
        "repair: {do: reseat, at: memory_seat.1}",
        "run: {with: {memory.2: out}, reached: log_in}",
    )
    assert grid.cells["owner.memory.1", "memory.1"] == Cell(PASSED, "run_2")


@pytest.mark.parametrize(
    "run",
    [
        "run: {reached: starts, not: rails_good}",  # it did not come so far
        "run: {reached: starts}",  # nobody knows how far it came
        "run: {signs: {fans_turn: yes}}",
    ],
)
def test_a_run_that_says_nothing_of_memory_is_no_try(run: str) -> None:
    assert not memory(run).is_tried


@pytest.mark.parametrize(
    "run",
    [
        "run: {with: {memory.2: out}, load: memory, reached: log_in, stop: {freezes: 10 min}}",
        "run: {with: {memory.2: out}, load: memory, signs: {memory_test_errors: yes}}",
        "run: {with: {memory.2: out}, reached: processor_runs, not: memory_passes, failed: 1, of: 5}",
    ],
)
def test_memory_fails_in_a_memory_test_and_in_one_run_of_five(run: str) -> None:
    assert tried(memory(run)) == {("owner.memory.1", "memory.1"): Cell(FAILED, "run_1")}


def test_a_stop_under_another_load_does_not_blame_memory() -> None:
    grid = memory("run: {load: card, reached: log_in, stop: {resets: 6 min}}")
    assert {cell.state for cell in tried(grid).values()} == {PASSED}


def test_a_picture_proves_that_memory_passed() -> None:
    assert memory("run: {picture: yes}").cells["owner.memory.2", "memory.2"].state == PASSED


def test_a_module_of_the_shelf_is_a_row_and_another_host_a_column() -> None:
    grid = memory(
        "run: {with: {memory.1: shelf.memory_ddr4, memory.2: out}, reached: log_in}",
        "run: {on: bench, with: {memory.1: owner.memory.2, memory.2: out}, not: memory_passes}",
    )
    assert [row for row, _ in grid.rows] == [*ONE_AND_TWO, "shelf.memory_ddr4"]
    assert [column for column, _ in grid.columns] == ["memory.1", "memory.2", "bench"]
    assert tried(grid) == {
        ("shelf.memory_ddr4", "memory.1"): Cell(PASSED, "run_1"),
        ("owner.memory.2", "bench"): Cell(FAILED, "run_2"),
    }


OWN = "owner.video_cable+owner.monitor"
BENCH = "owner.video_cable+shelf.monitor_bench"


def test_outputs_by_cable_and_monitor() -> None:
    grid = outputs(
        "run: {output: card, picture: no}",
        "run: {with: {monitor: shelf.monitor_bench}, output: card, picture: no}",
        "run: {with: {monitor: shelf.monitor_bench}, output: board, picture: yes}",
    )
    assert grid.rows == tuple((name, BOOK.outputs[name].title) for name in ("card", "board"))
    assert [column for column, _ in grid.columns] == [OWN, BENCH]
    assert {place: (cell.state, cell.run) for place, cell in grid.cells.items()} == {
        ("card", OWN): (FAILED, "run_1"),
        ("card", BENCH): (FAILED, "run_2"),
        ("board", OWN): (NOT_TRIED, ""),
        ("board", BENCH): (PASSED, "run_3"),
    }


def test_one_run_may_try_both_outputs() -> None:
    found = tried(outputs("run: {picture: {card: no, board: yes}}"))
    assert found == {("card", OWN): Cell(FAILED, "run_1"), ("board", OWN): Cell(PASSED, "run_1")}


def test_a_picture_that_goes_away_later_does_not_blame_the_cable() -> None:
    found = tried(outputs("run: {reached: log_in, picture: {card: {self_test: yes, system: no}}}"))
    assert found == {("card", OWN): Cell(PASSED, "run_1")}


@pytest.mark.parametrize(
    "run",
    [
        "run: {output: card, picture: no, not: rails_good, stop: stays}",  # nothing can have shown a picture
        "run: {output: card, reached: log_in}",  # nobody looked
        "run: {on: bench, output: card, picture: no, with: {card: owner}}",  # another machine's sockets
    ],
)
def test_a_run_that_says_nothing_of_an_output_is_no_try(run: str) -> None:
    assert not outputs(run).is_tried


def test_the_setup_wanted_takes_out_and_puts_in_what_the_check_names() -> None:
    course = walk_job(job_of("setup: {memory.2: out}", machine="{memory: [8, 8], card: {}}"), BOOK)
    now, wanted = setup_wanted(BOOK.checks["shelf_memory"], course, BOOK)
    assert now == course.standing["owner"]
    changed = {slot for slot in {*now.slots, *wanted.slots} if now.slots.get(slot) != wanted.slots.get(slot)}
    assert changed == {"memory.1"}
    assert wanted.slots["memory.1"].startswith("shelf.memory")


def test_a_check_that_changes_nothing_wants_what_there_is() -> None:
    course = walk_job(job_of(), BOOK)
    looks = next(check for check in BOOK.checks.values() if check.kind == "inspect" and not check.setup)
    now, wanted = setup_wanted(looks, course, BOOK)
    assert now == wanted
