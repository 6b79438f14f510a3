"""Whatever stands in a job file, it comes back as a job or as mistakes with places."""

import re

from hypothesis import given
from hypothesis import strategies as st
from small_book import SMALL_BOOK

from halfsplit.jobfile import parse_job, write_job

SAMPLE = """
name: a job
machine: {kind: built, age_years: 6, supply: {watts: 550}, memory: [8, none, 8], drives: [m2], card: none}
complaint: nothing_happens
told: [{event: storm, ago: 2 weeks, happened: no}, {stop: resets, load: games, always: no, sure: guess}]
log:
  - run: {output: card, reached: log_in, stop: {resets: 6 min, load: card}, failed: 3, of: 5, signs: [beep]}
  - run: {on: bench, with: {card: owner, memory.2: out}, cold: yes, picture: {card: {self_test: yes}}}
  - setup: {supply: shelf.supply_a, case: out, memory.1: owner.memory.2}
  - inspect: {at: memory_seat.2, tool: glass, seen: dirty}
  - measure: {at: rail_12v, volts: 11.18, load: card, id: sag}
  - repair: {do: replace, at: supply, with: new}
  - correct: {entry: sag, volts: 11.81, by: AB, when: 2030-01-31}
  - spend: 42.00
  - note: "a: b"
"""
PIECES = re.findall(r"\w+|\s+|[^\w\s]", SAMPLE)
ODD = [
    "",
    "~",
    "[]",
    "{}",
    "[x]",
    "{x: y}",
    "yes",
    "none",
    "12",
    "-1",
    "1e999",
    ".nan",
    "6 min",
    "'",
    "*a",
    "&a",
    "!x",
]


@st.composite
def changed_samples(draw):
    """The sample with up to four of its pieces replaced by one another or by something odd."""
    pieces = list(PIECES)
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(pieces) - 1))
        pieces[at] = draw(st.sampled_from(ODD) | st.sampled_from(PIECES))
    return "".join(pieces)


def told_with_places(text):
    job, mistakes = parse_job(text, SMALL_BOOK)
    assert (job is None) == bool(mistakes)
    assert all(re.fullmatch(r"job\.yaml:\d+:\d+", mistake.place) for mistake in mistakes)
    assert all(part and not part.endswith(".") for mistake in mistakes for part in (mistake.so, mistake.should))
    return job


@given(changed_samples())
def test_a_changed_file_is_a_job_or_mistakes(text):
    job = told_with_places(text)
    if job is not None:
        again, mistakes = parse_job(write_job(job, SMALL_BOOK), SMALL_BOOK)
        assert mistakes == ()
        assert write_job(again, SMALL_BOOK) == write_job(job, SMALL_BOOK)


@given(st.text(max_size=80))
def test_any_text_is_a_job_or_mistakes(text):
    told_with_places(text)
