"""Of a part that two open jobs want at the same time the bench says so."""

from dataclasses import replace

from folding import BOOK, job_of
from web_reader import Browser

from halfsplit.job.advised import Advice, Outcome, Proposal
from halfsplit.model.bench import Minutes
from halfsplit.model.machine import ShelfPart
from halfsplit.web.standing import Standing
from halfsplit.web.wanted import parts_used, wanted_twice

SUPPLY = BOOK.shelf["supply_a"].title
PLAIN = Proposal("look", "check", "a look", "", 0, 0, 0, Minutes(2.0, 2.0))


def card(*swaps):
    entries = tuple(entry for swap in swaps for entry in job_of(f"run: {{with: {{{swap}}}, not: starts}}").log)
    return replace(PLAIN, outcomes=(Outcome("does not start", 0.5, (), "", entries),))


def test_a_part_that_two_jobs_want_is_told_once_with_both():
    supply = card("supply: shelf.supply_a", "supply: shelf.supply_a")
    (line,) = wanted_twice({4: supply, 5: supply, 6: card("supply: shelf.supply_scout"), 7: PLAIN}, BOOK)
    assert line.startswith(f"{SUPPLY}: the next cards of jobs 4, 5 want it")


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
        return f"{SUPPLY}: the next cards of jobs" in shop.open("/").text

    assert told(2, 6)
    assert not told(2, 4)  # job 4 is ready
    assert not told(2)


def test_the_card_of_a_job_tells_which_others_want_the_part_that_it_uses(demo_desk, monkeypatch):
    shop = Browser(demo_desk)
    supply, plain = card("supply: shelf.supply_a"), PLAIN

    def told(mine, **others):
        standings = {2: mine, **{int(number.removeprefix("job_")): each for number, each in others.items()}}
        known = {number: Standing(advice=Advice((p,), p.id, False, (), 0, 0, 0)) for number, p in standings.items()}
        weigher = demo_desk.weigher
        monkeypatch.setattr(weigher, "standing", lambda on_file: known.get(on_file.row.number, Standing()))
        monkeypatch.setattr(
            weigher, "known", lambda files: {each.row.number: known.get(each.row.number, Standing()) for each in files}
        )
        return [each.text for each in shop.open("/jobs/2").all("p", data_test="wanted")]

    assert told(supply, job_6=supply) == [
        f"{SUPPLY}: the next card of job 6 wants it as well, and it can be in one machine at a time."
    ]
    assert told(supply, job_6=supply, job_7=supply)[0].startswith(f"{SUPPLY}: the next cards of jobs 6, 7 want it")
    assert told(supply, job_6=plain) == []
    assert told(supply, job_4=supply) == []  # job 4 is ready
    assert told(plain, job_6=supply) == []


def test_a_repair_wants_the_one_part_that_may_be_fitted():
    new = [part.id for part in BOOK.shelf.values() if part.kind == "supply" and part.grade == "new_stock"]
    repair = replace(PLAIN, id="replace_supply", kind="repair", parts=("replace_supply@supply",))
    one = replace(BOOK, shelf={**BOOK.shelf, "supply_new": ShelfPart("supply_new", "supply", "new_stock", "a new one")})
    assert new == []
    assert parts_used(repair, BOOK) == ()
    assert parts_used(repair, one) == ("supply_new",)
    two = replace(one, shelf={**one.shelf, "other": ShelfPart("other", "supply", "donor")})
    assert parts_used(repair, two) == ()
