"""One job plays itself from intake to a proven repair and to collection, the same each time."""

import re

import pytest
from folding import BOOK

from halfsplit import actions
from halfsplit.actions import Bench
from halfsplit.cli import main
from halfsplit.store import open_store
from halfsplit.web.demo import JOBS, STORIES
from halfsplit.web.demo.play import WRONG, draw_demo, play_demo


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """The whole story, and the bench that it was played on."""
    bench = Bench(open_store(tmp_path_factory.mktemp("played")), BOOK)
    yield list(play_demo(bench)), bench
    bench.store.close()


def test_it_goes_from_intake_to_a_proven_repair_and_to_collection(played):
    lines, bench = played
    assert lines[0].startswith("Job 1 is taken in: nothing happens")
    assert "1. Suspected: " in "\n".join(lines)
    assert any(line.startswith("   Advised: counter run") for line in lines)
    assert any(line.startswith("   Done: ") for line in lines)
    assert any("so it is proved" in line for line in lines)
    assert "The repair is proven, and the machine is collected. Its page says:" in lines
    (row,) = actions.list_closed_jobs(bench)
    assert row.state == "collected"
    assert [change.state for change in actions.job_view(bench, 1).states] == ["on_bench", "ready", "collected"]


def test_what_had_been_drawn_is_what_was_mended(played):
    lines, _ = played
    fault = BOOK.faults[WRONG]
    assert fault.title in lines[-1]
    done = [line.removeprefix("   Done: ") for line in lines if line.startswith("   Done: ")]
    cures = {BOOK.repairs[cure.repair].title for cure in fault.cures}
    assert any(what.rstrip(".0123456789 ") in cures for what in done)
    assert any(fault.owner_says in line for line in lines)


def test_what_is_told_is_in_the_log_of_the_bench(played):
    lines, bench = played
    view = actions.job_view(bench, 1)
    assert view.mistakes == ()
    kinds = [line.kind for line in view.lines]
    assert kinds.count("repair") == sum(line.startswith("   Done: ") for line in lines)
    told = sum(line.startswith("   The owner says") for line in lines)
    assert kinds.count("told") == told


def test_it_is_the_same_each_time(played, tmp_path):
    lines, _ = played
    bench = Bench(open_store(tmp_path), BOOK)
    again = list(play_demo(bench, most_steps=2))
    bench.store.close()
    upto = next(n for n, line in enumerate(lines) if line.startswith("3. "))
    assert again[: upto - 1] == lines[: upto - 1]
    assert again[-1].startswith("It was not proven")


def test_the_machine_is_drawn_with_one_fault_that_matters():
    assert [fault.partition("@")[0] for fault in draw_demo(BOOK).world().left()] == [WRONG]


def test_the_jobs_of_the_demo_are_listed_with_what_they_are(capsys):
    assert main(["demo"]) == 0
    said = capsys.readouterr().out
    for story in STORIES:
        assert str(JOBS / f"{story.file}.yaml") in said
    assert len(re.findall(r"What (?:is|was) really wrong|Nothing is wrong|What was wrong", said)) == len(STORIES)
