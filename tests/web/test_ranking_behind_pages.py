"""What ranks behind the pages: who is served first, what is dropped, and what is said when it dies."""

import os
import signal
import threading
from dataclasses import replace

import pytest
from folding import BOOK
from stores import NOON
from web_reader import Browser

from halfsplit.actions import Bench, open_job, record
from halfsplit.actions.onfile import read_on_file
from halfsplit.job.advised import Advice
from halfsplit.job.weighed import Weighed
from halfsplit.model.job import Job
from halfsplit.model.rates import Rates
from halfsplit.ranking import BrokenOffError, RankerDiedError, RankerProcess
from halfsplit.store import open_store
from halfsplit.web import Desk, answering
from halfsplit.web.weigher import MOST_DEATHS, Weigher

MOST_SECONDS = 60.0
MACHINE = "{complaint: nothing_happens, machine: {kind: built, age_years: 6}}"


class Told:
    """A ranker that answers at once with nothing, notes what it was asked, and does something on the way."""

    def __init__(self):
        self.asked = []
        self.meanwhile = {}

    def weigh(self, job, shelf):
        return self._answer("weigh", job, Weighed("", (), (), (), (), ()))

    def advise(self, job, shelf, rates, *, shown):
        return self._answer("advise", job, Advice((), "", False, (), 0.0, 0.0, 0.0))

    def break_off(self):
        self.asked.append(("break off", ""))

    def rest(self):
        self.asked.append(("rest", ""))

    def close(self):
        self.asked.append(("close", ""))

    def _answer(self, does, job, answer):
        self.asked.append((does, job.name))
        act = self.meanwhile.pop(len(self.asked), None)
        if act is not None:
            act()
        return answer


@pytest.fixture
def bench(tmp_path):
    bench = Bench(open_store(tmp_path / "bench"), BOOK)
    yield bench
    bench.store.close()


@pytest.fixture
def ranker():
    return Told()


@pytest.fixture
def weigher(bench, ranker):
    return Weigher(bench, Rates, ranker)


def opened(bench, name):
    return open_job(bench, f"name: {name}", by="AB", now=NOON)


def look_at(weigher, bench, number):
    """A page looks at a job."""
    with bench.store.reading() as connection:
        return weigher.standing(read_on_file(bench, connection, number))


def die():
    raise RankerDiedError


def test_a_job_that_a_page_asks_for_goes_before_the_rest_of_another_one(bench, weigher, ranker):
    first, second = opened(bench, "first"), opened(bench, "second")
    ranker.meanwhile[1] = lambda: look_at(weigher, bench, second)
    look_at(weigher, bench, first)
    weigher.work_off()
    assert ranker.asked == [("advise", "first"), ("advise", "second"), ("weigh", "second"), ("weigh", "first")]
    assert look_at(weigher, bench, first).is_done


def test_what_only_waits_in_the_background_does_not_go_between(bench, weigher, ranker):
    first, second = opened(bench, "first"), opened(bench, "second")
    weigher.ask(second)
    look_at(weigher, bench, first)
    weigher.work_off()
    assert [name for _, name in ranker.asked] == ["first", "first", "second", "second"]


def test_an_advice_that_no_page_waits_for_is_left_for_one_that_a_page_waits_for(bench, weigher, ranker):
    first, second = opened(bench, "first"), opened(bench, "second")
    weigher.ask(second)

    def open_the_first():
        look_at(weigher, bench, first)
        raise BrokenOffError

    ranker.meanwhile[1] = open_the_first
    weigher.work_off()
    names = [("advise", "second"), ("break off", ""), ("advise", "first"), ("weigh", "first")]
    assert ranker.asked == [*names, ("advise", "second"), ("weigh", "second")]


def test_an_advice_that_a_page_waits_for_is_not_left_for_that_of_another_page(bench, weigher, ranker):
    first, second = opened(bench, "first"), opened(bench, "second")
    ranker.meanwhile[1] = lambda: [look_at(weigher, bench, second) for _ in range(2)]  # it asks again and again
    look_at(weigher, bench, first)
    weigher.work_off()
    assert "break off" not in [does for does, _ in ranker.asked]


def test_an_advice_of_the_background_is_not_left_for_its_own_page(bench, weigher, ranker):
    number = opened(bench, "one")
    weigher.ask(number)
    ranker.meanwhile[1] = lambda: look_at(weigher, bench, number)
    weigher.work_off()
    assert [does for does, _ in ranker.asked] == ["advise", "weigh"]


def test_a_ranking_that_a_new_tap_made_old_is_not_begun(bench, weigher, ranker):
    number = opened(bench, "one")

    def tap():
        record(bench, number, "note: looked at it", by="AB", now=NOON)
        look_at(weigher, bench, number)

    ranker.meanwhile[1] = tap
    look_at(weigher, bench, number)
    weigher.work_off()
    assert [does for does, _ in ranker.asked] == ["advise", "advise", "weigh"]


def test_suspicions_are_left_for_the_advice_that_a_tap_waits_for(bench, weigher, ranker):
    number = opened(bench, "one")

    def tap():
        record(bench, number, "note: looked at it", by="AB", now=NOON)
        look_at(weigher, bench, number)
        raise BrokenOffError

    ranker.meanwhile[2] = tap
    look_at(weigher, bench, number)
    weigher.work_off()
    assert [does for does, _ in ranker.asked] == ["advise", "weigh", "break off", "advise", "weigh"]
    assert look_at(weigher, bench, number).is_done


def test_suspicions_are_not_left_for_a_page_that_has_its_advice(bench, weigher, ranker):
    number = opened(bench, "one")
    ranker.meanwhile[2] = lambda: look_at(weigher, bench, number)
    look_at(weigher, bench, number)
    weigher.work_off()
    assert [does for does, _ in ranker.asked] == ["advise", "weigh"]


def test_a_tap_goes_before_what_it_makes_old_and_another_page_before_what_is_not_its_own(bench, weigher, ranker):
    first, second = opened(bench, "first"), opened(bench, "second")
    ways = [(first, False), (0, False), (second, False), (second, True), (first, True)]
    told = []

    def visit_all():
        for number, is_entry in ways:
            many = len(ranker.asked)
            weigher.make_way(number, is_entry=is_entry)
            told.append([does for does, _ in ranker.asked[many:]])

    visit_all()
    assert told == [[]] * 5  # nothing is under way
    told.clear()
    ranker.meanwhile[1] = visit_all
    look_at(weigher, bench, first)
    weigher.work_off()
    assert told == [[], ["rest"], ["rest"], ["rest"], ["rest", "break off"]]


def test_every_page_goes_first_but_not_what_it_asks_for_by_itself(bench, weigher, monkeypatch):
    number, made = opened(bench, "one"), []
    monkeypatch.setattr(weigher, "make_way", lambda number, *, is_entry: made.append((number, is_entry)))
    browser = Browser(Desk(bench, weigher, lambda: NOON))
    address = refreshed_from(browser.open(f"/jobs/{number}"))
    browser.open("/")
    browser.client.get(address, headers={"X-Refresh": "1"})
    browser.open(f"/jobs/{number}")
    browser.press("note it", words="looked at it")
    assert made == [(number, False), (0, False), (number, False), (number, True), (number, False)]


@pytest.fixture
def waits(monkeypatch):
    """How often a page was kept waiting for news; it then waits as long as the test."""
    begun, wait = threading.Semaphore(0), Weigher.wait_for_news

    def told(self, *given):
        begun.release()
        wait(self, *given)

    monkeypatch.setattr(Weigher, "wait_for_news", told)
    monkeypatch.setattr(answering, "MOST_SECONDS", MOST_SECONDS)
    return begun


def refreshed_from(page):
    return page.all("div", id="live")[0].attrs["data-refresh"]


def test_a_page_that_shows_all_that_is_known_is_answered_when_more_is(bench, weigher, ranker, waits):
    number, pages = opened(bench, "one"), []
    browser = Browser(Desk(bench, weigher, lambda: NOON))
    address = refreshed_from(browser.open(f"/jobs/{number}"))
    waiting = threading.Thread(target=lambda: pages.append(browser.open(address)))

    def go_on():
        waiting.start()
        assert waits.acquire(timeout=MOST_SECONDS)

    ranker.meanwhile[1] = go_on
    ranker.meanwhile[2] = waiting.join
    weigher.work_off()
    assert pages
    assert refreshed_from(pages[0])
    assert refreshed_from(pages[0]) != address


def test_a_page_that_shows_less_than_is_known_is_answered_at_once(bench, weigher, ranker, waits):
    number = opened(bench, "one")
    browser = Browser(Desk(bench, weigher, lambda: NOON))
    address = refreshed_from(browser.open(f"/jobs/{number}"))
    record(bench, number, "note: looked at it", by="AB", now=NOON)
    assert refreshed_from(browser.open(address)) != address
    weigher.work_off()
    assert refreshed_from(browser.open(address)) == ""
    assert not waits.acquire(blocking=False)


def test_what_was_chosen_to_be_done_is_still_chosen_when_the_page_refreshes_itself(bench, weigher):
    number = opened(bench, "one")
    browser = Browser(Desk(bench, weigher, lambda: NOON))
    assert "do=wall_watts" in refreshed_from(browser.open(f"/jobs/{number}?do=wall_watts"))


def test_what_hangs_on_something_that_has_changed_is_worked_out_anew_although_no_page_looks_at_it(bench, ranker):
    rates = [Rates()]
    weigher, number = Weigher(bench, lambda: rates[0], ranker), opened(bench, "one")
    weigher.ask(number)
    weigher.work_off()
    rates[0] = replace(rates[0], hour=rates[0].hour + 1.0)
    with bench.store.reading() as connection:
        on_file = read_on_file(bench, connection, number)
    assert not weigher.known([on_file])[number].is_done
    weigher.ask(number)
    weigher.work_off()
    assert weigher.known([on_file])[number].is_done
    assert len(ranker.asked) == 4


def test_an_answer_that_comes_while_it_ranks_is_not_forgotten(bench, weigher, ranker):
    number = opened(bench, "one")
    ranker.meanwhile[2] = lambda: weigher.expect(number, "wall_watts")
    look_at(weigher, bench, number)
    weigher.work_off()
    assert look_at(weigher, bench, number).likely == "wall_watts"


def test_the_advice_is_there_before_the_suspicions(bench, weigher, ranker):
    number, seen = opened(bench, "one"), []
    ranker.meanwhile[2] = lambda: seen.append(look_at(weigher, bench, number))
    look_at(weigher, bench, number)
    weigher.work_off()
    assert seen[0].advice is not None
    assert (seen[0].weighed, seen[0].is_done) == (None, False)


def test_a_ranker_that_dies_is_tried_again_and_the_page_says_so(bench, weigher, ranker):
    number, pages = opened(bench, "one"), []
    browser = Browser(Desk(bench, weigher, lambda: NOON))
    ranker.meanwhile[1] = die
    ranker.meanwhile[2] = lambda: pages.append(browser.open(f"/jobs/{number}").text)
    look_at(weigher, bench, number)
    weigher.work_off()
    assert "It was started anew and weighs this again" in pages[0]
    assert look_at(weigher, bench, number).advice is not None
    assert "started anew" not in browser.open(f"/jobs/{number}").text


def test_a_job_that_it_dies_of_every_time_is_left_until_something_else_is_entered(bench, weigher, ranker):
    number = opened(bench, "one")
    browser = Browser(Desk(bench, weigher, lambda: NOON))
    ranker.meanwhile = {turn: die for turn in range(1, MOST_DEATHS + 1)}
    look_at(weigher, bench, number)
    weigher.work_off()
    assert len(ranker.asked) == MOST_DEATHS
    assert "HS810" in browser.open(f"/jobs/{number}").text
    record(bench, number, "note: looked at it", by="AB", now=NOON)
    look_at(weigher, bench, number)
    weigher.work_off()
    assert look_at(weigher, bench, number).advice is not None


def test_closed_while_it_ranks_nothing_is_told_of_a_death(bench, weigher, ranker, caplog):
    number = opened(bench, "one")

    def stop():
        weigher.close()
        die()

    ranker.meanwhile[1] = stop
    look_at(weigher, bench, number)
    weigher.work_off()
    assert ranker.asked == [("advise", "one"), ("close", "")]
    assert "died" not in caplog.text


def test_in_a_process_of_its_own_killed_once_and_stopped_in_the_end(bench):
    other = RankerProcess(BOOK)
    weigher = Weigher(bench, Rates, other)
    number = open_job(bench, MACHINE, by="AB", now=NOON)
    other.weigh(Job(), BOOK.shelf)
    os.kill(other.pid, signal.SIGKILL)
    weigher.ask(number)
    weigher.work_off()
    done = look_at(weigher, bench, number)
    assert done.advice is not None
    assert done.advice.top == "counter_run"
    assert done.deaths == 1
    pid = other.pid
    weigher.close()
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)
