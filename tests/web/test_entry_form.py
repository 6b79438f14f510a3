"""An entry is corrected in the words by which it was entered: nothing raw is shown, and only what changed is put."""

import re
from dataclasses import replace

import pytest
from folding import BOOK, job_of
from stores import NOON

from halfsplit.actions import job_view, open_job, record
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.trail import walk_job
from halfsplit.job.units import OWNER
from halfsplit.measure import BENCH_METER
from halfsplit.model.job import Inspect, Measure, Run
from halfsplit.web.entry_fields import TILES, corrected
from halfsplit.web.entry_form import EntryForm, correction_text
from halfsplit.web.seen_page import ENDINGS

MACHINE = "{memory: [8, 8], card: {}, drives: [m2, sata]}"
ENTRIES = (
    "run: {not: starts, signs: {fans_turn: no, standby_light: unsure}}",
    "run: {reached: log_in, stop: {resets: 6 min}, load: card, failed: 3, of: 5}",
    "run: {with: {supply: shelf.supply_a, memory.2: out}, output: board, case: out, reached: starts, picture: no}",
    "run: {on: bench, with: {card: owner}, reached: log_in, stop: none, position: flat, touched: memory}",
    "run: {not: log_in, lead_out: 5 min, first_after: side_panel, started_by: mains, minutes: 30, cold: yes}",
    "inspect: {at: memory_seat.2, seen: dirty}",
    "inspect: {at: supply_exhaust, tool: nose, seen: fine}",
    "measure: {at: rail_12v, volts: 11.42, load: card}",
    "measure: {at: drive_temp.2, celsius: 62}",
    "setup: {memory.2: out, supply: shelf.supply_a, output: board}",
    "repair: {do: reseat_memory, at: memory_seat.2}",
    "repair: {do: replace_supply, at: supply, with: shelf.supply_a}",
    "told: {event: storm, ago: 2 days}",
    "told: {stop: resets, load: games, always: no, words: it just goes}",
    "agree: {text: up to, cost: 120}",
    "spend: 84.90",
    "note: rings back",
    "advise: another machine",
)


def form_of(job):
    return EntryForm(walk_job(job, BOOK).standing[OWNER], BOOK, "EUR", (BENCH_METER,))


def of(line):
    job = job_of(line, machine=MACHINE)
    (entry,) = job.log
    return entry, form_of(job).groups(entry)


def fields(groups):
    return {field.name: field for group in groups for field in group.fields}


def ids():
    """Every id of the book that is not said as it is written: those with an underscore."""
    nouns = (BOOK.signs, BOOK.loads, BOOK.events, BOOK.repairs, BOOK.inspections, BOOK.measurements, BOOK.kinds)
    more = (BOOK.touches, BOOK.starters, BOOK.openings, BOOK.hosts, BOOK.shelf, BOOK.joints)
    return {name for each in (*nouns, *more) for name in each if "_" in name}


@pytest.mark.parametrize("line", ENTRIES)
def test_nothing_on_the_form_is_raw_and_what_stands_is_chosen(line):
    _, groups = of(line)
    found = fields(groups)
    assert found
    words = [word for field in found.values() for word in (field.title, field.note, *(o.title for o in field.options))]
    assert not [word for word in words if re.search(r"[a-z]_[a-z]", word) or word in ids()]
    assert not {field.unit for field in found.values()} & {point.unit for point in BOOK.measurements.values()} - {"rpm"}
    for field in found.values():
        values = [option.value for option in field.options]
        assert not values or values.count(field.value) == 1, field.name


@pytest.mark.parametrize("line", ENTRIES)
def test_a_form_that_is_sent_back_as_it_came_changes_nothing(line):
    entry, groups = of(line)
    sent = {name: (field.value,) for name, field in fields(groups).items()}
    assert corrected(entry, groups, sent) == entry


CHANGES = [
    (
        "run: {not: starts, signs: {fans_turn: no}}",
        {"ending": "stays"},
        "run: {reached: log_in, stop: none, signs: {fans_turn: no}}",
    ),
    (
        "run: {not: starts, signs: {fans_turn: no}}",
        {"sign:fans_turn": "yes"},
        "run: {not: starts, signs: {fans_turn: yes}}",
    ),
    ("run: {not: starts, signs: {fans_turn: no}}", {"sign:fans_turn": "", "more:yes": "artefacts"}, None),
    (
        "run: {not: starts}",
        {"touched": "memory", "position": "flat"},
        "run: {not: starts, touched: memory, position: flat}",
    ),
    (
        "run: {not: starts}",
        {"lead_out": "10 min", "minutes": "90 s"},
        "run: {not: starts, lead_out: 10 min, minutes: 1.5}",
    ),
    ("run: {not: starts}", {"also_ours": "supply_a"}, "run: {not: starts, with: {supply: shelf.supply_a}}"),
    ("run: {not: starts}", {"also_out": "memory.2"}, "run: {not: starts, with: {memory.2: out}}"),
    ("run: {not: starts, with: {memory.2: out}}", {"slot:memory.2": ""}, "run: {not: starts}"),
    ("run: {not: starts}", {"of": "4", "failed": "2"}, "run: {not: starts, failed: 2, of: 4}"),
    ("run: {not: starts, of: 3}", {"of": "2"}, "run: {not: starts, of: 2}"),
    (
        "run: {reached: log_in, stop: {resets: 6 min}}",
        {"stop": "freezes", "after": "2 h"},
        "run: {reached: log_in, stop: {freezes: 2 h}}",
    ),
    (
        "run: {reached: starts, picture: {card: no}}",
        {"picture:card:self_test": "yes", "picture:card:system": ""},
        "run: {reached: starts, picture: {card: {self_test: yes}}}",
    ),
    (
        "inspect: {at: memory_seat.2, seen: dirty}",
        {"seen": "fine", "place": "memory_seat.1"},
        "inspect: {at: memory_seat.1, seen: fine}",
    ),
    ("measure: {at: rail_12v, volts: 11.42}", {"value": "12,1"}, "measure: {at: rail_12v, volts: 12.1}"),
    ("setup: {memory.2: out}", {"slot:memory.2": "in", "case": "out"}, "setup: {memory.2: in, case: out}"),
    (
        "repair: {do: reseat_memory, at: memory_seat.2}",
        {"place": "memory_seat.1"},
        "repair: {do: reseat_memory, at: memory_seat.1}",
    ),
    (
        "repair: {do: reseat_memory, at: memory_seat.2}",
        {"do": "replace_supply"},
        "repair: {do: replace_supply, at: supply}",
    ),
    ("told: {event: storm}", {"is_true": "no", "sure": "guess"}, "told: {event: storm, happened: no, sure: guess}"),
    ("told: {stop: resets, load: games}", {"always": "yes"}, "told: {stop: resets, load: games, always: yes}"),
    ("agree: {text: up to, cost: 120}", {"sum": "80,50", "text": "no more"}, "agree: {text: no more, cost: 80.50}"),
    ("note: rings back", {"text": 'says "no"'}, 'note: "says \\"no\\""'),
]


@pytest.mark.parametrize(("line", "sent", "meant"), CHANGES)
def test_another_answer_is_put_in_and_goes_on_the_log_as_a_correction(line, sent, meant):
    entry, groups = of(line)
    now = corrected(entry, groups, {name: (value,) for name, value in sent.items()})
    wanted, _ = of(meant or "run: {not: starts, signs: {artefacts: yes}}")
    text = correction_text(entry, now, BOOK)
    told, log = apply_corrections(job_of(line, text.removeprefix("- "), machine=MACHINE), [])
    (again,) = (*told, *log)
    for each in (now, again):
        assert replace(each, place="", id="") == replace(wanted, place="", id="")


@pytest.mark.parametrize("name", ENDINGS)
def test_a_run_that_was_entered_by_a_tile_shows_that_tile(name):
    run = Run("run_1", seen=ENDINGS[name])
    field = fields(form_of(job_of(machine=MACHINE)).groups(run))["ending"]
    assert (field.shape, field.value) == (TILES, name)


def test_a_look_has_the_words_and_a_number_the_unit_and_limits_by_which_they_are_entered():
    look, measured = Inspect("i", what="memory_seat.1", seen="fine"), Measure("m", what="rail_12v", value=12.0)
    form = form_of(job_of(machine=MACHINE))
    seen, value = fields(form.groups(look))["seen"], fields(form.groups(measured))["value"]
    assert [each.value for each in seen.options] == [*BOOK.inspections["memory_seat"].seen, "unsure"]
    assert (value.unit, value.note) == ("V", "11.4 to 12.6\u00a0V")


@pytest.fixture
def corrector(browser, desk):
    """A browser on a job with a run, and the number of that job."""
    number = open_job(desk.bench, f"machine: {MACHINE}", by="AB", now=NOON)
    record(desk.bench, number, "run: {not: starts, signs: {fans_turn: no}}", by="AB", now=NOON)
    browser.open(f"/jobs/{number}/entries/run_1")
    return browser, number


def test_a_correction_is_made_on_the_page(corrector, desk):
    browser, number = corrector
    page = browser.press("Correct it", ending="stays", load="card")
    assert browser.address.startswith(f"/jobs/{number}")
    assert "load on the graphics card" in page.all("ol", class_="log")[0].text
    (run,) = apply_corrections(job_view(desk.bench, number).job, [])[1]
    assert run.seen.stayed
    assert run.seen.signs == {"fans_turn": "no"}


def test_what_is_refused_comes_back_as_it_was_filled_in(corrector):
    browser, _ = corrector
    page = browser.press("Correct it", status=422, lead_out="a while", load="card")
    assert "HS805" in page.text
    assert "'a while' cannot be read as: Mains lead out before, for." in page.text
    assert page.all("input", name="lead_out")[0].attrs["value"] == "a while"
    assert "open" in page.all("input", name="lead_out")[0].inside("details").attrs
    chosen = [each for each in page.all("option") if "selected" in each.attrs and each.parent.attrs["name"] == "load"]
    assert [each.attrs["value"] for each in chosen] == ["card"]
    browser.press("Correct it", status=422, lead_out="", load="idle")
    assert "nothing was changed" in browser.page.text


@pytest.mark.parametrize(
    ("sent", "told"),
    [
        (
            {"reached": "log_in", "missed": "starts"},
            "it came at least to 'log-in', and did not come to 'starts (fans move)'",
        ),
        ({"missed": "log_in", "stop": "stayed"}, "it did not stop, and did not come to 'log-in'"),
        ({"of": "2", "failed": "3"}, "3 of 2 runs showed it"),
    ],
)
def test_answers_that_do_not_go_together_are_told_in_the_words_of_the_form(corrector, sent, told):
    browser, _ = corrector
    alert = browser.press("Correct it", status=422, **sent).all("div", class_="stop bars")[0].text
    assert told in alert
    assert not re.search(r"[a-z]_[a-z]", alert)


def test_what_was_taken_back_can_only_be_brought_back(corrector):
    browser, number = corrector
    browser.press("It never was so")
    page = browser.open(f"/jobs/{number}/entries/run_1")
    assert not page.all("select")
    browser.press("It was so after all")
    assert browser.open(f"/jobs/{number}/entries/run_1").all("select")


def test_a_decision_that_passes_a_check_over_is_said_without_its_id_and_only_taken_back(corrector, desk):
    browser, number = corrector
    text = 'decide: {text: "already done: memory test overnight [memory_test_overnight]"}'
    record(desk.bench, number, text, by="AB", now=NOON)
    page = browser.open(f"/jobs/{number}")
    assert "already done: memory test overnight" in page.all("ol", class_="log")[0].text
    assert "[memory_test_overnight]" not in page.all("ol", class_="log")[0].text
    page = browser.open(f"/jobs/{number}/entries/decide_1")
    assert not page.all("textarea")
    assert page.all("button", name="withdraw")
