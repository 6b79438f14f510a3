"""Of a part that two open jobs want at the same time the bench says so."""

from dataclasses import replace

from folding import BOOK, job_of
from web_reader import Browser

from halfsplit.job.advised import Advice, Outcome, Proposal
from halfsplit.model.bench import Minutes
from halfsplit.web.wanted import wanted_twice
from halfsplit.web.weigher import Standing

SUPPLY = BOOK.shelf["supply_a"].title
PLAIN = Proposal("look", "check", "a look", "", 0, 0, 0, Minutes(2.0, 2.0))


def card(*swaps):
    entries = tuple(entry for swap in swaps for entry in job_of(f"run: {{with: {{{swap}}}, not: starts}}").log)
    return replace(PLAIN, outcomes=(Outcome("does not start", 0.5, (), "", entries),))


def test_a_part_that_two_jobs_want_is_told_once_with_both():
    supply = card("supply: shelf.supply_a", "supply: shelf.supply_a")
    (line,) = wanted_twice({4: supply, 5: supply, 6: card("supply: shelf.supply_scout"), 7: PLAIN}, BOOK)
    assert line.startswith(f"{SUPPLY}: the next checks of jobs 4, 5 want it")


def test_a_part_that_one_job_wants_and_leads_that_all_want_are_no_matter():
    monitor = card("monitor: shelf.monitor_bench")
    assert wanted_twice({4: card("supply: shelf.supply_a"), 5: PLAIN}, BOOK) == ()
    assert wanted_twice({4: monitor, 5: monitor}, BOOK) == ()


def test_the_bench_tells_it_but_not_of_a_machine_that_is_ready(demo_desk, monkeypatch):
    shop = Browser(demo_desk)
    supply = card("supply: shelf.supply_a")
    advice = Advice((supply,), supply.id, False, (), 0, 0, 0)

    def told(*numbers):
        known = {number: Standing(advice=advice) for number in numbers}
        monkeypatch.setattr(
            demo_desk.weigher,
            "known",
            lambda on_file: {each.row.number: known.get(each.row.number, Standing()) for each in on_file},
        )
        return f"{SUPPLY}: the next checks of jobs" in shop.open("/").text

    assert told(2, 6)
    assert not told(2, 4)  # job 4 is ready
    assert not told(2)
