"""A form that a page sends by itself is answered with what it entered and where it leads to; a browser is sent on."""

from datetime import timedelta

import pytest
from starlette.testclient import TestClient
from stores import NOON
from web_reader import HOME, Browser, Reader

from halfsplit.web import make_app

FOLLOW = {"X-Follow": "1"}
LOOK = "inspect: {at: outlet, seen: fine}"


@pytest.fixture
def opened(desk):
    browser = Browser(desk)
    browser.open("/new")
    browser.press("Open the job")
    return browser


@pytest.fixture
def client(desk, opened):
    with TestClient(make_app(desk), base_url=HOME, follow_redirects=False) as client:
        client.get(opened.address)
        yield client


def send(client, address, headers=FOLLOW, **fields):
    return client.post(address, data={"token": client.cookies["halfsplit_token"], **fields}, headers=headers)


def ticked(browser):
    looks = browser.open(f"/jobs/{browser.number}/seen").all("button", aria_current="true")
    return sorted(each.text.partition(":")[0] for each in looks)


def take_back(client, address, **fields):
    """Press the button that the page shows."""
    (button,) = Reader(client.get(address).text).root.all("button", data_test="undo")
    return send(client, f"{address}/undo", **{button.attrs["name"]: button.attrs["value"]}, **fields)


def part(answer):
    (found,) = Reader(answer.text).root.all("div", data_part="entered")
    return found


def test_the_answer_says_what_was_entered_and_where_it_leads_to(opened, client):
    answer = send(client, f"{opened.address}/note", words="smells of dust")
    assert answer.status_code == 200
    assert answer.headers["Content-Location"] == f"{opened.address}#next"
    assert part(answer).text == "smells of dust Take it back"
    sheet = client.get(opened.address)
    assert "smells of dust" in Reader(sheet.text).root.all("ol", class_="log")[0].text
    assert part(sheet).everything()[0].attrs == part(answer).everything()[0].attrs
    assert part(sheet).text == part(answer).text


def test_the_answer_is_a_small_part_of_the_page_that_it_leads_to(opened, client):
    answer = send(client, f"{opened.address}/note", words="smells of dust")
    assert 20 * len(answer.text) < len(client.get(opened.address).text)


def test_of_a_run_without_its_numbers_the_run_is_said(opened, client):
    run = "- run: {reached: log_in, stop: none}"
    card = {"entry": run, "unmeasured": "counter_run", "title": "counter run"}
    answer = send(client, f"{opened.address}/enter", **card)
    assert part(answer).text == "reached 'log-in', stayed up and 1 more Take it back"
    assert part(answer).all("form")[0].attrs["data-entry"] == "decide_1"


def test_of_a_look_that_nobody_is_sure_of_that_is_said(opened, client):
    unsure = f"- {LOOK.replace('fine', 'unsure')}"
    card = {"reason": "not_sure", "title": "counter run", "proposal": "counter_run", "unsure": unsure}
    answer = send(client, f"{opened.address}/pass", **card)
    assert part(answer).text == "not sure: counter run and 1 more Take it back"
    assert part(answer).all("form")[0].attrs["data-entry"] == "decide_1"


def test_of_several_looks_the_one_that_was_not_fine_is_said(opened, client):
    looks = (
        "- inspect: {at: paste, seen: fine}\n- inspect: {at: inside, seen: dust}\n- inspect: {at: fan.1, seen: fine}"
    )
    answer = send(client, f"{opened.address}/enter", entry=looks)
    assert part(answer).text == "whole inside, before a hand goes in (photo): dust and 2 more Take it back"
    answer = send(client, f"{opened.address}/enter", entry=looks.replace("dust", "fine"))
    assert part(answer).text == "print of the thermal paste: fine and 2 more Take it back"


def test_each_undo_says_what_it_took_back_and_what_can_be_taken_back_next(opened, client, clock):
    address = opened.address
    for seconds, look in ((0, LOOK), (3, "inspect: {at: inside, seen: dust}"), (5, "inspect: {at: paste, seen: dry}")):
        clock.now = NOON + timedelta(seconds=seconds)
        send(client, f"{address}/enter", entry=look, stay="seen")
    assert ticked(opened) == ["dry", "dust", "fine"]
    clock.now = NOON + timedelta(seconds=7)
    said = part(take_back(client, address, stay="seen"))
    assert said.text == "Taken back. Before that: whole inside, before a hand goes in (photo): dust Take it back"
    assert said.all("form")[0].attrs["data-vanish"] == "6"
    assert ticked(opened) == ["dust", "fine"]
    clock.now = NOON + timedelta(seconds=11)
    said = part(take_back(client, address, stay="seen"))
    assert said.text.endswith("dust\u2019")
    assert said.all("form")[0].attrs["data-vanish"] == "10"
    assert not said.all("button")
    assert ticked(opened) == ["fine"]
    assert "HS715" in send(client, f"{address}/undo", stay="seen").text


def test_an_undo_takes_back_what_its_page_showed_and_nothing_that_another_tablet_entered(opened, client, clock):
    address = opened.address
    shown = part(send(client, f"{address}/enter", entry=LOOK, stay="seen")).all("button")[0].attrs["value"]
    clock.now = NOON + timedelta(seconds=2)
    send(client, f"{address}/enter", entry="inspect: {at: inside, seen: dust}", stay="seen")
    refused = send(client, f"{address}/undo", takes_back=shown)
    assert refused.status_code == 422
    assert "HS717" in refused.text
    assert "Send it again" not in refused.text  # it would be refused again
    assert ticked(opened) == ["dust", "fine"]


def test_an_undo_that_is_sent_twice_takes_back_one_tap(opened, client, clock):
    address = opened.address
    send(client, f"{address}/enter", entry=LOOK, stay="seen")
    clock.now = NOON + timedelta(seconds=2)
    shown = part(send(client, f"{address}/enter", entry="inspect: {at: inside, seen: dust}", stay="seen"))
    for status in (200, 422):
        assert send(client, f"{address}/undo", takes_back=shown.all("button")[0].attrs["value"]).status_code == status
    assert ticked(opened) == ["fine"]


def test_what_was_entered_in_the_second_of_an_undo_is_said_as_what_it_is(opened, client, clock):
    address = opened.address
    clock.now = NOON
    send(client, f"{address}/enter", entry=LOOK, stay="seen")
    take_back(client, address, stay="seen")
    said = part(send(client, f"{address}/enter", entry="inspect: {at: inside, seen: dust}", stay="seen"))
    assert said.text == "whole inside, before a hand goes in (photo): dust Take it back"


def test_it_is_entered_once(opened, client):
    for headers in (FOLLOW, {}):
        before = opened.open(opened.address).all("ol", class_="log")[0].text.count("smells of dust")
        send(client, f"{opened.address}/note", headers=headers, words="smells of dust")
        assert opened.open(opened.address).all("ol", class_="log")[0].text.count("smells of dust") == before + 1


def test_without_asking_for_it_a_browser_is_sent_on(opened, client):
    answer = send(client, f"{opened.address}/note", headers={}, words="smells of dust")
    assert (answer.status_code, answer.headers["Location"]) == (303, f"{opened.address}#next")
    assert "Content-Location" not in answer.headers


def test_what_is_refused_leads_nowhere(opened, client):
    answer = send(client, f"{opened.address}/enter", entry="run: {reached: the_moon}")
    assert answer.status_code == 422
    assert "Content-Location" not in answer.headers
    foreign = client.post(f"{opened.address}/note", data={"token": "no", "words": "x"}, headers=FOLLOW)
    assert "HS801" in foreign.text
    assert "Content-Location" not in foreign.headers


def test_what_is_of_no_job_is_sent_on_as_ever(opened, client):
    answer = send(client, "/who", who="AB", back="/?q=storm")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/?q=storm")


@pytest.mark.parametrize(
    ("stay", "to"),
    [
        ({}, "#next"),
        ({"stay": "seen"}, "/seen"),
        ({"stay": "rebuild"}, "/rebuild"),
        ({"stay": "seen?check=counter_run,outlet_look"}, "/seen?check=counter_run,outlet_look"),
    ],
)
def test_where_there_may_be_more_to_enter_the_page_stays(opened, client, stay, to):
    for headers in (FOLLOW, {}):
        answer = send(client, f"{opened.address}/enter", headers=headers, entry=LOOK, **stay)
        where = answer.headers["Content-Location" if headers else "Location"]
        assert where == f"{opened.address}{to}"
    assert take_back(client, opened.address, **stay).headers["Content-Location"] == f"{opened.address}{to}"


def test_where_it_stays_leads_to_no_other_page_whatever_is_sent(opened, client):
    for page in ("seen/../..//elsewhere", "seen?check=x#y", "//elsewhere", "seen\r\nA: b", "photos"):
        answer = send(client, f"{opened.address}/enter", headers={}, entry=LOOK, stay=page)
        assert answer.headers["Location"] == f"{opened.address}#next"


def test_a_job_whose_sheet_is_not_looked_at_is_weighed_all_the_same(opened, client, desk):
    desk.weigher.work_off()
    send(client, f"{opened.address}/enter", entry=LOOK, stay="seen")
    desk.weigher.work_off()
    page = opened.open(opened.address)
    assert page.all("div", id="live")[0].attrs["data-refresh"] == ""
