"""Persons and photos lie apart from the log: sealed, erasable, and gone when they are erased."""

import contextlib
import sqlite3
from dataclasses import replace
from datetime import date

import pytest
from sqlalchemy import text
from stores import NOON, after, jpeg

from halfsplit.actions import (
    Bench,
    add_photos,
    bring_back,
    collect,
    erase_due,
    erase_person,
    erase_photo,
    export_job,
    find_persons,
    get_person,
    job_view,
    open_job,
    put_away,
    read_photo,
    record,
    set_person,
    set_state,
)
from halfsplit.errors import StoreError
from halfsplit.store.opening import BUSY_MS, open_store
from halfsplit.store.persons import Person, PersonKept

OWNER = Person("Anna Beispiel", "+44 20 7946 0000", "anna@example.org", "letmein-1234", "rings in the evening")
WORDS = ("Anna", "Beispiel", "7946", "anna@example", "letmein", "evening")
DAY = date(2030, 9, 12)
"""90 days after noon."""

WHEN = {"now": NOON, "person_days": 90}


def stored_bytes(bench):
    """Everything that is written anywhere: SQLite's files, or every row of every table; and the photos' folder."""
    found = [path.read_bytes() for path in bench.store.photos.parent.rglob("*") if path.is_file()]
    with bench.store.reading() as connection:
        for table in ("job", "log", "person", "photo", "job_words"):
            found += [repr(tuple(row)).encode() for row in connection.execute(text(f"SELECT * FROM {table}"))]
    return b"\n".join(found)


def test_a_person_comes_back_as_it_was_set(bench, job):
    set_person(bench, job, OWNER, **WHEN)
    assert get_person(bench, job) == PersonKept(OWNER)
    set_person(bench, job, Person("Other", passcode="1234"), **WHEN)
    assert get_person(bench, job) == PersonKept(Person("Other", passcode="1234"))
    set_person(bench, job, Person("Another"), **WHEN)
    assert get_person(bench, job) == PersonKept(Person("Another", passcode="1234"))


def test_a_change_of_a_closed_jobs_person_keeps_the_day_on_which_it_dies(bench, job):
    set_person(bench, job, OWNER, **WHEN)
    collect(bench, job, by="AB", **WHEN)
    set_person(bench, job, Person("Anna Berg"), now=after(9 * 86_400), person_days=90)
    assert get_person(bench, job) == PersonKept(Person("Anna Berg"), DAY.isoformat())
    assert erase_due(bench, DAY, person_days=90) == (job,)


def test_a_person_who_is_noted_when_the_job_is_closed_has_a_day(bench, job):
    collect(bench, job, by="AB", **WHEN)
    set_person(bench, job, OWNER, **WHEN)
    assert get_person(bench, job).dies_on == DAY.isoformat()


def test_nothing_of_a_person_can_be_read_from_what_is_stored(bench, job):
    set_person(bench, job, OWNER, **WHEN)
    record(bench, job, "note: the case is blue", by="AB", now=NOON)
    stored = stored_bytes(bench)
    assert b"the case is blue" in stored
    assert [word for word in WORDS if word.encode() in stored] == []


def test_erasing_a_person_leaves_the_evidence_and_nothing_of_the_person(bench, job):
    record(bench, job, "run: {reached: log_in, stop: {resets: 6 min}}", by="AB", now=NOON)
    set_person(bench, job, OWNER, **WHEN)
    private = add_photos(bench, job, [jpeg(1)], by="AB", now=NOON, is_private=True)[0]
    public = add_photos(bench, job, [jpeg(2)], by="AB", now=NOON)[0]
    before = job_view(bench, job)
    sealed = sealed_person(bench)
    assert sealed in stored_bytes(bench)
    erase_person(bench, job)
    view = job_view(bench, job)
    assert get_person(bench, job) is None
    assert sealed not in stored_bytes(bench)
    assert (view.lines, view.folded(), view.photos) == (before.lines, before.folded(), (public,))
    with pytest.raises(StoreError, match="HS724"):
        read_photo(bench, job, private.hash)
    assert [path.name for path in bench.store.photos.rglob("*") if path.is_file()] == [f"{public.hash}.jpg"]


def sealed_person(bench):
    with bench.store.reading() as connection:
        return connection.execute(text("SELECT sealed FROM person")).scalar_one().encode()


def test_nothing_is_left_of_a_person_who_was_replaced(bench, job):
    set_person(bench, job, OWNER, **WHEN)
    before = sealed_person(bench)
    set_person(bench, job, Person("Other"), **WHEN)
    stored = stored_bytes(bench)
    assert sealed_person(bench) in stored
    assert before not in stored


@contextlib.contextmanager
def another_reads(bench):
    with contextlib.closing(sqlite3.connect(bench.store.photos.parent / "bench.db", isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM person").fetchall()
        yield


REPLACED = Person("Other", passcode="1234")
ERASING = {
    "erased": erase_person,
    "replaced": lambda bench, job: set_person(bench, job, REPLACED, **WHEN),
    "collected": lambda bench, job: collect(bench, job, by="AB", **WHEN),
}


@pytest.mark.parametrize("url", [""], indirect=False)
@pytest.mark.parametrize("how", ERASING)
def test_what_could_not_be_taken_out_of_the_journal_is_told_and_goes_with_the_next_erasing(bench, job, how):
    set_person(bench, job, OWNER, **WHEN)
    before = sealed_person(bench)
    with another_reads(bench):
        with pytest.raises(StoreError, match="HS705"):
            ERASING[how](bench, job)
        kept = get_person(bench, job)
        assert kept is None or kept.person == {"replaced": REPLACED, "collected": OWNER.without_passcode()}[how]
        assert before in stored_bytes(bench)
    erase_due(bench, DAY.replace(year=2000), person_days=90)
    assert get_person(bench, job) == kept
    assert before not in stored_bytes(bench)
    with bench.store.engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA busy_timeout").scalar_one() == BUSY_MS


def test_persons_whose_day_has_come_are_erased_and_no_other(bench):
    numbers = [open_job(bench, by="AB", now=NOON) for _ in range(4)]
    for number in numbers:
        set_person(bench, number, OWNER, **WHEN)
    for number, days in zip(numbers, (89, 90, 91), strict=False):
        collect(bench, number, by="AB", now=NOON, person_days=days)
    assert erase_due(bench, DAY, person_days=90) == tuple(numbers[:2])
    assert [get_person(bench, number) is None for number in numbers] == [True, True, False, False]
    assert erase_due(bench, DAY, person_days=90) == ()


def test_a_record_of_a_closed_job_that_has_no_day_gets_one(bench):
    lost, still_open = (open_job(bench, by="AB", now=NOON) for _ in range(2))
    for number in (lost, still_open):
        set_person(bench, number, OWNER, **WHEN)
    collect(bench, lost, by="AB", **WHEN)
    with bench.store.writing() as connection:
        connection.execute(text("UPDATE person SET dies_on = ''"))
    assert erase_due(bench, NOON.date(), person_days=90) == ()
    assert [get_person(bench, number).dies_on for number in (lost, still_open)] == [DAY.isoformat(), ""]
    assert erase_due(bench, DAY, person_days=90) == (lost,)


def test_a_private_photo_of_a_job_without_a_person_has_a_day_as_well(bench, job):
    add_photos(bench, job, [jpeg()], by="AB", now=NOON, is_private=True)
    collect(bench, job, by="AB", **WHEN)
    assert len(job_view(bench, job).photos) == 1
    assert erase_due(bench, DAY, person_days=90) == (job,)
    assert job_view(bench, job).photos == ()


def test_the_passcode_is_wiped_when_the_machine_is_collected(bench, job):
    set_person(bench, job, OWNER, **WHEN)
    set_state(bench, job, "ready", by="AB", now=NOON)
    assert get_person(bench, job).person.passcode
    collect(bench, job, by="AB", **WHEN)
    kept = get_person(bench, job)
    assert kept.person.passcode == ""
    assert (kept.person.name, kept.dies_on) == (OWNER.name, "2030-09-12")
    collect(bench, job, by="AB", now=after(86_400), person_days=90)
    assert get_person(bench, job) == kept


def test_a_job_put_away_keeps_its_person_until_its_day(bench, job):
    set_person(bench, job, OWNER, **WHEN)
    put_away(bench, job, **WHEN)
    assert get_person(bench, job) == PersonKept(OWNER, DAY.isoformat())
    bring_back(bench, job)
    assert get_person(bench, job) == PersonKept(OWNER)
    put_away(bench, job, **WHEN)
    assert erase_due(bench, DAY, person_days=90) == (job,)


def test_a_job_that_is_open_again_keeps_its_person_until_it_is_closed_again(bench, job):
    set_person(bench, job, OWNER, **WHEN)
    collect(bench, job, by="AB", **WHEN)
    put_away(bench, job, now=after(86_400), person_days=90)
    bring_back(bench, job)
    assert get_person(bench, job).dies_on == DAY.isoformat()
    set_state(bench, job, "on_bench", by="AB", now=NOON)
    assert get_person(bench, job).dies_on == ""
    collect(bench, job, by="AB", now=after(86_400), person_days=90)
    assert get_person(bench, job).dies_on == "2030-09-13"


@pytest.mark.parametrize(("asked", "is_found"), [("anna", True), ("7946 BEISP", True), ("letmein", False), ("", False)])
def test_the_person_of_an_open_job_is_found_by_name_or_number(bench, job, asked, is_found):
    set_person(bench, job, OWNER, **WHEN)
    set_person(bench, open_job(bench, by="AB", now=NOON), Person("Somebody"), **WHEN)
    assert find_persons(bench, asked) == ({job: OWNER} if is_found else {})
    collect(bench, job, by="AB", **WHEN)
    assert find_persons(bench, asked) == {}


def seal_person(bench, job):
    set_person(bench, job, OWNER, **WHEN)


def seal_photo(bench, job):
    add_photos(bench, job, [jpeg()], by="AB", now=NOON, is_private=True)


@pytest.mark.parametrize("seal", [seal_person, seal_photo])
def test_a_bench_does_not_open_without_the_key_that_sealed_something_on_it(bench, job, url, seal):
    folder, key = bench.store.photos.parent, bench.store.vault.key_path
    seal(bench, job)
    kept = key.rename(folder / "away")
    with pytest.raises(StoreError, match="HS703"):
        open_store(folder, url=url)
    assert not key.exists()
    kept.rename(key)
    open_store(folder, url=url).close()


def test_a_lost_key_leaves_the_rest_of_the_bench_in_use(bench, job, tmp_path, url):
    set_person(bench, job, OWNER, **WHEN)
    another = open_store(tmp_path / "another")
    another.close()
    anew = open_store(bench.store.photos.parent, url=url, key_path=another.vault.key_path)
    there = Bench(anew, bench.book)
    other = open_job(there, by="AB", now=NOON)
    set_person(there, other, OWNER, **WHEN)
    assert find_persons(there, "anna") == {other: OWNER}
    with pytest.raises(StoreError, match="HS704"):
        get_person(there, job)
    erase_person(there, job)
    assert get_person(there, job) is None
    anew.close()


def test_there_is_no_person_of_a_job_that_there_is_not(bench):
    with pytest.raises(StoreError, match="HS711"):
        set_person(bench, 7, OWNER, **WHEN)


def test_a_photo_comes_back_and_is_kept_once(bench, job):
    first = add_photos(bench, job, [jpeg()], by="AB", now=NOON, title="inside")[0]
    add_photos(bench, job, [jpeg()], by="CD", now=after(60), title="again")
    assert job_view(bench, job).photos == (first,)
    assert (first.kind, first.size_bytes) == ("jpeg", len(read_photo(bench, job, first.hash)[1]))


def test_a_private_photo_is_sealed_and_stays_here(bench, job):
    photo = add_photos(bench, job, [jpeg()], by="AB", now=NOON, is_private=True)[0]
    content = read_photo(bench, job, photo.hash)[1]
    assert content not in stored_bytes(bench)
    assert content[200:] not in stored_bytes(bench)
    assert photo.hash.encode() not in export_job(bench, job)


@pytest.mark.parametrize("is_private", [False, True])
def test_a_photo_that_comes_again_as_private_is_private_from_then_on(bench, job, is_private):
    photo = add_photos(bench, job, [jpeg()], by="AB", now=NOON, title="screen", is_private=is_private)[0]
    content = read_photo(bench, job, photo.hash)[1]
    add_photos(bench, job, [jpeg()], by="AB", now=after(60), is_private=not is_private)
    assert job_view(bench, job).photos == (replace(photo, is_private=True),)
    assert [path.name for path in bench.store.photos.rglob("*") if path.is_file()] == [f"{photo.hash}.sealed"]
    assert content[200:] not in stored_bytes(bench)
    assert read_photo(bench, job, photo.hash)[1] == content
    assert photo.hash.encode() not in export_job(bench, job)
    erase_person(bench, job)
    assert job_view(bench, job).photos == ()


def test_a_photo_whose_file_was_changed_is_told(bench, job):
    photo = add_photos(bench, job, [jpeg()], by="AB", now=NOON)[0]
    path = next(bench.store.photos.rglob("*.jpg"))
    path.write_bytes(path.read_bytes()[:-1])
    with pytest.raises(StoreError, match="HS723"):
        read_photo(bench, job, photo.hash)
    path.unlink()
    with pytest.raises(StoreError, match="HS723"):
        read_photo(bench, job, photo.hash)


def test_a_photo_can_be_erased(bench, job):
    photo = add_photos(bench, job, [jpeg()], by="AB", now=NOON)[0]
    erase_photo(bench, job, photo.hash)
    assert job_view(bench, job).photos == ()
    assert not list(bench.store.photos.rglob("*.jpg"))


def files_of(bench):
    return sorted(path.name for path in bench.store.photos.rglob("*") if path.is_file())


def test_of_several_photos_none_is_kept_where_one_is_refused(bench, job):
    with pytest.raises(StoreError, match="HS722"):
        add_photos(bench, job, [jpeg(1), b"no picture"], by="AB", now=NOON)
    assert job_view(bench, job).photos == ()
    assert files_of(bench) == []


@pytest.mark.parametrize("is_private", [False, True])
def test_where_a_photo_cannot_be_written_nothing_of_any_is_left_but_what_was_there(bench, job, monkeypatch, is_private):
    (before,) = add_photos(bench, job, [jpeg(1)], by="AB", now=NOON)
    kept, synced = files_of(bench), iter([None, OSError(28, "No space left on device")])

    def sync(_):
        error = next(synced)
        if error:
            raise error

    monkeypatch.setattr("halfsplit.store.photos.os.fsync", sync)
    with pytest.raises(OSError, match="No space"):
        add_photos(bench, job, [jpeg(2), jpeg(1), jpeg(3)], by="AB", now=after(60), is_private=is_private)
    assert [photo.hash for photo in job_view(bench, job).photos] == [before.hash]
    assert files_of(bench) == kept
    assert read_photo(bench, job, before.hash)[0] == before
