"""A backup while somebody writes: it ends, it opens, it has what was written before, and never the key."""

import shutil
import threading

import pytest

from halfsplit.cli import main
from halfsplit.errors import StoreError
from halfsplit.store import open_store
from halfsplit.store.backup import back_up
from halfsplit.store.jobs import add_job, list_open
from halfsplit.store.opening import KEY
from halfsplit.store.persons import Person, PersonKept, get_person, set_person

SECONDS = 20


@pytest.fixture
def url():
    return ""


def job(connection):
    return add_job(connection, book_hash="x", initials="AB", at="2030-06-14")


def test_a_backup_ends_while_a_change_is_open_and_has_what_was_there_before(store, tmp_path):
    with store.writing() as connection:
        number = job(connection)
        set_person(connection, store.vault, number, PersonKept(Person(name="A. Person")))
    (store.photos / "1").mkdir()
    (store.photos / "1" / "x.jpg").write_bytes(b"photo")
    with store.writing() as connection:
        job(connection)  # and the change stays open
        backing = threading.Thread(target=back_up, args=(store.photos.parent, tmp_path / "copy"), daemon=True)
        backing.start()
        backing.join(SECONDS)
        assert not backing.is_alive()
    assert not (tmp_path / "copy" / KEY).exists()
    assert (tmp_path / "copy" / "photos" / "1" / "x.jpg").read_bytes() == b"photo"
    shutil.copy(store.vault.key_path, tmp_path / "key")
    copy = open_store(tmp_path / "copy", key_path=tmp_path / "key")
    with copy.reading() as connection:
        assert [row.number for row in list_open(connection)] == [number]
        assert get_person(connection, copy.vault, number).person.name == "A. Person"
    copy.close()


def test_a_backup_goes_over_nothing(store, tmp_path):
    with pytest.raises(StoreError, match="HS741"):
        back_up(store.photos.parent, tmp_path)
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError, match="HS741"):
        back_up(store.photos.parent, tmp_path / "file")


@pytest.mark.parametrize("command", [True, False])
def test_where_there_is_no_bench_none_is_made(tmp_path, command, capsys):
    if command:
        assert main(["backup", str(tmp_path / "copy"), "--folder", str(tmp_path / "nowhere")]) == 2
        assert "HS742" in capsys.readouterr().err
    else:
        with pytest.raises(StoreError, match="HS742"):
            back_up(tmp_path / "nowhere", tmp_path / "copy")
    assert list(tmp_path.iterdir()) == []


def test_the_command_copies_a_bench_and_says_that_the_key_is_elsewhere(store, tmp_path, capsys):
    with store.writing() as connection:
        number = job(connection)
    folder = store.photos.parent
    assert main(["backup", str(tmp_path / "copy"), "--folder", str(folder)]) == 0
    said = capsys.readouterr().out
    assert str(tmp_path / "copy") in said
    assert KEY in said
    copy = open_store(tmp_path / "copy")
    with copy.reading() as connection:
        assert [row.number for row in list_open(connection)] == [number]
    copy.close()
