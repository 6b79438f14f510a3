"""The way ahead: what a dead machine cannot show is asked of it once a repair in the plan has brought it up."""

from collections.abc import Iterator

import pytest
from folding import BOOK, job_of

from halfsplit.job.advise import fold_and_weigh
from halfsplit.job.ahead import STILL_BAD, Step, plan_ahead
from halfsplit.job.kept import Kept
from halfsplit.job.outlook import look_out
from halfsplit.job.reached import Reached
from halfsplit.model.rates import Rates

DEAD = "run: {not: starts, stop: stays}"
SUPPLY_IS_DEAD = (
    DEAD,
    "run: {on: bench, with: {supply: owner}, not: starts, stop: stays}",
    "run: {with: {supply: shelf.supply_a}, reached: log_in, load: card, stop: {resets: 1 min}}",
)


def job_with(*log):
    return job_of(*log, complaint="nothing_happens", machine="{supply: {shape: standard size}}")


def late(job):
    return {check.title for check in BOOK.checks.values() if not Reached(job, BOOK).may_get_to(check.needs)}


def walked(step: Step, *, is_mended: bool = False) -> Iterator[tuple[str, bool]]:
    yield step.title, is_mended
    for each in step.steps:
        yield from walked(each, is_mended=is_mended or each.after == STILL_BAD)


def test_once_mended_the_machine_is_asked_what_it_could_not_show():
    job = job_with(*SUPPLY_IS_DEAD)
    titles = late(job)
    top = plan_ahead(job, BOOK, places=60)
    assert top.title == BOOK.repairs["replace_supply"].title
    asked = [is_mended for title, is_mended in walked(top) if title in titles]
    assert asked
    assert all(asked)


@pytest.mark.parametrize("log", [(DEAD,), SUPPLY_IS_DEAD])
def test_it_waits_until_then_and_is_not_in_the_list_of_today(log):
    job = job_with(*log)
    folded, posterior = fold_and_weigh(job, BOOK)
    today, ahead = (look_out(job, folded, posterior, Rates(), Kept(BOOK), steps=steps) for steps in (1, None))
    assert today.waits == {}
    assert {BOOK.checks[name].title for name in ahead.waits} <= late(job)
    assert {"records", "load_memory"} & ahead.waits.keys()
    assert not ahead.waits.keys() & today.foreseen.keys()
    weights = ahead.situation.weights
    assert all(float(weights @ can) < 0.5 for can in ahead.waits.values())
    mended = ahead.after["replace_supply@supply"]
    for can in ahead.waits.values():
        assert ((can >= 0.0) & (can <= 1.0 + 1e-9)).all()
        assert weights @ can[mended] > weights @ can


def test_a_machine_that_gets_there_waits_for_nothing():
    job = job_of("run: {reached: log_in, stop: {resets: 6 min}, load: card}")
    folded, posterior = fold_and_weigh(job, BOOK)
    assert look_out(job, folded, posterior, Rates(), Kept(BOOK)).waits == {}
