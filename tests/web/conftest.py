"""A bench in the browser, on SQLite, with a clock that is told the time; nothing is weighed unless a test says so."""

import pytest
from folding import BOOK
from stores import NOON
from web_reader import Browser

from halfsplit.actions import Bench
from halfsplit.model.rates import Rates
from halfsplit.ranking.ranker import Ranker
from halfsplit.settings import Settings, save_settings
from halfsplit.store import open_store
from halfsplit.web import Desk
from halfsplit.web.demo import stock_demo
from halfsplit.web.weigher import Weigher


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self):
        self.now = NOON

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def desk(tmp_path, clock):
    bench = Bench(open_store(tmp_path / "bench"), BOOK)
    desk = Desk(bench, Weigher(bench, Rates, Ranker(bench.book)), clock)
    save_settings(bench.store, Settings(people=("AB", "CD")))
    yield desk
    desk.close()


@pytest.fixture
def browser(desk):
    return Browser(desk)


@pytest.fixture
def demo_desk(tmp_path, clock):
    bench = Bench(open_store(tmp_path / "demo"), BOOK)
    stock_demo(bench, clock())
    desk = Desk(bench, Weigher(bench, Rates, Ranker(bench.book)), clock)
    yield desk
    desk.close()
