"""Advice that is there when the answer is tapped: the same as if it had been worked out then, and of nothing else."""

import threading
import time
from dataclasses import replace

import pytest
from folding import BOOK
from stores import NOON, after
from web_reader import Browser

from halfsplit.actions import Bench, job_view, open_job, record
from halfsplit.actions.onfile import read_on_file
from halfsplit.errors import InputError, Mistake
from halfsplit.job.advised import Advice, Outcome, Proposal
from halfsplit.job.weighed import Weighed
from halfsplit.model.bench import Minutes
from halfsplit.model.job import Inspect
from halfsplit.model.rates import Rates
from halfsplit.ranking import BrokenOffError
from halfsplit.ranking.ranker import Ranker
from halfsplit.store import open_store
from halfsplit.web import Desk, weigher
from halfsplit.web.answers import answers_of
from halfsplit.web.early import MOST_ANSWERS, MOST_JOBS_AHEAD
from halfsplit.web.weigher import Weigher

MACHINE = "{complaint: nothing_happens, machine: {kind: built, age_years: 6, card: none}}"
MOST_SECONDS = 60.0
LOOKS = tuple(Inspect("", what="front_panel", seen=seen) for seen in ("no_click", "fine"))


def look_at(desk, number):
    """A page looks at a job."""
    with desk.bench.store.reading() as connection:
        on_file = read_on_file(desk.bench, connection, number)
    return on_file, desk.weigher.standing(on_file)


@pytest.fixture
def waiting(desk):
    """A job whose card waits to be answered, with all that its answers lead to thought through."""
    number = open_job(desk.bench, MACHINE, by="AB", now=NOON)
    look_at(desk, number)
    desk.weigher.work_off()
    look_at(desk, number)
    desk.weigher.think_ahead()
    return number


def answers(desk, number):
    advice = look_at(desk, number)[1].advice
    view = job_view(desk.bench, number)
    found = answers_of(advice, advice.proposal(advice.top), view, is_likely=False)
    return [each for each in found if not each.is_rare]


def tap(desk, number, answer):
    record(desk.bench, number, answer.entry, by="CD", now=after(90.0))
    desk.weigher.expect(number, answer.then)


def test_what_an_answer_leads_to_is_there_when_it_is_tapped_and_is_what_would_have_been_worked_out(desk, waiting):
    told = answers(desk, waiting)
    assert len(told) > 1
    before = look_at(desk, waiting)[1].advice
    tap(desk, waiting, told[1])
    on_file, standing = look_at(desk, waiting)
    assert standing.weighed is None
    assert standing.advice is not None
    shown = told[1].then or before.top
    anew = Ranker(BOOK).advise(on_file.job(), on_file.book.shelf, Rates(), shown=shown)
    assert standing.advice.top == anew.top
    totals = {each.id: each.total for each in anew.proposals}
    assert {each.id: each.total for each in standing.advice.proposals} == pytest.approx(totals)
    desk.weigher.work_off()
    assert look_at(desk, waiting)[1].is_done


def test_the_page_that_follows_the_tap_has_the_new_card_on_it(desk, waiting):
    browser = Browser(desk)
    page = browser.open(f"/jobs/{waiting}")
    page = browser.press(page.all("button", data_test="answer")[0].text.split(" about ")[0])
    card = page.all("article")[0]
    assert "likely next" not in card.text
    assert card.all("button", data_test="answer")


def test_another_entry_than_an_answer_is_worked_out_when_it_is_there(desk, waiting):
    record(desk.bench, waiting, "inspect: {at: front_panel, seen: fine}", by="AB", now=NOON)
    assert look_at(desk, waiting)[1].advice is None


def test_what_was_thought_ahead_with_other_rates_is_not_used(tmp_path):
    rates = [Rates()]
    bench = Bench(open_store(tmp_path / "bench"), BOOK)
    desk = Desk(bench, Weigher(bench, lambda: rates[0], Ranker(bench.book)), lambda: NOON)
    number = open_job(bench, MACHINE, by="AB", now=NOON)
    look_at(desk, number)
    desk.weigher.work_off()
    look_at(desk, number)
    desk.weigher.think_ahead()
    told = answers(desk, number)[0]
    rates[0] = replace(rates[0], hour=rates[0].hour * 2.0)
    tap(desk, number, told)
    assert look_at(desk, number)[1].advice is None
    desk.close()


class Told:
    """A ranker that answers at once with two looks to choose from; it notes what it advised on, and may do more."""

    def __init__(self):
        self.asked = []
        self.early = []
        self.meanwhile = None
        self.broken_off = 0

    def weigh(self, job, shelf):
        return Weighed("", (), (), (), (), ())

    def advise(self, job, shelf, rates, *, shown):
        self.asked.append(job.name)
        if job.log and not job.log[-1].by:  # nobody has entered that yet
            self.early.append((job.name, len(job.log), shown))
            if self.meanwhile is not None:
                act, self.meanwhile = self.meanwhile, None
                act()
        outcomes = tuple(Outcome(look.seen, 0.5, (), "", (look,)) for look in LOOKS)
        card = Proposal("look", "check", "look", "", 1.0, 1.0, 1.0, Minutes(1.0, 1.0), 0.0, 0.0, (), 0.0, outcomes)
        return Advice((card,), "look", False, (), 0.0, 0.0, 0.0)

    def break_off(self):
        self.broken_off += 1

    def rest(self):
        pass

    def close(self):
        pass


@pytest.fixture
def told(tmp_path):
    """A bench with a ranker that is quick, and the ranker."""
    ranker = Told()
    bench = Bench(open_store(tmp_path / "bench"), BOOK)
    desk = Desk(bench, Weigher(bench, Rates, ranker), lambda: NOON)
    yield desk, ranker
    desk.close()


def opened(desk, name):
    number = open_job(desk.bench, f"name: {name}", by="AB", now=NOON)
    look_at(desk, number)
    desk.weigher.work_off()
    look_at(desk, number)
    return number


def test_only_the_job_that_was_looked_at_last_is_thought_ahead_and_each_answer_once(told):
    desk, ranker = told
    opened(desk, "first")
    number = opened(desk, "second")
    desk.weigher.think_ahead()
    desk.weigher.think_ahead()
    assert ranker.early == [("second", 1, "look"), ("second", 1, "look")]
    assert len(ranker.early) <= MOST_ANSWERS
    record(desk.bench, number, "inspect: {at: front_panel, seen: fine}", by="AB", now=NOON)
    assert look_at(desk, number)[1].advice is not None
    desk.weigher.think_ahead()
    assert len(ranker.early) == 2  # its suspicions come first
    desk.weigher.work_off()
    desk.weigher.think_ahead()
    assert ranker.early[2:] == [("second", 2, "look"), ("second", 2, "look")]


def test_what_is_thought_ahead_is_left_for_an_advice_that_a_page_waits_for_and_taken_up_again(told):
    desk, ranker = told
    first, second = opened(desk, "first"), opened(desk, "second")

    def tap_elsewhere():
        record(desk.bench, first, "note: looked at it", by="AB", now=NOON)
        look_at(desk, first)
        raise BrokenOffError

    ranker.meanwhile = tap_elsewhere
    desk.weigher.think_ahead()
    assert ranker.broken_off == 1
    assert len(ranker.early) == 1
    desk.weigher.work_off()
    look_at(desk, second)
    desk.weigher.think_ahead()
    assert [name for name, _, _ in ranker.early] == ["second", "second", "second"]


def test_what_cannot_be_thought_ahead_is_left_alone(told, caplog):
    desk, ranker = told
    number = opened(desk, "one")

    def refuse():
        raise InputError([Mistake("log", "HS201", "it is so", "it should not", "Leave it")])

    ranker.meanwhile = refuse
    desk.weigher.think_ahead()
    desk.weigher.think_ahead()
    assert len(ranker.early) == 1
    assert look_at(desk, number)[1].is_done
    assert not caplog.text


def test_no_more_is_kept_than_of_the_last_few_jobs(told):
    desk, ranker = told
    numbers = [opened(desk, f"job {n}") for n in range(MOST_JOBS_AHEAD + 1)]
    for number in numbers:
        look_at(desk, number)
        desk.weigher.think_ahead()
    many = len(ranker.early)
    look_at(desk, numbers[-1])
    desk.weigher.think_ahead()
    assert len(ranker.early) == many
    look_at(desk, numbers[0])
    desk.weigher.think_ahead()
    assert len(ranker.early) > many


def test_it_is_thought_ahead_by_itself_when_nobody_asks_for_anything(told, monkeypatch):
    desk, ranker = told
    monkeypatch.setattr(weigher, "QUIET_SECONDS", 0.01)
    is_there = threading.Event()
    ranker.meanwhile = is_there.set
    number = open_job(desk.bench, "name: one", by="AB", now=NOON)
    desk.weigher.start()
    look_at(desk, number)
    assert is_there.wait(MOST_SECONDS)
    until = time.monotonic() + MOST_SECONDS
    while len(ranker.early) < 2 and time.monotonic() < until:
        time.sleep(0.01)
    assert len(ranker.early) == 2


def test_the_job_that_is_looked_at_is_thought_ahead_before_those_that_nobody_looks_at(told, monkeypatch):
    desk, ranker = told
    monkeypatch.setattr(weigher, "QUIET_SECONDS", 0.0)
    numbers = [open_job(desk.bench, f"name: {name}", by="AB", now=NOON) for name in ("one", "two", "three")]
    for number in numbers:
        desk.weigher.ask(number)
    look_at(desk, numbers[1])
    desk.weigher.start()
    until = time.monotonic() + MOST_SECONDS
    while len(ranker.asked) < 5 and time.monotonic() < until:
        time.sleep(0.01)
    assert ranker.asked == ["two", "two", "two", "one", "three"]
