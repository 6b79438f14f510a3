"""A log that is walked on: it comes to what the whole log comes to, walked at once."""

from dataclasses import replace
from pathlib import Path

import pytest
from folding import BOOK, job_of

from halfsplit.errors import ModelError
from halfsplit.job.trail import trail_of
from halfsplit.job.units import gatherer_of
from halfsplit.jobfile import load_job

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.yaml"))
GATHERER = gatherer_of(BOOK)


def whole(job):
    return trail_of(job, BOOK, GATHERER)


def example(path):
    job, mistakes = load_job(path, BOOK)
    assert job is not None, mistakes
    return job


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_log_walked_on_entry_by_entry_comes_to_the_whole(path):
    job = example(path)
    trail = whole(replace(job, log=()))
    for many in range(1, len(job.log) + 1):
        so_far = replace(job, log=job.log[:many])
        trail = trail.further(so_far)
        at_once = whole(so_far)
        assert trail.course == at_once.course
        assert (trail.told, trail.facts) == (at_once.told, at_once.facts)


LOGS = {
    "runs with parts of the shelf": ("run: {with: {supply: shelf.supply_a}, not: starts}", "run: {reached: log_in}"),
    "parts out and in again": ("setup: {memory.2: out}", "run: {not: starts}", "setup: {memory.2: in}"),
    "a repair after looks": ("inspect: {at: outside_plugs, seen: half_in}", "repair: {do: reseat_outside_plugs}"),
    "a correction": ("run: {not: starts}", "note: x", "correct: {entry: run_1, not: ~, reached: log_in}"),
    "what is withdrawn": ("setup: {memory.2: out}", "correct: {entry: setup_1, withdrawn: yes}"),
    "what is told later": ("run: {not: starts}", "told: {event: storm}", "run: {reached: log_in}"),
}


@pytest.mark.parametrize("name", LOGS)
@pytest.mark.parametrize("many", [0, 1, 2])
def test_whatever_is_put_on_comes_to_the_whole(name, many):
    job = job_of(*LOGS[name], machine="{memory: [8, 8], card: {}}")
    before = whole(replace(job, log=job.log[:many]))
    course = before.course
    assert before.further(job).course == whole(job).course
    assert before.course == course == whole(before.job).course  # what was known before stays as it was


def test_a_machine_of_which_more_is_known_is_walked_anew():
    known = whole(job_of("setup: {memory.2: out}", machine="{memory: [8, 8]}"))
    more = job_of("setup: {memory.2: out}", "run: {not: starts}", machine="{memory: [8, 8, 8]}")
    assert "memory.3" not in known.course.intake["owner"].slots
    assert "memory.3" in known.further(more).course.intake["owner"].slots
    assert known.further(more).course == whole(more).course


@pytest.mark.parametrize(
    "wrong",
    [
        "setup: {riser: owner}",
        "run: {on: supply_alone, reached: starts}",
        "inspect: {at: riser_seat, seen: fine}",
        'measure: {at: rail_12v, volts: 12, meter: "0.5%+5000"}',
        "repair: {do: leave_module_out}",
    ],
)
def test_what_cannot_be_walked_is_refused_with_the_same_mistakes(wrong):
    job = job_of("run: {not: starts}", wrong, machine="{memory: [8, 8]}")
    known = whole(replace(job, log=job.log[:1]))
    with pytest.raises(ModelError) as at_once:
        whole(job)
    with pytest.raises(ModelError) as further:
        known.further(job)
    assert further.value.mistakes == at_once.value.mistakes
    assert known.further(known.job).course == known.course
