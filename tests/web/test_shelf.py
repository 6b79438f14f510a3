"""The shelf says how far each part can be trusted and what happened to it; the bench what can run by itself."""

from dataclasses import replace
from datetime import timedelta

import pytest
from web_reader import Browser

from halfsplit import actions
from halfsplit.job.advised import Advice, Proposal
from halfsplit.model.bench import Minutes
from halfsplit.web.standing import Standing


@pytest.fixture
def shop(demo_desk):
    return Browser(demo_desk)


def line(page, part):
    return page.all("li", id=part)[0]


def count(page, title):
    found = [each for each in page.all("ul", class_="shelf counts")[0].all("li") if title in each.text]
    return int(found[0].all("span")[1].text.split()[0])


def test_a_part_tells_its_grade_its_standing_and_what_it_was_exposed_to(shop):
    page = shop.open("/shelf")
    scout = line(page, "supply_scout")
    grade = shop.desk.bench.book.grades["scout"]
    assert grade.title in scout.text
    assert "good as it stands: about 9 in 10" in scout.text
    assert "never proven here · run with others' parts once since · prove it again" in scout.text
    events = [each.text for each in scout.all("ul", class_="plain events")[0].all("li")]
    assert "run with others' parts: run 3 TO job 5" in events[0]
    assert "put on the shelf" in events[-1]
    assert "proven 3 days ago" in line(page, "supply_a").text
    assert "prove it again" not in line(page, "supply_a").text


def test_a_part_that_was_proven_or_graded_anew_says_so(shop, clock):
    shop.open("/shelf")
    token = shop.page.all("input", name="token")[0].attrs["value"]
    shop.client.post("/shelf", data={"token": token, "part": "supply_scout", "what": "proven"})
    scout = line(shop.open("/shelf"), "supply_scout")
    assert "good as it stands: almost certain" in scout.text
    assert "proven in the last day" in scout.text
    assert "prove it again" not in scout.text
    shop.client.post("/shelf", data={"token": token, "part": "supply_scout", "what": "regrade", "grade": "donor"})
    scout = line(shop.open("/shelf"), "supply_scout")
    assert shop.desk.bench.book.grades["donor"].title in scout.text
    assert "prove it again" in scout.text
    assert "prove it again" not in line(shop.page, "supply_a").text
    clock.now += timedelta(days=900)
    assert "days ago · prove it again" in line(shop.open("/shelf"), "supply_a").text


def test_what_is_used_up_is_counted_down_and_anew(shop):
    page = shop.open("/shelf")
    assert count(page, "CMOS batteries") == 8
    shop.press("one used: CMOS batteries")
    assert count(shop.page, "CMOS batteries") == 7
    token = shop.page.all("input", name="token")[0].attrs["value"]
    shop.client.post("/shelf", data={"token": token, "what": "count", "item": "cmos_batteries", "many": "2"})
    page = shop.open("/shelf")
    assert count(page, "CMOS batteries") == 2
    assert "few left" in page.all("ul", class_="shelf counts")[0].text
    shop.client.post("/shelf", data={"token": token, "what": "count", "title": "thermal pads", "many": "30"})
    assert count(shop.open("/shelf"), "thermal pads") == 30
    assert [event.said for event in actions.shelf_events(shop.desk.bench, "cmos_batteries")] == ["9", "8", "7", "2"]


@pytest.mark.parametrize("many", ["", "-1", "some"])
def test_a_count_that_is_none_is_told(shop, many):
    token = shop.open("/shelf").all("input", name="token")[0].attrs["value"]
    answer = shop.client.post("/shelf", data={"token": token, "what": "count", "item": "cmos_batteries", "many": many})
    assert answer.status_code == 422
    assert "HS805" in answer.text


def test_the_bench_tells_what_is_due_and_who_was_not_told(shop):
    page = shop.open("/")
    flags = {
        job.all("span", class_="no")[0].text: [flag.text for flag in job.all("small", class_="flag")]
        for job in page.all("ol", class_="jobs")[0].all("li")
    }
    assert flags["6"] == ["promised for 2030-06-14"]
    assert flags["3"] == ["owner not told for 4 days"]
    assert flags["2"] == []
    assert "What is most likely wrong is being worked out for 7 jobs" in page.text


def test_the_bench_tells_what_can_run_by_itself_over_all_jobs_the_longest_first(shop, monkeypatch):
    short = Proposal("load_all", "check", "load on everything", "", 0, 0, 0, Minutes(2.0, 60.0))
    long = replace(short, id="memory_test_overnight", title="memory test overnight", minutes=Minutes(3.0, 600.0))
    advice = Advice((short, long), "", False, (), 0, 0, 0, alone=("load_all", "memory_test_overnight"))
    known = {2: replace(advice, alone=("load_all",)), 3: replace(advice, alone=("memory_test_overnight",)), 4: advice}

    def standings(on_file):
        return {each.row.number: Standing(advice=known.get(each.row.number)) for each in on_file}

    monkeypatch.setattr(shop.desk.weigher, "known", standings, raising=True)
    page = shop.open("/")
    lines = [each.text for each in page.all("ul", class_="plain alone")[0].all("li")]
    assert lines == [
        "3 · front desk of the dentist: memory test overnight 3 min of hands, then 10 h by itself · overnight",
        "2 · the tower from the music school: load on everything 2 min of hands, then 1 h by itself",
    ]
    assert "What is most likely wrong is being worked out for 7 jobs" in page.text


def test_of_a_closed_job_nobody_has_to_be_told(shop):
    assert "owner not told" in shop.open("/jobs/3").text
    assert "owner not told" not in shop.open("/jobs/1").text
