"""A real browser for tests: Chromium, on the sizes that a bench has, with axe-core and eyes for small targets."""

import contextlib
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

INSTALL = "Chromium is needed for these tests. Install it (on Debian: apt-get install chromium)."
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PICTURES = "HALFSPLIT_PICTURES"
"""The variable that names the folder for pictures of the pages; without it none are kept."""

SIZES = {"tablet": (820, 1180), "phone": (390, 844)}
"""Width and height in CSS px of a tablet upright and of a phone."""

AXE = Path(__file__).parent / "axe" / "axe.min.js"
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"]
COLOURS = ["color-contrast", "link-in-text-block"]
"""The rules of axe-core that hang on the colours alone."""

ANSWER, TAP = 64, 48
"""Least height of an answer and of all else that is tapped, in px: common practice at a bench, no source."""

MEASURE = """([answer, tap]) => {
  const found = [];
  const said = (each) => (each.getAttribute("aria-label") || each.innerText || each.name || each.id || "").trim();
  for (const each of document.querySelectorAll("a[href], button, summary, input, select, textarea, label.tile")) {
    const style = getComputedStyle(each);
    if (each.type === "hidden" || !each.checkVisibility({ checkVisibilityCSS: true })) continue;
    if (style.clipPath !== "none" || (each.tagName === "INPUT" && each.closest("label"))) continue;
    // a link in running text: success criterion 2.5.8 of WCAG 2.2 lets it be as high as its line
    const around = [...each.parentElement.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
    if (each.tagName === "A" && style.display === "inline" && around) continue;
    const box = each.getBoundingClientRect();
    const least = each.matches(".answer, .tile, .go, .big, .plus") ? answer : tap;
    if (box.height < least - 0.5 || box.width < tap - 0.5) {
      const what = `${each.tagName.toLowerCase()}.${each.getAttribute("class") || ""}`;
      found.push(`${what} "${said(each).slice(0, 40)}" ${Math.round(box.width)} x ${Math.round(box.height)}`);
    }
  }
  return found;
}"""


@contextlib.contextmanager
def chromium() -> Iterator[Browser]:
    """Give a running browser."""
    program = shutil.which("chromium")
    assert program is not None, INSTALL
    with sync_playwright() as playwright:
        playwright.selectors.set_test_id_attribute("data-test")
        browser = playwright.chromium.launch(executable_path=program, args=[*FLAGS])
        yield browser
        browser.close()


def open_page(browser: Browser, home: str, size: str = "tablet", *, scripts: bool = True) -> Page:
    """Return a page of a browser of its own, which knows nothing of the others.

    Args:
        browser: the program.
        home: the bench's address, without a slash at its end.
        size: one of ``SIZES``.
        scripts: whether scripts run.
    """
    width, height = SIZES[size]
    context = browser.new_context(
        viewport={"width": width, "height": height},
        java_script_enabled=scripts,
        base_url=home,
        has_touch=True,
        reduced_motion="reduce",
    )
    context.set_default_timeout(60_000)
    return context.new_page()


def sign_in(page: Page) -> None:
    """Say who is at the page, and wait until the page that follows is there."""
    with page.expect_navigation():
        page.get_by_role("button", name="MK", exact=True).click()


def violations(page: Page, *, colours_only: bool = False) -> list[str]:
    """Return what axe-core finds against WCAG 2.0, 2.1 and 2.2, levels A and AA, a line each."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    only = {"type": "rule", "values": COLOURS} if colours_only else {"type": "tag", "values": WCAG}
    found = page.evaluate("(only) => axe.run(document, {runOnly: only, resultTypes: ['violations']})", only)
    return [
        f"{rule['id']}: {node['target']} {node['html'][:160]} {node['failureSummary'][:300]}"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]


def small_targets(page: Page) -> list[str]:
    """Return what is tapped and is smaller than a hand at a bench needs, a line each, with its size in px."""
    return list(page.evaluate(MEASURE, [ANSWER, TAP]))


def overflow(page: Page) -> int:
    """Return how many px a page is wider than the screen."""
    return int(page.evaluate("() => document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth"))


def unfold(page: Page) -> None:
    """Open all that is folded away, so that it is looked at too."""
    page.evaluate("() => { for (const each of document.querySelectorAll('details')) each.open = true; }")


def photograph(page: Page, name: str, *, whole: bool = True, folder: str = "") -> None:
    """Keep a picture of a page as it stands, where a folder for pictures is named, here or by the variable."""
    if folder := folder or os.environ.get(PICTURES, ""):
        Path(folder).mkdir(parents=True, exist_ok=True)
        file = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")
        page.screenshot(path=Path(folder) / f"{file}.png", full_page=whole)
