"""The bench in a real browser: how soon a tap shows, how soon the advice follows, and what whole jobs cost in taps.

    ./dev bench page [--jobs N] [--taps N] [--flows NAME,NAME]

Three parts, each on a served bench of its own, started warm (the fault book and the program compiled before):

- a bench with 100,000 closed jobs and a dozen open ones, which are weighed when nobody asks for anything: a word is
  searched for, one of the closed jobs that were found is opened, and the bench's list again; besides, what a first
  visit takes;
- a job of 20 entries: from a tap to the entry shown, to all that follows from it in its place, and to the new advice;
  the card is answered when what it says was done (in 20 s, a third of what the shortest check takes), and besides at
  once, as nobody can;
- whole jobs on machines that answer as the simulator says, from the complaint to collection.

The start is from the command to the list in a browser that is open.  Times are the browser's own: from the moment when
a button is let go, or a key pressed, to the paint of what that brought, and of a first visit from the address to the
first paint.  Memory is what all processes of the server hold resident, once all open jobs are weighed or after all
taps, whichever is more.  Budgets: entry p95 100 ms, advice p95 500 ms, list p95 200 ms, start 2 s, 400 MB, a dead
supply 25 taps.
"""

import argparse
import compileall
import math
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from quantile import p95
from store import EXAMPLES, SYLLABLES, fill, worked_on
from store import OPEN as OPEN_JOBS
from yardstick import yardstick

import halfsplit
from halfsplit.actions import Bench, open_job, record
from halfsplit.book import shipped_book
from halfsplit.errors import InputError
from halfsplit.store import open_store

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from browser.chrome import chromium, open_page
from browser.flows import DEAD, FLOWS, NO_PICTURE, finish, take_in, told
from browser.served import served
from playwright.sync_api import Browser, Locator, Page

JOBS = 100_000
TAPS = 4
WORK_MS = 20_000
"""So long a hand is busy with what a card says: the shortest check takes a minute."""

PRESS_MS = 100
"""So long a hand takes from the press of a button to letting it go (D. Kieras, Using the Keystroke-Level Model to
Estimate Execution Times, University of Michigan, 2001: 0.1 s for either).  Where it is let go at once, as no hand can,
the browser is still busy with the press when the tap comes."""

NO_PICTURE_JOB = "{complaint: lights_no_picture, machine: {kind: built, age_years: 3}}"

LOOKS = 24
RUNS = 8
ROUNDS = 30
ENTRIES = 20
ANYWHERE = "http://127.0.0.1"
"""Where a browser stands that is open before the bench is started."""
SETTLED_MS = 600_000
PAINTED = """() => {
  const paint = performance.getEntriesByName("first-contentful-paint")[0];
  return paint ? paint.startTime : 0;
}"""
CARD = ':is(.card:not(.likely), #live[data-refresh=""])'
"""Selects the card of an advice that is there; a job of which no advice will come has the other."""

DONE = '#live[data-refresh=""]'
"""Selects what stands on a sheet of which nothing more will come."""

ALL_WEIGHED = """() => !document.querySelector('[data-refresh]:not([data-refresh=""])')"""
"""Whether nothing more is being weighed of what a page shows."""

ON_SCREEN = """
  const onScreen = (go) => requestAnimationFrame((frame) => setTimeout(
    () => go(Math.max(performance.now(), frame + 1000 / 60))));
"""
"""Waits until the next frame is made, and calls with the moment when it is on the screen: not before the one after it
is due at 60 frames a second.  Of 23 taps of which the browser told when it had shown the words (W3C, Element Timing
API) that was 4 ms before that moment (median; from 10 before to 17 after).  What a page does after the frame is not
counted, as it would be by waiting for one more."""

WATCH = """() => {ON_SCREEN
  const entered = () => document.querySelector("[data-entry]");
  const isInSight = (each) => {
    const box = each.getBoundingClientRect();
    const at = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
    return box.top >= 0 && box.bottom <= innerHeight && each.contains(at) && each.innerText.trim() !== "";
  };
  const before = entered()?.dataset.entry;
  const areWords = () => entered() && entered().dataset.entry !== before;
  const isThere = {
    words: areWords,
    rest: () => !document.querySelector("main[aria-busy]"),
    advice: () => areWords() && document.querySelector('main:not([aria-busy]) ADVISED'),
  };
  let isAdvised;
  window.advised = new Promise((done) => { isAdvised = done; });
  window.shown = new Promise((done) => document.addEventListener("click", (event) => {
    window.tapped = event.timeStamp;
    const found = {}, waited = new Set();
    const note = (what, at) => {
      found[what] = at - window.tapped;
      if (!isInSight(entered())) found[what] = NaN;
      if ("words" in found && "rest" in found) done(found);
      if (what === "advice") isAdvised(found.advice);
    };
    const watching = new MutationObserver(() => {
      for (const what of Object.keys(isThere)) {
        if (waited.has(what) || !isThere[what]()) continue;
        waited.add(what);
        onScreen((at) => note(what, at));
      }
      if (waited.size === 3) watching.disconnect();
    });
    watching.observe(document, { subtree: true, childList: true, attributes: true });
  }, { once: true, capture: true }));
}""".replace("ADVISED", CARD).replace("ON_SCREEN", ON_SCREEN)
"""Waits for a tap, then until the words of the new entry stand on the page, until all that follows from it is in its
place, and until the new advice is; each time until that is on the screen, and then looks whether the words are in
sight."""

VISIT = """(mark) => {ON_SCREEN
  const before = document.querySelector("main");
  const isThere = () => {
    const main = document.querySelector("main:not([aria-busy])");
    return main && main !== before && main.querySelector(mark);
  };
  let tapped = null;
  const note = (event) => { if (event.type === "click" || event.key === "Enter") tapped ??= event.timeStamp; };
  for (const type of ["click", "keydown"]) addEventListener(type, note, { capture: true });
  window.visited = new Promise((done, fail) => {
    const watching = new MutationObserver(() => {
      if (tapped === null || !isThere()) return;
      watching.disconnect();
      onScreen((at) => done(at - tapped));
    });
    watching.observe(document, { subtree: true, childList: true, attributes: true });
    setTimeout(() => fail(new Error(`no page with ${mark} was put in place`)), 60_000);
  });
}""".replace("ON_SCREEN", ON_SCREEN)
"""Waits for a tap on a link or for Enter, until another page with a mark is in the place of this one, and then until
that is on the screen.  Where the browser loads that page this one is gone, and so is what waits."""

OPEN = """(each) => {
  for (let at = each.closest("details"); at; at = at.parentElement.closest("details")) at.open = true;
}"""
"""Opens the groups that something is in, and no others, as a hand does."""


def main() -> None:
    parser = argparse.ArgumentParser(description="The bench in a real browser.")
    parser.add_argument("--jobs", type=int, default=JOBS, help="closed jobs on the large bench")
    parser.add_argument("--taps", type=int, default=TAPS, help="answers of which each waits for its advice")
    parser.add_argument("--flows", default=",".join(flow.name for flow in FLOWS), help="whole jobs, parted by commas")
    asked = parser.parse_args()
    figures: dict[str, float] = {}
    with chromium() as browser, tempfile.TemporaryDirectory() as name:
        shipped_book()
        compileall.compile_dir(Path(halfsplit.__file__).parent, quiet=1)  # as after any start before this one
        print(yardstick())
        lists = time_lists(browser, Path(name) / "large", asked.jobs)
        print(yardstick())
        taps = time_taps(browser, Path(name) / "taps", asked.taps)
        figures |= lists | taps | {"rss_mb": max(lists["rss_mb"], taps["rss_mb"])}
        figures |= count_taps(browser, Path(name) / "flows", asked.flows.split(","))
    print("figure:", " ".join(f"{what}={number:.1f}" for what, number in figures.items()))


def time_lists(browser: Browser, folder: Path, jobs: int) -> dict[str, float]:
    """Time the list, the search and one job on a large bench by taps, and how it comes up."""
    rng = random.Random(1)
    words = ["".join(rng.choices(SYLLABLES, k=3)) for _ in range(400)]
    store = open_store(folder)
    bench = Bench(store, shipped_book())
    models = [worked_on(bench, path) for path in EXAMPLES]
    fill(store, models, jobs, words, rng)
    store.close()
    last_closed = len(models) + jobs - OPEN_JOBS
    taken: dict[str, list[float]] = {"list": [], "search": [], "open": []}
    first: dict[str, list[float]] = {"the list": [], "a page of one line": []}
    waiting = open_page(browser, ANYWHERE)
    begin = time.perf_counter()
    with served(folder) as (home, pid):
        waiting.goto(f"{home}/")
        start_s = time.perf_counter() - begin
        waiting.context.close()
        page = open_page(browser, home)
        page.goto("/")
        for _ in range(ROUNDS):
            first["a page of one line"].append(shown(page, "/nowhere"))
            first["the list"].append(shown(page, "/"))
            word = rng.choice(words)
            page.locator("#q").fill(word)
            taken["search"].append(visited(page, f'#q[value="{word}"]', lambda: page.locator("#q").press("Enter")))
            numbers = page.locator(".jobs .no").all_inner_texts()
            number = rng.choice([each for each in numbers if int(each) <= last_closed])
            link = page.locator(f'.jobs a[href="/jobs/{number}"]')
            taken["open"].append(visited(page, f'a[href="/jobs/{number}/copy"]', partial(press, link)))
            taken["list"].append(
                visited(page, "[data-part=open] .jobs", partial(press, page.locator(".links a").first))
            )
        page.wait_for_function(ALL_WEIGHED, timeout=SETTLED_MS)
        memory_mb = resident_mb(pid)
        page.context.close()
    print(f"{jobs:,} closed jobs; start {start_s:.1f} s, {memory_mb:.0f} MB resident when the open ones are weighed")
    for what, each in taken.items():
        tell(what, each)
    for what, each in first.items():
        tell(f"first: {what}", each)
    return {"list_p95_ms": max(map(p95, taken.values())), "start_s": start_s, "rss_mb": memory_mb}


def time_taps(browser: Browser, folder: Path, taps: int) -> dict[str, float]:
    """Time taps on a job of 20 entries: until the entry is shown, and until the new advice is."""
    number = make_job(folder)
    taken: dict[str, list[dict[str, float]]] = {
        "an answer of the card": [],
        "a look, by the way": [],
        "how a run went": [],
    }
    advices: list[float] = []
    at_once: list[float] = []
    with served(folder) as (home, pid):
        page = open_page(browser, home)
        page.goto(f"/jobs/{number}")
        for turn in range(2 * taps):
            page.wait_for_selector(DONE, state="attached", timeout=SETTLED_MS)
            is_done = turn % 2 == 0
            if is_done:
                page.wait_for_timeout(WORK_MS)
            answer = page.get_by_test_id("answer")
            if not answer.count():
                print(f"the card has no answer any more after {turn} taps")
                break
            taken["an answer of the card"].append(tapped(page, answer.first))
            (advices if is_done else at_once).append(float(page.evaluate("() => window.advised")))
        for turn in range(LOOKS):  # each while the one before is still being weighed
            page.goto(f"/jobs/{number}/seen")
            look = page.locator('button[value*="seen: fine"]').nth(turn)
            look.evaluate(OPEN)
            taken["a look, by the way"].append(tapped(page, look))
        for turn in range(RUNS):
            page.goto(f"/jobs/{number}/seen")
            endings = page.get_by_test_id("ending")
            taken["how a run went"].append(tapped(page, endings.nth(turn % endings.count())))
        memory_mb = resident_mb(pid)
        page.context.close()
    print(f"a job of {ENTRIES} entries and more; {memory_mb:.0f} MB resident after it")
    for what, each in taken.items():
        tell(what, [times["words"] for times in each])
        tell("  and the rest", [times["rest"] for times in each])
    entries = [times["words"] for each in taken.values() for times in each]
    tell("tap to entry shown", entries)
    tell("tap to new advice", advices)
    tell("  answered at once", at_once)
    figures = {"entry_p95_ms": entries, "advice_p95_ms": advices, "advice_at_once_p95_ms": at_once}
    return {"rss_mb": memory_mb} | {what: p95(each) for what, each in figures.items()}


def count_taps(browser: Browser, folder: Path, names: Sequence[str]) -> dict[str, float]:
    """Do whole jobs, and count their taps; one that is not proven and collected counts as 0."""
    found: dict[str, float] = {}
    with served(folder, is_demo=True) as (home, _):
        for flow in FLOWS:
            if flow.name not in names:
                continue
            page = open_page(browser, home)
            begin = time.perf_counter()
            hands = take_in(flow, page)
            is_done = finish(flow, hands)
            left = hands.machine.world.left()
            found[flow.name] = hands.taps if is_done else 0.0
            how = "proven and collected" if is_done else "GIVEN UP"
            print(f"{flow.name}: {how} in {time.perf_counter() - begin:.0f} s, {told(hands)}")
            if is_done and left:
                print(f"  HANDED OVER WITH {', '.join(left)}")
            page.context.close()
    named = {DEAD.name: "taps_dead", NO_PICTURE.name: "taps_no_picture"}
    return {what: found[name] for name, what in named.items() if name in found}


def make_job(folder: Path) -> int:
    """Open a job of 20 entries, of which one is the complaint and all others are looks that found nothing.

    Its cards go on for longer than they are answered: there is no picture, and none of the first answers brings one.
    """
    store = open_store(folder)
    bench = Bench(store, shipped_book())
    now = datetime.now(UTC)
    number = open_job(bench, NO_PICTURE_JOB, by="AB", now=now)
    missing = ENTRIES - 1
    for look in bench.book.inspections.values():
        if missing > 0:
            try:
                record(bench, number, f"- inspect: {{at: {look.id}, seen: {look.seen[-1]}}}", by="AB", now=now)
                missing -= 1
            except InputError:
                continue  # of a part that this machine has not
    store.close()
    return number


def shown(page: Page, address: str) -> float:
    """Return how long a page takes until it is painted, in ms."""
    page.goto(address)
    return painted(page)


def visited(page: Page, mark: str, tap: Callable[[], None]) -> float:
    """Return how long it takes from a tap on a link, or Enter, until the page that it leads to is painted, in ms.

    Args:
        page: the browser's page.
        mark: selects what stands on that page alone.
        tap: what a hand does.
    """
    page.evaluate(VISIT, mark)
    tap()
    taken = page.evaluate("() => window.visited")
    if taken is None:
        raise RuntimeError(f"the page with {mark} was not put in place, and the watch is gone")
    return float(taken)


def tapped(page: Page, button: Locator) -> dict[str, float]:
    """Tap a button that enters something.

    Returns:
        How long it takes in ms until the ``words`` of the entry are painted, and the ``rest`` that follows from it.
    """
    page.evaluate(WATCH)
    press(button)
    found = dict(page.evaluate("() => window.shown"))
    if any(map(math.isnan, found.values())):
        raise RuntimeError("what was entered is not in sight")
    return found


def press(button: Locator) -> None:
    """Press a button or a link as a hand does."""
    button.click(delay=PRESS_MS)


def painted(page: Page) -> float:
    page.wait_for_function(PAINTED)
    return float(page.evaluate(PAINTED))


def resident_mb(pid: int) -> float:
    """Return what a process and all that it started hold resident, in MB."""
    parents = {}
    for each in Path("/proc").glob("[0-9]*"):
        try:
            parents[int(each.name)] = int((each / "stat").read_text().rpartition(")")[2].split()[1])
        except OSError:
            continue  # it has ended meanwhile
    family = {pid}
    while more := {child for child, parent in parents.items() if parent in family} - family:
        family |= more
    lines = [line for each in family for line in Path(f"/proc/{each}/status").read_text().splitlines()]
    return sum(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024.0


def tell(what: str, taken_ms: Sequence[float]) -> None:
    print(f"{what:<25} median {statistics.median(taken_ms):7.0f} ms   p95 {p95(taken_ms):7.0f} ms   of {len(taken_ms)}")


if __name__ == "__main__":
    main()
