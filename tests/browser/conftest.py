"""One browser and one served bench with the demo's jobs for all tests of this folder."""

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
from browser.chrome import chromium, open_page
from browser.served import served
from page_addresses import LOOKED_AT
from playwright.sync_api import Browser, Page

from halfsplit import actions
from halfsplit.actions import Bench
from halfsplit.book import shipped_book
from halfsplit.store import open_store
from halfsplit.web.demo import stock_demo

HERE = Path(__file__).parent


def pytest_collection_modifyitems(items):
    """Keep the tests of this folder in one process, so that they share their browser and their bench."""
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.xdist_group("browser"))


@dataclass(frozen=True)
class Shop:
    """A served bench and a browser to look at it with."""

    browser: Browser
    home: str

    def open(self, address: str = "/", size: str = "tablet", *, scripts: bool = True) -> Page:
        """Return a page at an address, in a browser of its own."""
        page = open_page(self.browser, self.home, size, scripts=scripts)
        page.goto(address)
        return page


@pytest.fixture(scope="session")
def shop(tmp_path_factory):
    folder = tmp_path_factory.mktemp("shop") / "bench"
    stock(folder)
    with chromium() as browser, served(folder) as (home, _):
        yield Shop(browser, home)


def stock(folder):
    """Put the demo's jobs on a bench; those that no test looks at are put away, for all that are open are weighed."""
    store, now = open_store(folder), datetime.now(UTC)
    bench = Bench(store, shipped_book())
    stock_demo(bench, now)
    for row in actions.list_open_jobs(bench):
        if row.number not in LOOKED_AT:
            actions.put_away(bench, row.number, now=now, person_days=90)
    store.close()
