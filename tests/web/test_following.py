"""A form that a page sends by itself gets the page that a browser would be sent on to, in one answer."""

import pytest
from starlette.testclient import TestClient
from web_reader import HOME, Browser, Reader

from halfsplit.web import make_app

FOLLOW = {"X-Follow": "1"}


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


def test_the_answer_is_the_page_that_it_leads_to_and_says_where_that_is(opened, client):
    answer = send(client, f"{opened.address}/note", words="smells of dust")
    assert answer.status_code == 200
    assert answer.headers["Content-Location"] == f"{opened.address}#next"
    assert "smells of dust" in Reader(answer.text).root.all("ol", class_="log")[0].text
    assert answer.text == client.get(opened.address).text


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


def test_what_stands_behind_an_address_goes_along(opened, client):
    answer = client.post(
        "/who", data={"token": client.cookies["halfsplit_token"], "who": "AB", "back": "/?q=storm"}, headers=FOLLOW
    )
    assert answer.headers["Content-Location"] == "/?q=storm"
    assert Reader(answer.text).root.all("input", id="q")[0].attrs["value"] == "storm"
