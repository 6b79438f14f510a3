"""The paper slip: the same fields as the job sheet, blank and with what a job has."""

import pytest
from folding import BOOK
from web_reader import Browser

from halfsplit.model.job import Job
from halfsplit.web.job_page import machine_words
from halfsplit.web.slip_page import CHECKS, POINTS, RUNS, SIGNS


@pytest.fixture
def shop(demo_desk):
    return Browser(demo_desk)


def rows(page, css):
    return [
        (row.all("th")[0].text, [cell.text for cell in row.all("td")])
        for row in page.all("table", class_=css)[0].all("tr")
        if row.all("td")
    ]


def test_a_blank_slip_has_every_field_and_no_content(shop):
    page = shop.open("/slip")
    ladder = rows(page, "rows")
    assert [name for name, _ in ladder][:-1] == [rung.title for rung in reversed(shop.desk.bench.book.ladder.rungs)]
    assert all(len(cells) == RUNS and not any(cells) for _, cells in ladder)
    assert len(rows(page, "rows signs")) == len(SIGNS)
    assert [each.attrs["aria-label"] for each in page.all("div", role="region")] == ["Memory grid", "Output grid"]
    assert len(page.all("ul", class_="boxes thirds")[0].all("li")) > 15
    assert page.all("span", class_="box on") == []
    assert page.all("svg", class_="drawing qr") == []


def test_everything_that_has_a_line_is_in_the_book(shop):
    book = shop.desk.bench.book
    assert set(SIGNS) <= book.signs.keys()
    assert set(CHECKS) <= book.checks.keys()
    assert set(POINTS) <= book.measurements.keys()


def test_a_slip_of_a_job_shows_what_it_has(shop):
    page = shop.open("/jobs/5/slip")
    top = dict(zip([each.text for each in page.all("dt")], [each.text for each in page.all("dd")], strict=True))
    assert top["job"] == "5"
    assert "10 years old" in top["The machine"]
    assert "has been dead since" in top["Owner's words"]
    ladder = dict(rows(page, "rows"))
    assert ladder["starts (fans move)"][:3] == ["✕", "✕", "✕"]
    assert ladder["standby power is there"][:3] == ["●", "?", "●"]
    assert ladder["log-in"][:3] == ["-", "-", "-"]
    said = dict(rows(page, "rows signs"))
    assert said["fans turn"][:3] == ["no", "no", "no"]
    assert "1.4" in page.all("ul", class_="boxes")[-1].text
    assert page.all("svg", class_="drawing qr")


def test_what_is_out_is_out_on_the_slip_and_what_is_ours_is_named(shop):
    shop.open("/jobs/8")
    shop.press("memory module no. 2 in")
    shop.press("open", code="hs:shelf:supply_a")
    page = shop.open("/jobs/8/slip")
    lines = {
        line.all("span", class_="named")[0].text: (
            [("on" in box.attrs["class"]) for box in line.all("span") if box.attrs["class"].startswith("box")],
            line.all("b")[0].text,
        )
        for line in page.all("ul", class_="boxes thirds")[0].all("li")
    }
    assert lines["memory module no. 1"] == ([True, False], "")
    assert lines["memory module no. 2"] == ([False, True], "")
    assert lines["power supply"] == ([False, False], shop.desk.bench.book.shelf["supply_a"].title)


def test_a_check_that_was_done_is_ticked(shop):
    shop.open("/jobs/8")
    shop.desk.weigher.work_off()
    shop.open("/jobs/8")
    shop.press("runs to log-in and stays up")
    checks = shop.open("/jobs/8/slip").all("ul", class_="boxes")[0]
    ticked = [line.text for line in checks.all("li") if line.all("span", class_="box on")]
    assert any(line.startswith("counter run") for line in ticked)


def test_what_is_known_of_a_machine_is_said_in_words():
    """Every fact of the book has a name of its own on the strip, and no value is raw."""
    facts = {name: next(iter(fact.values), "") for name, fact in BOOK.facts.items() if fact.values}
    said = machine_words(Job(machine={**facts, "age_years": 1.0}), BOOK)
    assert "1 year old" in said
    assert not [each for each in said if "_" in each or "ddr" in each]
    names = [each.partition(":")[0] for each in said if ":" in each]
    assert len(set(names)) == len(names) == len(facts) - 1  # the kind has none
    assert set(names).isdisjoint(
        name.replace("_", " ") for name in facts if "_" in name and name not in ("recovery_key", "socket_pins")
    )
