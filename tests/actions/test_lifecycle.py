"""States, promises, contact and time spent: noted as they come, and shown in lists."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from stores import NOON, after

from halfsplit.actions import (
    bring_back,
    call_away,
    collect,
    describe,
    job_of,
    job_view,
    keep_summary,
    list_closed_jobs,
    list_open_jobs,
    note_contact,
    open_job,
    promise,
    put_away,
    record,
    search_jobs,
    set_state,
    start_time,
    sum_up,
    weigh,
)
from halfsplit.actions.bench import in_utc
from halfsplit.actions.onfile import read_on_file
from halfsplit.errors import StoreError
from halfsplit.store.spells import Spell
from halfsplit.store.states import STATES


def numbers(rows):
    return [row.number for row in rows]


def test_every_state_is_kept_with_who_and_when(bench, job):
    set_by_hand = [state for state in STATES if state != "collected"]
    for n, state in enumerate(set_by_hand):
        set_state(bench, job, state, by="CD", now=after(n), waiting_for="a call")
    collect(bench, job, by="CD", now=after(99), person_days=90)
    states = job_view(bench, job).states
    assert [change.state for change in states] == ["on_bench", *set_by_hand, "collected"]
    assert {(change.initials, change.waiting_for) for change in states[1:-1]} == {("CD", "a call")}


def test_what_a_form_may_send_can_be_kept(bench, job):
    set_state(bench, job, "ready", by="A\0", now=NOON, waiting_for="half a \ud83d face")
    state = job_view(bench, job).states[-1]
    assert (state.initials, state.waiting_for) == ("A ", "half a ? face")


@pytest.mark.parametrize("state", ["lost", "collected", ""])
def test_no_other_state_is_taken(bench, job, state):
    with pytest.raises(StoreError, match="HS712"):
        set_state(bench, job, state, by="AB", now=NOON)
    assert job_view(bench, job).row.state == "on_bench"


def test_a_collected_job_is_closed_and_one_put_away_comes_back(bench, job):
    other = open_job(bench, by="AB", now=NOON)
    collect(bench, job, by="AB", now=NOON, person_days=90)
    put_away(bench, other, now=NOON, person_days=90)
    assert (numbers(list_open_jobs(bench)), numbers(list_closed_jobs(bench))) == ([], [other, job])
    bring_back(bench, other)
    assert (numbers(list_open_jobs(bench)), numbers(list_closed_jobs(bench))) == ([other], [job])
    put_away(bench, job, now=NOON, person_days=90)
    bring_back(bench, job)
    assert numbers(list_closed_jobs(bench)) == [job]


def test_closed_jobs_come_page_by_page(bench):
    opened = [open_job(bench, by="AB", now=NOON) for _ in range(5)]
    for number in opened:
        collect(bench, number, by="AB", now=NOON, person_days=90)
    first = numbers(list_closed_jobs(bench, limit=3))
    assert first == opened[:1:-1]
    assert numbers(list_closed_jobs(bench, before=first[-1], limit=3)) == opened[1::-1]


def test_what_is_promised_first_comes_first(bench):
    one, two, three = (open_job(bench, by="AB", now=NOON) for _ in range(3))
    promise(bench, three, date(2030, 6, 20))
    promise(bench, two, date(2030, 6, 18))
    assert numbers(list_open_jobs(bench)) == [two, three, one]
    promise(bench, two, None)
    assert numbers(list_open_jobs(bench)) == [three, one, two]


def test_contact_is_noted(bench, job):
    note_contact(bench, job, now=after(60))
    assert job_view(bench, job).row.contacted_at == "2030-06-14T12:01:00+00:00"


def test_a_comeback_names_the_earlier_job(bench, job):
    again = open_job(bench, by="AB", now=NOON, comeback_of=job)
    row = job_view(bench, again).row
    assert (row.comeback_of, row.state) == (job, "comeback")
    with pytest.raises(StoreError, match="HS711"):
        open_job(bench, by="AB", now=NOON, comeback_of=99)
    assert len(list_open_jobs(bench)) == 2


def test_time_goes_to_one_job_at_a_time(bench, job):
    other = open_job(bench, by="AB", now=NOON)
    start_time(bench, job, by="AB", now=NOON)
    start_time(bench, job, by="AB", now=after(30))
    start_time(bench, job, by="CD", now=after(40))
    start_time(bench, other, by="AB", now=after(60))
    assert job_of(bench, by="AB").job == other
    call_away(bench, by="AB", now=after(90))
    call_away(bench, by="AB", now=after(95))
    assert job_of(bench, by="AB") is None
    assert job_view(bench, job).spells == (
        Spell(job, "AB", "2030-06-14T12:00:00+00:00", "2030-06-14T12:01:00+00:00"),
        Spell(job, "CD", "2030-06-14T12:00:40+00:00"),
    )
    assert job_view(bench, other).spells == (
        Spell(other, "AB", "2030-06-14T12:01:00+00:00", "2030-06-14T12:01:30+00:00"),
    )


def test_a_double_tap_starts_time_once(bench, job):
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda _: start_time(bench, job, by="AB", now=NOON), range(8)))
    assert len(job_view(bench, job).spells) == 1


@pytest.mark.parametrize(
    "asked",
    ["tower", "TOWER", "tow", "tower built", "fishy smell", "blue-ish", "starts misbehaves", 'tower" OR "x', "é"],
)
def test_a_job_is_found_by_its_words(bench, job, asked):
    open_job(bench, "name: another", by="AB", now=NOON)
    record(bench, job, '[{told: {words: "a fishy smell"}}, {note: "the case is blue-ish, é"}]', by="AB", now=NOON)
    found = numbers(search_jobs(bench, asked))
    assert found == ([] if "OR" in asked else [job])


@pytest.mark.parametrize("asked", ["", "  ", "*", "nothing of the kind", "tower -built NEAR("])
def test_what_nobody_wrote_finds_nothing(bench, job, asked):
    assert search_jobs(bench, asked) == ()


def test_a_job_is_found_by_its_number(bench, job):
    others = [open_job(bench, by="AB", now=NOON) for _ in range(3)]
    assert numbers(search_jobs(bench, str(others[1]))) == [others[1]]


def test_the_newest_are_found_first_and_no_more_than_asked(bench):
    opened = [open_job(bench, "name: the same", by="AB", now=NOON) for _ in range(4)]
    assert numbers(search_jobs(bench, "same", limit=2)) == opened[:1:-1]


def test_open_jobs_are_found_before_closed_ones_and_what_is_known_otherwise_before_all(bench):
    opened = [open_job(bench, "name: the same", by="AB", now=NOON) for _ in range(6)]
    another = open_job(bench, "name: another", by="AB", now=NOON)
    for number in (opened[0], opened[3], opened[5]):
        collect(bench, number, by="AB", now=NOON, person_days=90)
    first, second, third, fourth, fifth, sixth = opened
    order = [fifth, third, second, sixth, fourth, first]
    assert numbers(search_jobs(bench, "same")) == order
    assert numbers(search_jobs(bench, "same", start=2, limit=3)) == order[2:5]
    known = [another, second, fifth, third, sixth, fourth, first]
    for start in range(len(known) + 1):
        assert numbers(search_jobs(bench, "same", first={second, another}, start=start, limit=2)) == known[start:][:2]
    assert numbers(search_jobs(bench, "nothing of the kind", first={another})) == [another]


def test_the_summary_is_made_of_what_was_weighed(bench, job):
    record(bench, job, "run: {not: starts, stop: stays, signs: {fans_turn: no}}", by="AB", now=NOON)
    record(bench, job, "run: {reached: self_test, not: log_in, stop: stays}", by="AB", now=NOON)
    row = sum_up(bench, job)
    weighed = weigh(bench, job)
    leading = max(weighed.faults, key=lambda fault: fault.p)
    assert (row.suspicion, row.suspicion_p) == (leading.title, leading.p)
    assert row.last_rung == dict(weighed.rungs)["self_test"]
    assert row.summed_up_to == 3
    assert numbers(search_jobs(bench, leading.title.split()[0])) == [job]
    record(bench, job, "note: and it is still found", by="AB", now=NOON)
    assert numbers(search_jobs(bench, leading.title.split()[0])) == [job]


def test_a_summary_that_was_overtaken_changes_nothing(bench, job):
    with bench.store.reading() as connection:
        read = read_on_file(bench, connection, job)
    weighed = weigh(bench, job)
    describe(bench, job, "name: the grey one", by="CD", now=after(5))
    record(bench, job, "note: zanzibar", by="CD", now=after(5))
    row = job_view(bench, job).row
    assert keep_summary(read, weighed) == row
    assert (row.name, row.summed_up_to) == ("the grey one", 0)
    assert numbers(search_jobs(bench, "zanzibar")) == [job]


def test_weighing_again_is_remembered_until_something_is_entered(bench, job):
    record(bench, job, "run: {reached: log_in, stop: none}", by="AB", now=NOON)
    first = weigh(bench, job)
    assert weigh(bench, job) is first
    record(bench, job, "run: {load: games, reached: log_in, stop: {resets: 6 min}}", by="AB", now=NOON)
    assert weigh(bench, job).faults != first.faults


def test_nobody_s_time_goes_to_a_job_that_is_closed(bench, job):
    other = open_job(bench, by="AB", now=NOON)
    for who, number in (("AB", job), ("CD", job), ("EF", other)):
        start_time(bench, number, by=who, now=NOON)
    put_away(bench, job, now=after(60), person_days=90)
    assert job_of(bench, by="AB") is job_of(bench, by="CD") is None
    assert job_of(bench, by="EF").job == other
    assert {spell.ended_at for spell in job_view(bench, job).spells} == {in_utc(after(60))}
    collect(bench, other, by="AB", now=after(90), person_days=90)
    assert job_of(bench, by="EF") is None
