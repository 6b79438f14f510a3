"""Entries put on a job that was read already: the job, places and mistakes are those of the whole read at once."""

import pytest

from halfsplit.book import shipped_book
from halfsplit.jobfile import parse_entries, parse_job

BOOK = shipped_book()
BEFORE = """\
machine: {memory: [8, 8]}
told:
  - {event: storm}
log:
  - run: {not: starts, by: AB}
  - note: first
  - told: {event: moved_house}
  - run: {id: extra, reached: log_in}
  - correct: {entry: run_1, not: self_test}
"""

PUT_ON = [
    "run: {reached: log_in}",
    "- setup: {memory.2: out}\n- run: {not: starts}",
    "told: {event: dust}",
    "note: {id: seen_again, text: x}",
    "correct: {entry: note_1, text: other}",
    "- run: {not: starts}\n- correct: {entry: run_3, reached: log_in}",
    "- correct: {entry: run_1, withdrawn: yes}",
    # each with a mistake
    "run: {reached: log_in, id: extra}",
    "- note: {id: told_1, text: x}",
    "- note: {id: a, text: x}\n- note: {id: a, text: y}",
    "run: {reached: nowhere}",
    "walk: {far: yes}",
    "- run: {reached: log_in}\n- run: {not: starts, not: rails}",
    "correct: {entry: run_9, not: starts}",
    "",
    "run: {",
]


@pytest.mark.parametrize("text", PUT_ON)
@pytest.mark.parametrize("before", ["", BEFORE], ids=["new", "begun"])
def test_what_is_put_on_a_known_job_is_read_as_if_all_were_read(text, before):
    known, mistakes = parse_job(before or "{}", BOOK)
    assert known is not None, mistakes
    at_once = parse_entries(text, before, BOOK)
    put_on = parse_entries(text, before, BOOK, known=known)
    assert put_on == at_once
    if put_on[0] is not None:
        assert [entry.place for entry in put_on[0].log] == [entry.place for entry in at_once[0].log]
