"""Every page of every demo job can be read: well formed, links that lead somewhere, labels, no script in the page."""

import re
from dataclasses import is_dataclass
from pathlib import Path

import pytest
from folding import BOOK
from stores import NOON
from web_reader import Browser, Reader

from halfsplit.actions import Bench
from halfsplit.model.rates import Rates
from halfsplit.ranking.ranker import Ranker
from halfsplit.store import open_store
from halfsplit.web import (
    Desk,
    answering,
    bench_page,
    book_page,
    collection_page,
    entry_page,
    intake_page,
    job_page,
    mistakes_page,
    person_page,
    screen,
    seen_page,
    settings_page,
    shelf_page,
    texts,
)
from halfsplit.web.demo import stock_demo
from halfsplit.web.texts import say
from halfsplit.web.weigher import Weigher

FOLDER = Path(screen.__file__).parent
OF_A_JOB = ("", "/next", "/told", "/seen", "/mend", "/person", "/collection", "/copy")
OTHERS = ("/", "/?q=storm", "/new", "/settings", "/shelf", "/book", "/book?q=supply")
ENTRIES = (
    "faults/board_dead",
    "checks/counter_run",
    "repairs/replace_cell",
    "signs/fans_turn",
    "events/storm",
    "inspections/outlet",
    "measurements/rail_12v",
    "openings/side_panel",
    "hazards/mains",
)


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """A browser at the demo's bench, and every page of it, got once."""
    bench = Bench(open_store(tmp_path_factory.mktemp("demo")), BOOK)
    stock_demo(bench, NOON)
    desk = Desk(bench, Weigher(bench, Rates, Ranker(bench.book)), lambda: NOON)
    browser = Browser(desk)
    browser.texts = {address: browser.client.get(address).text for address in addresses()}
    yield browser
    desk.close()


def pages(demo):
    return [(address, Reader(text.replace("<!doctype html>", "")).root) for address, text in demo.texts.items()]


def addresses():
    return [f"/jobs/{number}{page}" for number in range(1, 9) for page in OF_A_JOB] + [
        *OTHERS,
        *(f"/book/{entry}" for entry in ENTRIES),
        "/jobs/2/entries/run_1",
    ]


def ids_of(page):
    return [each.attrs["id"] for each in page.everything() if "id" in each.attrs]


def test_one_of_something_is_no_plural():
    assert say("machine.years", years="1") == "1 year old"
    assert say("shelf.exposed", many=1) == "run with others' parts once since"
    assert say("proof.times", title="cold start", many=1) == "cold start: held once"


def test_every_page_is_whole(demo):
    for address, page in pages(demo):
        ids = ids_of(page)
        assert len(ids) == len(set(ids)), address
        if not address.endswith("/next"):
            assert len(page.all("h1")) == 1, address
            assert len(page.all("main")) == 1, address
            assert page.all("title")[0].text, address


def test_every_link_leads_somewhere(demo):
    targets = {}
    for address, page in pages(demo):
        for link in page.all("a"):
            target = link.attrs["href"]
            if target.startswith("#"):
                assert address.endswith("/next") or target[1:] in ids_of(page), (address, target)
            elif not target.startswith("/book/"):
                targets[target.partition("#")[0]] = address
    for target, address in targets.items():
        assert target in demo.texts or demo.client.get(target).status_code == 200, (address, target)


def test_every_field_has_a_label(demo):
    for address, page in pages(demo):
        labelled = {label.attrs["for"] for label in page.all("label") if "for" in label.attrs}
        for tag in ("input", "textarea", "select"):
            for each in page.all(tag):
                if each.attrs.get("type") != "hidden":
                    assert each.attrs.get("id") in labelled or each.inside("label"), (address, each.attrs)


def test_every_button_and_picture_says_what_it_is(demo):
    for address, page in pages(demo):
        assert all(each.text for each in page.all("button")), address
        assert all(each.attrs.get("alt") for each in page.all("img")), address
        drawings = [each.attrs for each in page.all("svg")]
        assert all(each.get("aria-label") or each.get("aria-hidden") == "true" for each in drawings), address


def test_no_page_has_a_script_or_a_style_of_its_own(demo):
    for address, text in demo.texts.items():
        assert not re.search(r"<script(?![^>]* src=)", text), address
        assert not re.search(r"<style|\sstyle=|\son\w+=", text), address
        assert not re.search(r"http://(?!localhost|www\.w3\.org/2000/svg)", text), address


def test_every_form_that_changes_something_carries_the_token(demo):
    for address, page in pages(demo):
        for form in page.all("form", method="post"):
            assert form.all("input", name="token"), (address, form.attrs)


def test_every_page_is_one_frozen_record():
    modules = (
        bench_page,
        book_page,
        collection_page,
        intake_page,
        entry_page,
        job_page,
        mistakes_page,
        person_page,
        answering,
        seen_page,
        settings_page,
        shelf_page,
    )
    pages = [
        noun
        for module in modules
        for name, noun in vars(module).items()
        if name.endswith("Page") and is_dataclass(noun)
    ]
    assert len(set(pages)) >= 13
    assert all(page.__dataclass_params__.frozen for page in pages)


def test_every_text_is_used_and_no_other():
    sources = "".join(
        path.read_text() for path in (*FOLDER.glob("*.py"), *FOLDER.glob("demo/*.py"), *FOLDER.glob("templates/*.html"))
    )
    used = set(re.findall(r"say\(\s*['\"]([^'\"]+?)['\"]\s*[,)]", sources))
    assert used <= texts.texts().keys()
    made_up = tuple(set(re.findall(r"say\(\s*['\"]([a-z_.]+[._])['\"] \+", sources)))
    made_up += tuple(part for part in re.findall(r"say\(f\"([a-z_]+\.)\{", sources))
    made_up += ("always.", "ends.", "when.", "kinds.", "ages.", "copied.", "locked.", "due.")
    conditional = set(re.findall(r"['\"]([a-z]+\.[a-z_]+)['\"] if [^}]*? else ['\"]([a-z]+\.[a-z_]+)['\"]", sources))
    known = used | {key for pair in conditional for key in pair}
    keys = {key.removesuffix(texts.ONE) for key in texts.texts()}
    assert keys <= texts.texts().keys()
    unused = {key for key in keys if key not in known and not key.startswith(made_up)}
    assert unused == set()


def test_what_a_hand_has_to_hit_is_large_enough():
    """64 px for answers and 48 px for all else: common practice at a bench, above WCAG 2.2 success criterion 2.5.8."""
    css = re.sub(r"/\*.*?\*/", "", (FOLDER / "static" / "sheet.css").read_text(), flags=re.DOTALL)
    assert "--tap: 48px; --answer: 64px;" in css
    by_name: dict[str, str] = {}
    for names, rule in re.findall(r"([^{}]+)\{([^{}]*)\}", css):
        for name in re.split(r",(?![^(]*\))", names):
            by_name[name.strip()] = by_name.get(name.strip(), "") + rule
    for name in ("button", ".button", "select", "textarea", "summary", ".links a", ".log a", ".plain a", ".others a"):
        assert "min-height: var(--tap)" in by_name[name], name
    for name in (".answer", ".tile", ".go", ".big", ".plus"):
        assert "min-height: var(--answer)" in by_name[name], name
    assert "prefers-reduced-motion: reduce" in css
    assert "prefers-color-scheme: dark" in css
