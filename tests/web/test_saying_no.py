"""What cannot be entered is told with its code, and nothing that was entered is lost; what is foreign is refused."""

import contextlib
import hashlib
import sqlite3
from datetime import timedelta

import pytest
from folding import BOOK
from stores import NOON
from web_reader import HOME, Browser, Reader

from halfsplit import actions
from halfsplit.actions import Bench, call_away, collect, get_person, job_of, job_view, list_open_jobs
from halfsplit.settings import Settings, load_settings
from halfsplit.store import open_store
from halfsplit.store.vault import open_vault
from halfsplit.web import Desk
from halfsplit.web.guard import MOST_BYTES
from halfsplit.web.texts import say


@pytest.fixture
def opened(browser):
    browser.open("/new")
    browser.press("Open the job", ticked=("nothing happens",))
    return browser


def token(browser):
    return browser.page.all("input", name="token")[0].attrs["value"]


def test_what_cannot_be_read_comes_back_to_be_put_right(opened):
    opened.follow("Seen by the way")
    page = opened.press("Enter the numbers", status=422, **{"number:cell_volts:idle:owner": "three"})
    assert "'three' cannot be read as: CMOS battery" in page.all("div", class_="stop bars")[0].text
    (kept,) = [each for each in page.all("input") if each.attrs.get("value") == "three"]
    assert [each.text for each in page.all("label", for_=kept.attrs["id"])] == ["CMOS battery, V"]
    opened.press("Send it again", **{"number:cell_volts:idle:owner": "3.0"})
    assert job_view(opened.desk.bench, 1).lines[-1].kind == "measure"


def test_an_intake_that_is_refused_opens_no_job_and_sent_again_opens_one_with_its_person(browser):
    sent = {"words": "it beeps", "person": "Zoe Quill", "phone": "555", "sum": "a hundred"}
    browser.open("/new")
    refused = browser.client.post("/new", data={"token": token(browser), **sent})
    assert refused.status_code == 422
    assert list_open_jobs(browser.desk.bench) == ()
    browser.client.post("/new", data={"token": token(browser), **sent, "sum": "100"})
    (job,) = list_open_jobs(browser.desk.bench)
    assert get_person(browser.desk.bench, job.number).person.name == "Zoe Quill"
    assert [line.kind for line in job_view(browser.desk.bench, job.number).lines] == ["intake", "told", "agree"]


@pytest.mark.parametrize("control", ["\a", "\0", "\x1b[31m", "\x7f", "\x9f", "\ufffe"])
def test_what_no_text_can_hold_is_a_blank_in_it(opened, control):
    opened.press("note it", words=f"it beeps{control} loud")
    noted = job_view(opened.desk.bench, 1).job.log[-1].text
    assert noted == f"it beeps{' [31m' if control.startswith(chr(27)) else ''} loud"


def test_an_empty_form_says_so(opened):
    page = opened.press("note it", status=422)
    assert "HS805" in page.text
    assert page.all("h1")[0].text == "Not entered"


def test_there_is_no_such_page_or_job(browser):
    nowhere = browser.open("/nowhere", status=404)
    assert "HS802" in nowhere.text
    assert nowhere.all("h1")[0].text == "Nothing to show"
    assert "HS711" in browser.open("/jobs/77", status=404).text
    assert "HS802" in browser.open("/book/faults/gremlin", status=404).text


@pytest.mark.parametrize(
    "headers",
    [{"origin": "http://elsewhere.example"}, {"sec-fetch-site": "cross-site"}, {"sec-fetch-site": "same-site"}],
)
def test_a_form_from_another_site_is_refused_even_with_the_token(opened, headers):
    data = {"token": token(opened), "words": "x"}
    answer = opened.client.post("/jobs/1/note", data=data, headers=headers)
    assert answer.status_code == 403
    assert "HS801" in answer.text
    assert all(line.kind != "note" for line in job_view(opened.desk.bench, 1).lines)


def test_a_form_without_the_token_of_this_browser_enters_nothing(opened):
    for sent in ("", "guessed"):
        answer = opened.client.post("/jobs/1/note", data={"token": sent, "words": "x"})
        assert answer.status_code == 403
        assert "HS801" in answer.text
    assert all(line.kind != "note" for line in job_view(opened.desk.bench, 1).lines)


def test_a_bench_answers_only_to_its_own_names(browser):
    assert browser.client.get("/", headers={"host": "elsewhere.example"}).status_code == 421
    assert browser.client.get("/", headers={"host": "127.0.0.1:8600"}).status_code == 200
    assert browser.client.get("/", headers={"host": "[::1]:8600"}).status_code == 200


def test_too_large_a_form_is_refused_whatever_its_length_was_said_to_be(opened):
    answer = opened.client.post("/jobs/1/note", content=b"x" * (MOST_BYTES + 1))
    assert answer.status_code == 413

    def pieces():
        for _ in range(MOST_BYTES // 1_000_000 + 2):
            yield b"x" * 1_000_000

    headers = {"content-type": "application/x-www-form-urlencoded"}
    assert opened.client.post("/jobs/1/note", content=pieces(), headers=headers).status_code in (400, 413)


def test_what_was_entered_is_shown_as_text_never_as_markup(opened):
    opened.press("note it", words='<script>alert(1)</script> "quoted"')
    text = opened.client.get("/jobs/1").text
    assert "<script>alert" not in text
    assert "&lt;script&gt;" in text


def test_every_answer_carries_the_policy(browser):
    for address in ("/", "/nowhere", "/static/sheet.css"):
        headers = browser.client.get(address).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"


def test_a_browser_keeps_files_by_their_content_and_no_page(browser):
    kept = {link.attrs["href"] for link in browser.open("/").all("link")}
    kept |= {script.attrs["src"] for script in browser.page.all("script")}
    assert len(kept) >= 4
    for address in kept:
        answer = browser.client.get(address)
        assert answer.status_code == 200
        assert hashlib.sha256(answer.content).hexdigest()[:12] == address.partition("?v=")[2]
        assert "immutable" in answer.headers["cache-control"]
    assert browser.client.get("/static/sheet.css").headers["cache-control"] == "no-cache"
    assert browser.client.get("/static/nothing.css?v=1").headers["cache-control"] == "no-store"
    assert browser.client.get("/").headers["cache-control"] == "no-store"


def test_cookies_are_for_this_site_and_not_for_scripts(browser):
    answer = browser.client.get("/")
    for cookie in answer.headers.get_list("set-cookie"):
        assert "HttpOnly" in cookie
        assert "samesite=strict" in cookie.lower()


def test_who_it_is_comes_back_to_the_same_page_and_nowhere_else(browser):
    browser.open("/shelf")
    browser.press("CD")
    assert browser.address == "/shelf"
    assert browser.page.all("button", aria_pressed="true")[0].text == "CD"


@pytest.mark.parametrize(
    "back",
    [
        "//elsewhere.example/",
        "/\t/elsewhere.example",
        "/\n/elsewhere.example",
        "/\\elsewhere.example",
        "elsewhere",
        "/ /elsewhere.example",
        "https://elsewhere.example/",
    ],
)
def test_who_it_is_leads_to_no_other_site(browser, back):
    browser.open("/shelf")
    data = {"token": token(browser), "who": "AB", "back": back}
    answer = browser.client.post("/who", data=data, follow_redirects=False)
    assert answer.headers["location"] == "/"


def test_who_it_is_comes_back_to_what_was_looked_for(browser):
    browser.open("/?q=M%C3%BCller+%2F+grey")
    browser.press("CD")
    assert browser.page.all("input", name="q")[0].attrs["value"] == "Müller / grey"


def test_nobodys_time_goes_to_a_job_that_was_closed_while_its_link_was_pressed(opened):
    opened.press("AB")
    call_away(opened.desk.bench, by="AB", now=NOON)
    collect(opened.desk.bench, 1, by="CD", now=NOON, person_days=90)
    assert opened.client.post("/jobs/1/come", data={"token": token(opened)}).status_code == 204
    assert job_of(opened.desk.bench, by="AB") is None


def test_settings_are_kept_or_refused_as_a_whole(browser):
    browser.open("/settings")
    page = browser.press("Keep these settings", hour="lots", person_days="soon", status=422)
    assert [each.text.split()[0] for each in page.all("div", class_="stop bars")] == ["HS805", "HS805"]
    browser.open("/settings")
    browser.press("Keep these settings", hour="75", people="AB CD EF")
    assert browser.desk.settings().rates.hour == 7500.0
    assert browser.desk.settings().people == ("AB", "CD", "EF")


def test_a_photo_is_checked_by_its_bytes(opened):
    files = {"photo": ("x.jpg", b"no picture", "image/jpeg")}
    answer = opened.client.post("/jobs/1/photos", data={"token": token(opened)}, files=files)
    assert answer.status_code == 422
    assert "HS722" in answer.text


def test_the_home_of_these_tests_is_the_loopback():
    assert HOME.startswith("http://localhost")


def test_a_person_is_sealed_and_a_passcode_covered_until_it_is_asked_for(opened):
    opened.open("/jobs/1/person")
    page = opened.press("Keep it", name="Jo Muster", passcode="4711")
    assert "4711" not in opened.client.get("/jobs/1/person").text
    page = opened.press("Show the passcode")
    assert page.all("input", name="passcode")[0].attrs["value"] == "4711"
    for address in ("/jobs/1", "/jobs/1/copy", "/jobs/1/collection"):
        text = opened.client.get(address).text
        assert "4711" not in text
        assert "Muster" not in text
    opened.open("/jobs/1/person")
    page = opened.press("Erase the person")
    assert page.all("input", name="name")[0].attrs["value"] == ""


def test_a_change_of_who_brought_a_closed_job_leaves_the_day_on_which_it_is_erased(opened):
    opened.open("/jobs/1/person")
    opened.press("Keep it", name="Jo Muster")
    collect(opened.desk.bench, 1, by="AB", now=opened.desk.clock(), person_days=90)
    opened.open("/jobs/1/person")
    page = opened.press("Keep it", phone="030 1234")
    assert page.all("input", name="name")[0].attrs["value"] == "Jo Muster"
    assert "Erased on 2030-09-12" in page.all("p", class_="lead-in")[0].text


def test_a_person_whose_day_comes_while_the_bench_runs_is_erased_with_the_next_page(opened, clock):
    bench = opened.desk.bench
    opened.open("/jobs/1/person")
    opened.press("Keep it", name="Jo Muster")
    collect(bench, 1, by="AB", now=clock.now, person_days=90)
    clock.now += timedelta(days=89)
    opened.open("/")
    assert get_person(bench, 1) is not None
    clock.now += timedelta(days=1)
    opened.open("/")
    assert get_person(bench, 1) is None


@pytest.fixture
def read_by_another(desk):
    path = desk.bench.store.engine.url.database
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as reader:
        yield lambda: [reader.execute("BEGIN"), reader.execute("SELECT count(*) FROM person").fetchall()]


def test_what_is_entered_but_still_in_the_journal_is_told_and_not_asked_for_again(opened, read_by_another):
    opened.open("/jobs/1/person")
    opened.press("Keep it", name="Jo Muster")
    read_by_another()
    page = opened.press("Erase the person", status=422)
    assert [each.text.split()[0] for each in page.all("div", class_="stop bars")] == ["HS705"]
    assert page.all("h1")[0].text == say("mistakes.left")
    assert not page.all("main")[0].all("form")
    assert get_person(opened.desk.bench, 1) is None


def test_no_page_is_refused_for_what_the_day_erases(opened, clock, read_by_another, capsys):
    opened.open("/jobs/1/person")
    opened.press("Keep it", name="Jo Muster")
    collect(opened.desk.bench, 1, by="AB", now=clock.now, person_days=90)
    read_by_another()
    clock.now += timedelta(days=90)
    opened.open("/")
    opened.open("/")
    assert capsys.readouterr().err.count("HS705") == 1
    assert get_person(opened.desk.bench, 1) is None


def test_a_person_whose_key_is_lost_can_be_erased(opened):
    opened.open("/jobs/1/person")
    opened.press("Keep it", name="Jo Muster")
    key = opened.desk.bench.store.vault.key_path
    key.unlink()
    open_vault(key, has_sealed=False)
    desk = Desk(Bench(open_store(key.parent), BOOK), opened.desk.weigher, opened.desk.clock)
    anew = Browser(desk)
    page = anew.open("/jobs/1/person")
    assert [each.text.split()[0] for each in page.all("div", class_="stop bars")] == ["HS704"]
    assert not page.all("input", name="name")
    page = anew.press("Erase the person")
    assert page.all("input", name="name")[0].attrs["value"] == ""
    assert get_person(desk.bench, 1) is None
    desk.bench.store.close()


def test_nothing_raw_is_shown_of_what_was_refused_and_all_of_it_is_sent_again(opened):
    data = {"token": token(opened), "entry": "- run: {reached: the_moon}", "then": "counter_run"}
    answer = opened.client.post("/jobs/1/enter", data=data)
    assert answer.status_code == 422
    page = Reader(answer.text.replace("<!doctype html>", "")).root
    assert "the_moon" not in " ".join(each.text for each in page.all("label"))
    kept = {each.attrs["name"]: each.attrs for each in page.all("main")[0].all("input")}
    assert kept["entry"]["type"] == "hidden"
    assert kept["entry"]["value"] == data["entry"]
    assert "entry:1" not in page.all("main")[0].text


LONG = "9" * 25


@pytest.mark.parametrize("number", [LONG, "9" * 5000])
def test_a_number_that_no_job_can_have_is_told_wherever_it_is_written(opened, number):
    for page in ("", "/next", "/copy", "/person", "/photos/0"):
        answer = opened.client.get(f"/jobs/{number}{page}")
        assert (answer.status_code, "HS802" in answer.text) == (404, True), page
    for address, fields in (
        ("/scan", {"code": number}),
        ("/scan", {"code": f"hs:job:{number}"}),
        ("/new", {"comeback_of": number}),
        ("/shelf", {"what": "count", "title": "paste", "many": number}),
    ):
        answer = opened.client.post(address, data={"token": token(opened), **fields})
        assert (answer.status_code, "HS805" in answer.text) == (422, True), (address, fields)
    assert len(list_open_jobs(opened.desk.bench)) == 1


@pytest.mark.parametrize("number", ["nan", "inf", "-inf", "1e999"])
def test_what_is_no_finite_number_is_told(opened, number):
    entry = actions.record(opened.desk.bench, 1, "agree: {text: x, cost: 50}", by="AB", now=NOON)[0].entry
    for address, field in (
        ("/settings", "person_days"),
        ("/settings", "hour"),
        (f"/jobs/1/entries/{entry}", "sum"),
        ("/jobs/1/enter", "number:cell_volts:idle:owner"),
    ):
        answer = opened.client.post(address, data={"token": token(opened), field: number})
        assert (answer.status_code, "HS805" in answer.text) == (422, True), (address, field)
    assert load_settings(opened.desk.bench.store) == Settings(people=("AB", "CD"))
    assert len(job_view(opened.desk.bench, 1).lines) == 2


@pytest.mark.parametrize(
    ("entry", "field"),
    [
        ("told: {stop: resets, load: games, always: yes}", "always"),
        ("run: {reached: log_in, stop: {resets: 6 min}}", "missed"),
        ("measure: {at: rail_12v, volts: 11.9}", "place"),
    ],
)
def test_an_answer_that_a_field_does_not_have_is_told(opened, entry, field):
    (line,) = actions.record(opened.desk.bench, 1, entry, by="AB", now=NOON)
    data = {"token": token(opened), field: "the_moon"}
    answer = opened.client.post(f"/jobs/1/entries/{line.entry}", data=data)
    assert (answer.status_code, "HS805" in answer.text) == (422, True)
    assert "the_moon" in answer.text
    assert job_view(opened.desk.bench, 1).lines[-1] == line


@pytest.fixture
def failing(opened, monkeypatch):
    """The page of the bench and notes fail, by a fault of the program."""

    def fail(*args, **fields):
        raise ZeroDivisionError("a fault of the program")

    monkeypatch.setattr(actions, "list_open_jobs", fail)
    monkeypatch.setattr(actions, "record", fail)
    return opened


def test_a_fault_of_the_program_is_told_as_its_own_and_logged_and_what_was_typed_is_there(failing, caplog):
    answer = failing.client.post("/jobs/1/note", data={"token": token(failing), "words": "smells of dust"})
    assert answer.status_code == 500
    for said in ("HS806", "the fault is ours", "nothing of it was entered", "smells of dust"):
        assert said in answer.text
    page = failing.client.get("/")
    assert (page.status_code, "HS806" in page.text) == (500, True)
    assert [each.exc_info[0] for each in caplog.records] == [ZeroDivisionError] * 2
    assert len(job_view(failing.desk.bench, 1).lines) == 1


def test_what_is_entered_is_never_told_as_not_entered(opened, monkeypatch, caplog):
    def fail(*args):
        raise ZeroDivisionError("a fault of the program")

    monkeypatch.setattr("halfsplit.web.entered.entered", fail)
    data = {"token": token(opened), "words": "smells of dust"}
    answer = opened.client.post("/jobs/1/note", data=data, headers={"X-Follow": "1"}, follow_redirects=False)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/jobs/1#next")
    assert [each.exc_info[0] for each in caplog.records] == [ZeroDivisionError]
    assert job_view(opened.desk.bench, 1).job.log[-1].text == "smells of dust"
