"""One history of tables for SQLite and PostgreSQL, from the first revision to what the code expects."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, replace
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, text
from sqlalchemy.exc import DBAPIError

import halfsplit.store
from halfsplit.errors import StoreError
from halfsplit.model.machine import Standing
from halfsplit.store import opening
from halfsplit.store.jobs import JobRow, add_job, get_job, list_open
from halfsplit.store.loans import read_loans
from halfsplit.store.log import LogLine, append_lines, read_log
from halfsplit.store.opening import bring_up_to_date, open_store
from halfsplit.store.shelf import list_parts
from halfsplit.store.tables import METADATA, REVISION

LINE = LogLine(1, "run_1", "run", "run: {reached: log_in}", "AB", "2030-06-14T12:00:00+00:00")


def is_compared(name, kind, _):
    return kind != "table" or not name.startswith("job_words")


def test_the_tables_are_those_that_the_code_expects(store):
    with store.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "include_name": is_compared})
        assert compare_metadata(context, METADATA) == []


def test_the_revision_that_needs_no_more_steps_is_the_newest_one(tmp_path, url, monkeypatch):
    config = Config()
    config.set_main_option("script_location", str(Path(opening.__file__).parent / "migrations"))
    assert ScriptDirectory.from_config(config).get_heads() == [REVISION]
    open_store(tmp_path, url=url).close()

    def upgrade(*_args):
        raise AssertionError

    monkeypatch.setattr("alembic.command.upgrade", upgrade)
    open_store(tmp_path, url=url).close()


def test_a_database_of_the_first_revision_is_brought_up_to_date_with_all_that_is_in_it(tmp_path, url):
    engine = create_engine(opening._address(url) if url else f"sqlite:///{tmp_path / opening.DATABASE}")
    if not url:
        opening._prepare_sqlite(engine)
    bring_up_to_date(engine, "r0001")
    with engine.execution_options(is_writing=True).begin() as connection:
        number = add_job(connection, book_hash="old", initials="AB", at="2030-06-14")
        words = "(:job, :seq, :entry, :kind, :text, :initials, :at)"
        line = {each.name: getattr(LINE, each.name) for each in fields(LINE) if each.name != "tap"}
        connection.execute(text(f"INSERT INTO log VALUES {words}"), {"job": number, **line})
        tables = set(connection.dialect.get_table_names(connection))
    assert "person" not in tables
    engine.dispose()
    store = open_store(tmp_path, url=url)
    with store.reading() as connection:
        assert get_job(connection, number).book_hash == "old"
        assert read_log(connection, number) == (LINE,)
        assert LINE.tap is None
        assert {"person", "photo", "spell", "setting"} <= set(connection.dialect.get_table_names(connection))
    marked = replace(LINE, seq=2, entry="run_2", tap=2)
    with store.writing() as connection:
        append_lines(connection, number, [marked])
    with store.reading() as connection:
        assert read_log(connection, number) == (LINE, marked)
    for change in ("UPDATE log SET tap = 1", "DELETE FROM log"):
        with pytest.raises(DBAPIError, match="only added to"), store.writing() as connection:
            connection.execute(text(change))
    store.close()


def test_parts_that_were_in_a_job_before_loans_were_noted_stood_there_as_their_grade_says(tmp_path, url):
    engine = create_engine(opening._address(url) if url else f"sqlite:///{tmp_path / opening.DATABASE}")
    if not url:
        opening._prepare_sqlite(engine)
    bring_up_to_date(engine, "r0003")
    with engine.execution_options(is_writing=True).begin() as connection:
        number = add_job(connection, book_hash="old", initials="AB", at="2030-06-14")
        part = "('supply_a', 'supply', 'scout', '2030-06-01', 2)"
        connection.execute(text(f"INSERT INTO shelf_part (id, kind, grade, proven_at, exposures) VALUES {part}"))
        for what in ("added", "exposed", "exposed"):
            event = f"('supply_a', '{what}', {number if what == 'exposed' else 'NULL'}, '2030-06-14')"
            connection.execute(text(f"INSERT INTO shelf_event (item, what, job, at) VALUES {event}"))
    engine.dispose()
    store = open_store(tmp_path, url=url)
    with store.reading() as connection:
        assert read_loans(connection, number) == {"supply_a": Standing()}
        (part,) = list_parts(connection)
        assert part.standing("2030-06-11") == Standing(None, 2, 10)
    store.close()


def test_two_that_open_an_empty_store_at_once_both_get_it(tmp_path, url):
    with ThreadPoolExecutor(4) as pool:
        stores = list(pool.map(lambda _: open_store(tmp_path, url=url), range(4)))
    with stores[0].writing() as connection:
        number = add_job(connection, book_hash="x", initials="AB", at="2030-06-14")
    for store in stores:
        with store.reading() as connection:
            assert get_job(connection, number).book_hash == "x"
        assert store.vault.unseal(stores[0].vault.seal(b"x")) == b"x"
        store.close()


def test_a_step_that_fails_leaves_the_database_as_it_was(tmp_path, url, monkeypatch):
    def fail(*_args, **_options):
        raise ZeroDivisionError

    monkeypatch.setattr("halfsplit.store.migrations.guards.op.create_index", fail)
    with pytest.raises(ZeroDivisionError):
        open_store(tmp_path, url=url)
    monkeypatch.undo()
    store = open_store(tmp_path, url=url)
    with store.reading() as connection:
        assert list_open(connection) == ()
    store.close()


def test_the_history_is_one_line_without_branches():
    folder = f"{next(iter(halfsplit.store.__path__))}/migrations"
    history = list(ScriptDirectory(folder).walk_revisions())
    assert [step.revision for step in history][::-1] == sorted(step.revision for step in history)
    assert len(ScriptDirectory(folder).get_heads()) == 1


@pytest.mark.parametrize("table", ["log", "state_change", "shelf_event"])
@pytest.mark.parametrize("change", ["UPDATE {} SET at = ''", "DELETE FROM {}"])
def test_what_is_only_added_to_cannot_be_changed(store, table, change):
    with store.writing() as connection:
        number = add_job(connection, book_hash="x", initials="AB", at="2030-06-14")
        append_lines(connection, number, [LINE])
        connection.execute(text("INSERT INTO shelf_event (item, what, at) VALUES ('a', 'added', 'now')"))
    with pytest.raises(DBAPIError, match="only added to"), store.writing() as connection:
        connection.execute(text(change.format(table)))
    with store.reading() as connection:
        assert connection.execute(text(f"SELECT count(*) FROM {table} WHERE at <> ''")).scalar_one() == 1


def test_what_is_broken_off_leaves_nothing(store):
    def break_off():
        with store.writing() as connection:
            add_job(connection, book_hash="x", initials="AB", at="2030-06-14")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        break_off()
    with store.reading() as connection:
        assert list_open(connection) == ()


def test_a_number_is_never_given_twice(store):
    with store.writing() as connection:
        numbers = [add_job(connection, book_hash="x", initials="AB", at="2030-06-14") for _ in range(3)]
        row = get_job(connection, numbers[-1])
    assert len(set(numbers)) == 3
    assert isinstance(row, JobRow)
    assert row.is_open
    with pytest.raises(StoreError, match="HS711"), store.reading() as connection:
        get_job(connection, 99)


def test_a_database_of_a_newer_halfsplit_is_left_alone(store, tmp_path, url):
    with store.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = 'r9999'"))
    with pytest.raises(StoreError, match="HS702"):
        open_store(tmp_path / "bench", url=url)


@pytest.mark.parametrize(
    "url", ["mysql://somewhere/x", "no address", "sqlite:///x.db", "postgresql://x:abc/db"], indirect=False
)
def test_only_postgresql_is_had_by_address(tmp_path, url):
    with pytest.raises(StoreError, match="HS701"):
        open_store(tmp_path, url=url)


def test_a_folder_that_cannot_be_used_is_told(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError, match="HS701"):
        open_store(tmp_path / "file")


def test_a_file_that_is_no_database_is_told(tmp_path):
    (tmp_path / opening.DATABASE).write_bytes(b"this is no database at all" * 100)
    with pytest.raises(StoreError, match="HS701"):
        open_store(tmp_path)
