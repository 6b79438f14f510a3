"""Where a rule bars what is best, the looks that clear the rule come first, as long as that pays.

Common practice, no source: after a smell of burning a technician looks and sniffs before a supply is bought.
"""

import itertools
from dataclasses import replace

import pytest
from folding import BOOK, job_of

from halfsplit.job.advise import advise
from halfsplit.job.advised import CHECK
from halfsplit.job.kept import Kept
from halfsplit.model.job import Inspect
from halfsplit.text import reasons_of

KEPT = Kept(BOOK)
FINE = [
    "inspect: {at: supply_exhaust, tool: nose, seen: fine}",
    "inspect: {at: inside, seen: fine}",
    "inspect: {at: smell_inside, tool: nose, seen: fine}",
]


def advised(event, *log):
    return advise(job_of(*log, told=f"[{{event: {event}}}]", complaint="nothing_happens"), BOOK, kept=KEPT)


MOST_LOOKS = 4
"""Cards until it may be started again: three are wanted, and one that tells more may come between."""


@pytest.mark.parametrize("event", ["smell", "smoke", "bang"])
def test_after_burning_looks_come_before_any_part_and_where_all_is_fine_it_is_soon_started_again(event):
    job = job_of(told=f"[{{event: {event}}}]", complaint="nothing_happens")
    for _ in range(MOST_LOOKS):
        advice = advise(job, BOOK, kept=KEPT)
        if not any(stop.bars for stop in advice.stop_points):
            break
        top = advice.proposal(advice.top)
        assert (top.kind, top.price) == (CHECK, 0.0)
        fine = max(top.outcomes, key=lambda outcome: outcome.p).entries
        assert fine
        assert all(isinstance(entry, Inspect) and entry.seen in ("fine", "dust") for entry in fine)
        ids = (f"inspect_{n}" for n in itertools.count(len(job.log) + 1))
        job = replace(job, log=(*job.log, *(replace(entry, id=next(ids)) for entry in fine)))
    assert advice.top == "counter_run"


def test_once_all_is_seen_the_best_of_all_is_on_top():
    advice = advised("smell", *FINE)
    assert not any(stop.bars for stop in advice.stop_points)
    assert advice.top == "counter_run"


def test_the_card_says_what_would_be_best_and_what_bars_it():
    advice = advised("smell")
    said = " ".join(reasons_of(advice, advice.proposal(advice.top), BOOK, "EUR"))
    assert "but not before that is cleared: no power after smoke" in said


@pytest.mark.parametrize("event", ["smell", "spill", "shock"])
def test_no_answer_promises_what_a_stop_would_still_bar_after_it(event):
    job = job_of(told=f"[{{event: {event}}}]", complaint="starts_misbehaves")
    advice = advise(job, BOOK, kept=KEPT)
    told = [outcome for outcome in advice.proposal(advice.top).outcomes if outcome.first in BOOK.checks]
    for number, outcome in enumerate(told):
        ids = (f"seen_{number}_{n}" for n in itertools.count())
        log = tuple(replace(entry, id=next(ids)) for entry in outcome.entries)
        after = advise(replace(job, log=log), BOOK, kept=KEPT).proposal(outcome.first)
        assert after is None or not any(stop.bars for stop in after.stop_points), (advice.top, outcome.line)


def test_where_no_look_clears_it_nothing_is_put_first_for_that():
    advice = advised("shock")
    assert advice.top == next(each.id for each in advice.proposals if not any(stop.bars for stop in each.stop_points))
