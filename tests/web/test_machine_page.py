"""What intake says of the machine is filled in and put right on a page, and what was known before stays in the log."""

import pytest
from folding import BOOK, job_of
from stores import NOON

from halfsplit.actions import job_view, record
from halfsplit.jobfile import parse_machine, write_job, write_known
from halfsplit.web.entry_fields import corrected
from halfsplit.web.machine_fields import machine_groups

PIECES = {
    "kind": "built",
    "age_years": "6",
    "supply": "{watts: 550}",
    "memory": "[8, 8]",
    "card": "none",
    "drives": "[m2, sata]",
    "optical": "yes",
}
"""What a job file would say of the machine."""


@pytest.fixture
def opened(browser):
    browser.open("/new")
    browser.press("Open the job", ticked=("nothing happens", "built, with graphics card"), name="the grey one")
    return browser


def machine(pieces):
    return f"{{{', '.join(f'{name}: {said}' for name, said in pieces.items() if said)}}}"


def known(browser):
    return job_view(browser.desk.bench, 1).job


def log_of(browser):
    return [item.text for item in browser.open("/jobs/1").all("ol", class_="log")[0].all("li")]


def fields(job):
    return {field.name: field for group in machine_groups(job, BOOK) for field in group.fields}


def changed(job, **sent):
    return corrected(job, machine_groups(job, BOOK), {name: (said,) for name, said in sent.items()})


def read_again(job, before):
    """Return what the text between two jobs makes of the first."""
    now, mistakes = parse_machine(write_known(job, before), write_job(before, BOOK), BOOK)
    assert not mistakes
    return now


def test_a_form_that_is_sent_back_as_it_came_changes_nothing():
    job = job_of(machine=machine(PIECES))
    sent = {name: field.value for name, field in fields(job).items()}
    assert changed(job, **sent) == job
    assert read_again(job, job) == job


def test_what_stands_is_chosen_and_nothing_on_the_form_is_raw():
    for name, field in fields(job_of(machine=machine(PIECES))).items():
        values = [option.value for option in field.options]
        assert not values or values.count(field.value) == 1, name
        assert "_" not in "".join((field.title, *(option.title for option in field.options)))


CHANGES = [
    ({"part:memory": "4"}, {"memory": "[8, 8, {}, {}]"}),
    ({"part:memory": "1"}, {"memory": "[8]"}),
    ({"part:memory": "0"}, {"memory": "none"}),
    ({"part:memory": ""}, {"memory": ""}),
    ({"part:card": "1"}, {"card": "{}"}),
    ({"part:card": ""}, {"card": ""}),
    ({"part:optical": "0"}, {"optical": "none"}),
    ({"on:supply:watts": "650"}, {"supply": "{watts: 650}"}),
    ({"on:supply:watts": ""}, {"supply": "{}"}),
    ({"on:memory.2:gb": "16"}, {"memory": "[8, 16]"}),
    ({"on:memory.2:gb": "16", "part:memory": "1"}, {"memory": "[8]"}),
    ({"on:drive.2:type": "mechanical"}, {"drives": "[m2, mechanical]"}),
    ({"on:board:firmware": "F 12b"}, {"board": "{firmware: F 12b}"}),
    ({"fact:kind": "ready_made"}, {"kind": "ready_made"}),
    ({"fact:drive_lock": "encrypted"}, {"drive_lock": "encrypted"}),
    ({"age_years": "7,5"}, {"age_years": "7.5"}),
    ({"age_years": ""}, {"age_years": ""}),
]


@pytest.mark.parametrize(("sent", "told"), CHANGES)
def test_each_answer_makes_what_a_job_file_would_say(sent, told):
    before = job_of(machine=machine(PIECES))
    after = read_again(changed(before, **sent), before)
    now = job_of(machine=machine({**PIECES, **told}))
    assert (after.machine, after.parts, after.missing) == (now.machine, now.parts, now.missing)


def test_the_machine_is_put_right_from_the_sheet_and_the_log_says_what_was_known_before(opened):
    page = opened.open("/jobs/1")
    (link,) = page.all("a", href="/jobs/1/machine")[:1]
    assert link.text == "add to this, or correct it"
    opened.follow("add to this, or correct it")
    opened.press("Keep it", **{"part:card": "0", "fact:kind": "ready_made", "on:supply:watts": "450"})
    job = known(opened)
    assert job.missing == ("card",)
    assert job.machine["kind"] == "ready_made"
    assert job.complaint == "nothing_happens"
    assert job.name == "the grey one"
    newest, *_, first = log_of(opened)
    assert "known of the machine: ready made, power supply, no graphics card" in newest
    assert "not so any more: built, graphics card" in newest
    assert "nothing happens" in first
    assert "correct" in newest


def test_of_a_machine_of_which_nothing_is_known_the_sheet_asks_what_it_is(browser):
    browser.open("/new")
    page = browser.press("Open the job")
    (link,) = page.all("a", href="/jobs/1/machine")[:1]
    assert link.text == "What machine is it?"


def test_a_complaint_told_wrong_is_put_right_and_one_tap_takes_that_back(opened):
    opened.open("/jobs/1/machine")
    page = opened.press("Keep it", complaint="lights_no_picture")
    assert known(opened).complaint == "lights_no_picture"
    assert "not so any more: nothing happens" in page.all("div", class_="entered")[0].text
    opened.post_button("undo")
    assert known(opened).complaint == "nothing_happens"


def test_nothing_changed_and_what_does_not_fit_come_back_as_filled_in(opened):
    opened.open("/jobs/1/machine")
    page = opened.press("Keep it", status=422)
    assert "nothing was changed" in page.text
    opened.open("/jobs/1/machine")
    page = opened.press("Keep it", status=422, age_years="old")
    assert "cannot be read" in page.text
    assert page.all("input", name="age_years")[0].attrs["value"] == "old"


def test_a_part_that_the_log_has_worked_on_cannot_be_said_not_to_be_there(opened):
    opened.open("/jobs/1/machine")
    opened.press("Keep it", **{"part:memory": "2"})
    record(opened.desk.bench, 1, "setup: {memory.2: owner.memory.2}", by="AB", now=NOON)
    opened.open("/jobs/1/machine")
    page = opened.press("Keep it", status=422, **{"part:memory": "1"})
    assert page.all("select", name="part:memory")[0].text
    assert len([part for part in known(opened).parts if part.slot.startswith("memory")]) == 2
