"""What weighs behind the pages: the job that was asked for last first; what is out of date is not shown as new."""

import time

from folding import BOOK
from stores import NOON

from halfsplit.actions import Bench, list_open_jobs, open_job, record
from halfsplit.actions.onfile import read_on_file
from halfsplit.model.rates import Rates
from halfsplit.ranking.ranker import Ranker
from halfsplit.store import open_store
from halfsplit.web.weigher import Weigher

MACHINE = "{complaint: nothing_happens, machine: {kind: built, age_years: 6}}"
MOST_SECONDS = 300.0


def on_file(bench, number):
    with bench.store.reading() as connection:
        return read_on_file(bench, connection, number)


def test_a_job_is_weighed_and_its_summary_made(desk):
    bench, weigher = desk.bench, desk.weigher
    number = open_job(bench, MACHINE, by="AB", now=NOON)
    first = weigher.standing(on_file(bench, number))
    assert (first.weighed, first.advice, first.is_done) == (None, None, False)
    weigher.work_off()
    done = weigher.standing(on_file(bench, number))
    assert done.is_done
    assert done.advice is not None
    assert done.advice.top == "counter_run"
    assert list_open_jobs(bench)[0].suspicion


def test_what_was_known_before_is_kept_and_not_taken_for_what_is_known_now(desk):
    bench, weigher = desk.bench, desk.weigher
    number = open_job(bench, MACHINE, by="AB", now=NOON)
    weigher.standing(on_file(bench, number))
    weigher.work_off()
    before = weigher.standing(on_file(bench, number)).advice
    record(bench, number, "run: {not: starts}", by="AB", now=NOON)
    weigher.expect(number, "wall_watts")
    now = weigher.standing(on_file(bench, number))
    assert (now.weighed, now.advice) == (None, None)
    assert now.before == before
    assert now.likely == "wall_watts"
    assert weigher.known([on_file(bench, number)]) == {number: now}


def test_what_was_said_to_come_next_is_not_held_to_after_another_entry(desk):
    bench, weigher = desk.bench, desk.weigher
    number = open_job(bench, MACHINE, by="AB", now=NOON)
    record(bench, number, "run: {not: starts}", by="AB", now=NOON)
    weigher.expect(number, "wall_watts")
    assert weigher.standing(on_file(bench, number)).likely == "wall_watts"
    record(bench, number, "inspect: {at: front_panel, seen: fine}", by="AB", now=NOON)
    assert weigher.standing(on_file(bench, number)).likely == ""


def test_a_reading_that_cannot_be_true_is_told_and_does_not_end_the_advice(desk):
    bench, weigher = desk.bench, desk.weigher
    number = open_job(bench, MACHINE, by="AB", now=NOON)
    record(bench, number, "run: {not: standby_power, signs: {fans_turn: yes, draws_standby: yes}}", by="AB", now=NOON)
    weigher.standing(on_file(bench, number))
    weigher.work_off()
    done = weigher.standing(on_file(bench, number))
    assert done.is_done
    assert done.mistakes == ()
    assert done.weighed.impossible == ("run_1",)
    assert done.advice.top


def test_it_works_in_a_thread_and_stops_when_told(tmp_path):
    bench = Bench(open_store(tmp_path / "bench"), BOOK)
    weigher = Weigher(bench, Rates, Ranker(bench.book))
    weigher.start()
    number = open_job(bench, MACHINE, by="AB", now=NOON)
    until = time.monotonic() + MOST_SECONDS
    while not weigher.standing(on_file(bench, number)).is_done and time.monotonic() < until:
        time.sleep(0.05)
    assert weigher.standing(on_file(bench, number)).advice is not None
    weigher.close()
    bench.store.close()


def test_a_mistake_of_ours_is_told_and_does_not_end_the_weighing(desk, caplog):
    def broken():
        raise RuntimeError("no rates")

    bench = desk.bench
    number = open_job(bench, MACHINE, by="AB", now=NOON)
    weigher = Weigher(bench, broken, Ranker(bench.book))
    weigher.ask(number)
    weigher.work_off()
    assert "could not be weighed" in caplog.text
