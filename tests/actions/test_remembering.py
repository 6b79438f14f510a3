"""What was worked out to check an entry is there for the next look at the job, and is what that look would find."""

from dataclasses import replace

import pytest
from folding import BOOK
from stores import NOON

from halfsplit.actions import Bench, describe, job_view, open_job, record, undo
from halfsplit.actions.onfile import OnFile
from halfsplit.model.job import Correct
from halfsplit.store import open_store

MACHINE = "{machine: {kind: built, memory: [8, 8], drives: [sata]}, complaint: nothing_happens}"


@pytest.fixture
def bench(tmp_path):
    bench = Bench(open_store(tmp_path / "bench"), BOOK)
    yield bench
    bench.store.close()


def without_places(job):
    """A job whose entries do not say where in a text they stood."""
    bare = tuple(
        replace(each, place="", now=each.now and replace(each.now, place=""))
        if isinstance(each, Correct)
        else replace(each, place="")
        for each in job.log
    )
    return replace(job, log=bare)


ACTS = {
    "record": lambda bench, job: record(
        bench, job, "- setup: {memory.2: out}\n- run: {not: starts}", by="AB", now=NOON
    ),
    "correct": lambda bench, job: record(bench, job, "correct: {entry: note_1, text: other}", by="AB", now=NOON),
    "undo": lambda bench, job: undo(bench, job, "note_1", by="AB", now=NOON),
    "describe": lambda bench, job: describe(bench, job, "machine: {kind: ready_made}", by="AB", now=NOON),
}


@pytest.mark.parametrize("act", ACTS)
def test_after_an_entry_nothing_is_read_or_walked_again(bench, monkeypatch, act):
    job = open_job(bench, MACHINE, by="AB", now=NOON)
    record(bench, job, "note: first", by="AB", now=NOON)
    ACTS[act](bench, job)
    afresh = job_view(Bench(bench.store, bench.book), job)

    def read_again(self):
        raise AssertionError(self.row.number)

    monkeypatch.setattr(OnFile, "parse", read_again)
    monkeypatch.setattr("halfsplit.actions.onfile.trail_of", read_again)
    view = job_view(bench, job)
    assert without_places(view.job) == without_places(afresh.job)
    assert view.course.standing == afresh.course.standing
    assert view.course.intake == afresh.course.intake
    assert len(view.course.moments) == len(afresh.course.moments)
    assert (view.lines, view.mistakes) == (afresh.lines, afresh.mistakes)
