"""``shelf:`` of a job file says how the bench's own parts stand; files without it are as they were."""

import pytest
from small_book import SMALL_BOOK

from halfsplit.jobfile import parse_job, write_job
from halfsplit.model.job import Job
from halfsplit.model.machine import Standing


def codes(text):
    job, mistakes = parse_job(text, SMALL_BOOK)
    assert job is None
    return [(mistake.code, mistake.place.rpartition("job.yaml:")[2]) for mistake in mistakes]


def test_a_part_stands_as_the_file_says():
    text = "shelf: {supply_a: {bad: 0.3, exposed: 6, since: 2 weeks}, memory_a: {since: 90 days}}"
    job, mistakes = parse_job(text, SMALL_BOOK)
    assert mistakes == ()
    assert dict(job.shelf) == {"supply_a": Standing(0.3, 6, 14), "memory_a": Standing(None, 0, 90)}


@pytest.mark.parametrize(("days", "said"), [(1, "since: 1 day}"), (2, "since: 2 days}"), (30, "since: 30 days}")])
def test_one_day_is_written_as_one_and_is_read_again(days, said):
    text = write_job(Job(shelf={"supply_a": Standing(0.3, 6, days)}), SMALL_BOOK)
    assert said in text
    job, mistakes = parse_job(text, SMALL_BOOK)
    assert mistakes == ()
    assert job.shelf["supply_a"].days == days


def test_a_file_from_before_that_says_1_days_is_read_as_well():
    job, mistakes = parse_job("shelf: {supply_a: {since: 1 days}}", SMALL_BOOK)
    assert mistakes == ()
    assert job.shelf["supply_a"].days == 1


def test_a_file_that_does_not_speak_of_the_shelf_says_nothing_of_it():
    job, _ = parse_job("log:\n  - run: {with: {supply: shelf.supply_a}, reached: log_in}\n", SMALL_BOOK)
    assert dict(job.shelf) == {}


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ("supply_b: {bad: 0.3}", ("HS111", "1:9")),
        ("supply_a: {risk: 3}", ("HS111", "1:20")),
        ("supply_a: {bad: 1.5}", ("HS114", "1:25")),
        ("supply_a: {exposed: -1}", ("HS114", "1:29")),
        ("supply_a: {exposed: 1.5}", ("HS114", "1:29")),
        ("supply_a: {since: 90}", ("HS116", "1:27")),
        ("supply_a: good", ("HS113", "1:19")),
    ],
)
def test_what_cannot_be_is_a_mistake_with_its_place(said, code):
    assert codes(f"shelf: {{{said}}}") == [code]
