"""What is entered stays: every line is checked as a whole, added once, and never changed."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date

import pytest
from folding import BOOK
from small_book import SMALL_BOOK
from stores import NOON, after

from halfsplit.actions import (
    Bench,
    bring_back,
    describe,
    get_person,
    job_view,
    list_open_jobs,
    open_job,
    put_away,
    record,
    undo,
)
from halfsplit.actions.bench import MOST_REMEMBERED, Memory, in_utc
from halfsplit.errors import JobFileError, ModelError, StoreError
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.fold import fold_job
from halfsplit.jobfile import parse_job
from halfsplit.model.job import Correct, Run
from halfsplit.store import open_store
from halfsplit.store.log import LogLine, OvertakenError, append_lines
from halfsplit.store.persons import Person

RUN = "run: {load: games, reached: log_in, stop: {resets: 6 min}}"


def kept(bench, job):
    """The statements and entries as they stand, by id."""
    mistakes = []
    told, log = apply_corrections(job_view(bench, job).job, mistakes)
    assert mistakes == []
    return {entry.id: entry for entry in (*told, *log)}


def codes(error):
    return [mistake.code for mistake in error.value.mistakes]


def test_a_job_may_be_opened_with_nothing_known(bench):
    view = job_view(bench, open_job(bench, by="AB", now=NOON))
    assert view.mistakes == ()
    assert view.folded() is not None
    assert (view.row.state, view.row.is_open) == ("on_bench", True)


def test_what_is_known_of_the_machine_shows_in_lists(bench, job):
    row = job_view(bench, job).row
    assert (row.name, row.kind, row.age_years, row.complaint) == ("the tower", "built", 6.0, "starts_misbehaves")
    assert row.book_hash == BOOK.hash


def test_a_job_is_opened_with_all_that_was_told_or_not_at_all(bench):
    told = "- told: moved_house\n- note: {text: a charger came along}"
    with pytest.raises(JobFileError, match="HS113"):
        open_job(bench, by="AB", now=NOON, told=f'{told}\n- note: {{text: ""}}', person=Person("Anna Beispiel"))
    assert list_open_jobs(bench) == ()
    day = date(2030, 6, 20)
    job = open_job(bench, "name: x", by="AB", now=NOON, told=told, promised=day, person=Person("Anna Beispiel"))
    view = job_view(bench, job)
    assert list(kept(bench, job)) == ["told_1", "note_1"]
    assert [line.initials for line in view.lines] == ["AB"] * 3
    assert (view.row.name, view.row.promised_on) == ("x", "2030-06-20")
    assert get_person(bench, job).person.name == "Anna Beispiel"


def test_what_was_refused_at_the_opening_is_not_remembered_of_the_next_job(bench):
    with pytest.raises(StoreError, match="HS714"):
        open_job(bench, "machine: {kind: built}", by="AB", now=NOON, told="- note: {text: x, id: note_9}")
    job = open_job(bench, "machine: {kind: ready_made}", by="AB", now=NOON)
    assert job_view(bench, job).job.machine["kind"] == "ready_made"


def test_a_machine_that_is_told_wrong_opens_no_job(bench):
    with pytest.raises(JobFileError) as caught:
        open_job(bench, "{machine: {kind: bilt}, complaint: noting_happens}", by="AB", now=NOON)
    assert codes(caught) == ["HS112", "HS112"]
    with pytest.raises(StoreError):
        job_view(bench, 1)


def test_an_entry_is_kept_in_the_job_files_form_with_who_and_when(bench, job):
    (line,) = record(bench, job, RUN, by="CD", now=after(60))
    assert (line.seq, line.entry, line.kind, line.initials) == (2, "run_1", "run", "CD")
    assert line.text.startswith("run: {load: games, reached: log_in, stop: {resets: 6 min}, by: CD, when: ")
    assert job_view(bench, job).lines[-1] == line
    run = kept(bench, job)["run_1"]
    assert (run.by, run.at) == ("CD", "2030-06-14T12:01:00+00:00")


def test_an_entry_may_be_json_and_may_say_itself_who_and_when(bench, job):
    text = '{"run": {"reached": "log_in", "cold": true, "by": "EF", "when": "2030-06-13"}}'
    record(bench, job, text, by="CD", now=NOON)
    run = kept(bench, job)["run_1"]
    assert (run.by, run.at, run.conditions.cold) == ("EF", "2030-06-13", True)


def test_several_entries_are_added_together_or_not_at_all(bench, job):
    text = f"- {RUN}\n- inspect: {{at: cpu_power_plug, seen: half_inn}}\n- nite: x"
    with pytest.raises(JobFileError) as caught:
        record(bench, job, text, by="AB", now=NOON)
    assert [(mistake.code, mistake.place) for mistake in caught.value.mistakes] == [
        ("HS112", "entry:2:39"),
        ("HS111", "entry:3:3"),
    ]
    assert len(job_view(bench, job).lines) == 1
    lines = record(bench, job, text.replace("inn", "in").replace("nite", "note"), by="AB", now=NOON)
    assert [line.entry for line in lines] == ["run_1", "inspect_1", "note_1"]
    assert job_view(bench, job).lines[1:] == lines


def test_an_entry_that_does_not_fit_the_machine_is_refused(bench, job):
    with pytest.raises(ModelError) as caught:
        record(bench, job, "[{inspect: {at: riser_seat, seen: fine}}, {repair: leave_module_out}]", by="AB", now=NOON)
    assert codes(caught) == ["HS205", "HS208"]
    assert len(job_view(bench, job).lines) == 1


@pytest.mark.parametrize(
    "text", ["", "   ", "[", "[]", "{}", "~", "3", "run: {}\nnote: x", "[]]", "- run: {}\nlog: []"]
)
def test_what_is_no_entry_is_refused(bench, job, text):
    with pytest.raises(JobFileError):
        record(bench, job, text, by="AB", now=NOON)
    assert len(job_view(bench, job).lines) == 1


def test_ids_that_halfsplit_gives_are_not_taken(bench, job):
    for text in ("run: {reached: log_in, id: run_2}", "note: {text: x, id: intake_2}"):
        with pytest.raises(StoreError, match="HS714"):
            record(bench, job, text, by="AB", now=NOON)
    record(bench, job, "run: {reached: log_in, id: run_1}", by="AB", now=NOON)
    assert record(bench, job, RUN, by="AB", now=NOON)[0].entry == "run_2"


def test_a_correction_is_a_line_more(bench, job):
    (first,) = record(bench, job, RUN, by="AB", now=NOON)
    record(bench, job, "correct: {entry: run_1, load: ~, cold: yes}", by="CD", now=after(3600))
    lines = job_view(bench, job).lines
    assert lines[1] == first
    assert [line.kind for line in lines] == ["intake", "run", "correct"]
    run = kept(bench, job)["run_1"]
    assert (run.conditions.cold, run.conditions.load) == (True, "idle")


def test_more_of_the_machine_is_a_line_more_and_the_earlier_one_stays(bench, job):
    describe(bench, job, "machine: {card: {watts: 220}, age_years: ~}\nname: ~", by="CD", now=after(60))
    view = job_view(bench, job)
    assert [line.kind for line in view.lines] == ["intake", "intake"]
    assert [part.slot for part in view.job.parts] == ["memory.1", "memory.2", "card"]
    assert (view.row.name, view.row.age_years, view.row.kind) == ("", None, "built")


def test_a_machine_that_does_not_fit_its_log_is_refused(bench, job):
    record(bench, job, "setup: {memory.2: in}", by="AB", now=NOON)
    with pytest.raises(ModelError) as caught:
        describe(bench, job, "machine: {memory: [8]}", by="AB", now=NOON)
    assert codes(caught) == ["HS203"]
    assert len(job_view(bench, job).lines) == 2


def test_each_undo_takes_back_the_last_tap_that_is_not_taken_back(bench, job):
    record(bench, job, RUN, by="AB", now=NOON)
    record(bench, job, "note: first", by="AB", now=after(11))
    record(bench, job, "note: second", by="AB", now=after(14))
    undo(bench, job, "note_2", by="AB", now=after(15))
    assert list(kept(bench, job)) == ["run_1", "note_1"]
    record(bench, job, "note: third", by="AB", now=after(16))
    undo(bench, job, "note_3", by="AB", now=after(17))
    undo(bench, job, "note_1", by="AB", now=after(18))
    assert list(kept(bench, job)) == ["run_1"]
    with pytest.raises(StoreError, match="HS715"):
        undo(bench, job, "run_1", by="AB", now=after(19))  # the run is too long ago
    kinds = ["intake", "run", "note", "note", "correct", "note", "correct", "correct"]
    assert [line.kind for line in job_view(bench, job).lines] == kinds


def test_what_was_taken_back_and_brought_back_can_be_taken_back_again(bench, job):
    record(bench, job, RUN, by="AB", now=NOON)
    undo(bench, job, "run_1", by="AB", now=after(2))
    record(bench, job, "correct: {entry: run_1, withdrawn: no}", by="AB", now=after(4))
    assert list(kept(bench, job)) == ["run_1"]
    undo(bench, job, "correct_2", by="AB", now=after(6))
    assert kept(bench, job) == {}


def test_what_was_withdrawn_later_or_by_somebody_else_comes_back_with_an_undo(bench, job):
    record(bench, job, RUN, by="AB", now=NOON)
    record(bench, job, "correct: {entry: run_1, withdrawn: yes}", by="CD", now=after(3))
    undo(bench, job, "correct_1", by="CD", now=after(5))
    record(bench, job, "correct: {entry: run_1, withdrawn: yes}", by="AB", now=after(30))
    undo(bench, job, "correct_3", by="AB", now=after(33))
    assert list(kept(bench, job)) == ["run_1"]


def test_undo_takes_back_all_that_one_tap_entered_and_nothing_before_it(bench, job):
    record(bench, job, RUN, by="AB", now=NOON)
    looks = "- inspect: {at: inside, seen: fine}\n- inspect: {at: paste, seen: dry}\n- note: both"
    record(bench, job, looks, by="AB", now=after(5))
    assert len(kept(bench, job)) == 4
    assert len(undo(bench, job, "note_1", by="AB", now=after(8))) == 3
    assert list(kept(bench, job)) == ["run_1"]


def test_two_taps_within_one_second_are_two(bench, job):
    first = record(bench, job, RUN, by="AB", now=NOON)
    record(bench, job, "note: of another person", by="CD", now=NOON)
    second = record(bench, job, "- note: both\n- note: of one tap", by="AB", now=NOON)
    assert len({line.at for line in (*first, *second)}) == 1
    assert [line.tap for line in (*first, *second)] == [2, 4, 4]
    assert job_view(bench, job).lines[-2:] == second
    assert [line.tap for line in undo(bench, job, "note_3", by="AB", now=NOON)] == [6, 6]
    assert list(kept(bench, job)) == ["run_1", "note_1"]
    undo(bench, job, "run_1", by="AB", now=NOON)
    assert list(kept(bench, job)) == ["note_1"]
    undo(bench, job, "note_1", by="CD", now=after(1))
    assert kept(bench, job) == {}


def test_what_is_told_of_the_machine_is_a_tap_by_itself_within_one_second_too(bench, job):
    record(bench, job, RUN, by="AB", now=NOON)
    line = describe(bench, job, "machine: {card: none}", by="AB", now=NOON)
    assert line.tap == line.seq == 3
    undo(bench, job, "intake_2", by="AB", now=NOON)
    assert job_view(bench, job).lines[-1].tap == 4
    assert (job_view(bench, job).job.missing, list(kept(bench, job))) == ((), ["run_1"])
    undo(bench, job, "run_1", by="AB", now=NOON)
    assert kept(bench, job) == {}


def test_lines_from_before_taps_were_marked_are_taken_back_by_their_second(bench, job):
    at = in_utc(NOON)
    notes = [LogLine(1 + n, f"note_{n}", "note", f"note: old {n}", "AB", at) for n in (1, 2)]
    with bench.store.writing() as connection:
        append_lines(connection, job, notes)
    record(bench, job, "note: marked", by="AB", now=NOON)
    undo(bench, job, "note_3", by="AB", now=NOON)
    assert list(kept(bench, job)) == ["note_1", "note_2"]
    undo(bench, job, "note_2", by="AB", now=after(3))
    assert kept(bench, job) == {}


def test_undo_of_a_correction_puts_back_what_was_before_it(bench, job):
    record(bench, job, RUN, by="AB", now=NOON)
    record(bench, job, "correct: {entry: run_1, load: office}", by="AB", now=after(20))
    record(bench, job, "correct: {entry: run_1, load: card, cold: yes}", by="AB", now=after(40))
    undo(bench, job, "correct_2", by="AB", now=after(45))
    conditions = kept(bench, job)["run_1"].conditions
    assert (conditions.load, conditions.cold) == ("office", None)


def test_undo_of_what_was_told_of_the_machine(bench, job):
    describe(bench, job, "machine: {card: none}", by="AB", now=after(5))
    describe(bench, job, "name: x", by="AB", now=after(7))
    undo(bench, job, "intake_3", by="AB", now=after(8))
    assert (job_view(bench, job).job.missing, job_view(bench, job).job.name) == (("card",), "the tower")
    undo(bench, job, "intake_2", by="AB", now=after(9))
    assert job_view(bench, job).job.missing == ()


def test_undo_takes_back_only_what_it_names(bench, job):
    record(bench, job, RUN, by="AB", now=NOON)
    record(bench, job, "- note: both\n- note: of one tap", by="AB", now=after(2))
    for other in ("run_1", "note_1", "note_9", ""):
        with pytest.raises(StoreError, match="HS717"):
            undo(bench, job, other, by="AB", now=after(3))
    assert list(kept(bench, job)) == ["run_1", "note_1", "note_2"]
    undo(bench, job, "note_2", by="AB", now=after(4))
    with pytest.raises(StoreError, match="HS717"):
        undo(bench, job, "note_2", by="AB", now=after(4))  # the same, sent twice
    assert list(kept(bench, job)) == ["run_1"]


@pytest.mark.parametrize(("by", "seconds"), [("AB", 11), ("CD", 1)])
def test_undo_takes_back_only_what_one_entered_oneself_a_moment_ago(bench, job, by, seconds):
    record(bench, job, RUN, by="AB", now=NOON)
    with pytest.raises(StoreError, match="HS715"):
        undo(bench, job, "run_1", by=by, now=after(seconds))
    assert list(kept(bench, job)) == ["run_1"]


def test_the_opening_itself_is_not_undone(bench, job):
    with pytest.raises(StoreError, match="HS715"):
        undo(bench, job, "intake_1", by="AB", now=after(1))


def test_a_job_that_does_not_fold_can_still_be_put_right(bench, job):
    stray = LogLine(2, "setup_1", "setup", "setup: {memory.7: in}", "AB", in_utc(NOON))
    with bench.store.writing() as connection:
        append_lines(connection, job, [stray])
    assert [mistake.code for mistake in job_view(bench, job).mistakes] == ["HS203"]
    record(bench, job, RUN, by="AB", now=NOON)
    record(bench, job, "correct: {entry: setup_1, withdrawn: yes}", by="AB", now=NOON)
    assert job_view(bench, job).mistakes == ()
    assert list(kept(bench, job)) == ["run_1"]


def test_who_is_always_overtaken_is_told(bench, job, monkeypatch):
    def overtake(connection, number, lines):
        raise OvertakenError(number)

    monkeypatch.setattr("halfsplit.actions.entering.append_lines", overtake)
    with pytest.raises(StoreError, match="HS716"):
        record(bench, job, RUN, by="AB", now=NOON)


def test_a_machine_that_is_told_wrong_is_refused(bench, job):
    for text in ("machine: {kind: bilt}", "log: []", "3", "~"):
        with pytest.raises(JobFileError):
            describe(bench, job, text, by="AB", now=NOON)
    assert len(job_view(bench, job).lines) == 1


def test_a_moment_without_a_time_zone_is_none(bench, job):
    with pytest.raises(ValueError, match="time zone"):
        record(bench, job, RUN, by="AB", now=NOON.replace(tzinfo=None))


def test_a_job_that_is_put_away_is_not_worked_on(bench, job):
    put_away(bench, job, now=NOON, person_days=90)
    with pytest.raises(StoreError, match="HS713"):
        record(bench, job, RUN, by="AB", now=NOON)
    bring_back(bench, job)
    record(bench, job, RUN, by="AB", now=NOON)
    assert job_view(bench, job).row.is_open


def test_a_job_whose_words_another_book_does_not_have_can_still_be_read(bench, job):
    record(bench, job, RUN, by="AB", now=NOON)
    record(bench, job, "inspect: {at: cpu_power_plug, seen: fine}", by="AB", now=NOON)
    view = job_view(Bench(bench.store, SMALL_BOOK), job)
    assert view.lines == job_view(bench, job).lines
    assert view.is_other_book
    assert (view.job, view.folded()) == (None, None)
    assert [mistake.code for mistake in view.mistakes] == ["HS112"]


@pytest.mark.parametrize("odd", [r"a\0b", r"a\u2028b", "日本 😀", r"a\nb"])
def test_any_text_can_be_kept(bench, odd):
    job = open_job(bench, f'{{name: "{odd}"}}', by="AB", now=NOON)
    record(bench, job, f'note: "{odd}"', by="AB", now=NOON)
    view = job_view(bench, job)
    assert view.mistakes == ()
    assert view.job.log[0].text == view.job.name == parse_job(f'name: "{odd}"', BOOK)[0].name


def test_two_tablets_at_once_lose_nothing(bench, job, tmp_path, url):
    each, other = 12, Bench(open_store(tmp_path / "bench", url=url), BOOK)

    def enter(tablet, initials):
        for n in range(each):
            record(tablet, job, f"note: {initials} {n}", by=initials, now=after(n))

    with ThreadPoolExecutor() as pool:
        for done in [pool.submit(enter, bench, "AB"), pool.submit(enter, other, "CD")]:
            done.result()
    other.store.close()
    view = job_view(bench, job)
    assert [line.seq for line in view.lines] == list(range(1, 2 * each + 2))
    assert [line.tap for line in view.lines] == [line.seq for line in view.lines]
    said = [entry.text for entry in view.job.log]
    for initials in ("AB", "CD"):
        assert [text for text in said if text.startswith(initials)] == [f"{initials} {n}" for n in range(each)]
    assert len({entry.id for entry in view.job.log}) == 2 * each


def test_what_is_on_file_folds_as_the_job_file_does(bench, job):
    record(bench, job, f"- told: moved_house\n- {RUN}", by="AB", now=NOON)
    record(bench, job, "correct: {entry: run_1, withdrawn: yes}", by="AB", now=after(30))
    record(bench, job, "run: {reached: log_in, stop: none}", by="AB", now=after(60))
    told, mistakes = parse_job(
        "machine: {kind: built, age_years: 6, memory: [8, 8]}\ncomplaint: starts_misbehaves\ntold: [moved_house]\n"
        f"log:\n  - {RUN}\n  - correct: {{entry: run_1, withdrawn: yes}}\n  - run: {{reached: log_in, stop: none}}",
        BOOK,
    )
    assert mistakes == ()
    folded = fold_job(told, BOOK)
    view = job_view(bench, job)
    assert view.folded().lines == folded.lines
    assert [reading.id for reading in view.folded().evidence.readings] == [
        reading.id for reading in folded.evidence.readings
    ]
    assert isinstance(view.job.log[2], Correct)
    assert isinstance(replace(view.job.log[3], id=""), Run)


def test_what_was_used_longest_ago_is_forgotten_first():
    memory, asked = Memory(), []
    for n in (*range(MOST_REMEMBERED), 0, MOST_REMEMBERED, 0, 1):
        memory.get(n, lambda n=n: asked.append(n))
    assert asked == [*range(MOST_REMEMBERED + 1), 1]
