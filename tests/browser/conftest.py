"""One browser and one served bench with the demo's jobs for all tests of this folder."""

from dataclasses import dataclass
from pathlib import Path

import pytest
from browser.chrome import chromium, open_page
from browser.served import served
from playwright.sync_api import Browser, Page

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
    with chromium() as browser, served(tmp_path_factory.mktemp("shop") / "bench", is_demo=True) as (home, _):
        yield Shop(browser, home)
