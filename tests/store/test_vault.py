"""The key is outside the database, only its owner can read it, and nothing opens without it."""

import os

import pytest

from halfsplit.errors import StoreError
from halfsplit.store.vault import open_vault


def test_a_key_is_made_once_and_is_its_owners(tmp_path):
    path = tmp_path / "elsewhere" / "bench.key"
    sealed = open_vault(path, has_sealed=False).seal(b"x")
    assert path.stat().st_mode & 0o777 == 0o600
    assert open_vault(path, has_sealed=False).unseal(sealed) == b"x"
    assert [each.name for each in path.parent.iterdir()] == ["bench.key"]


def test_another_key_opens_nothing(tmp_path):
    sealed = open_vault(tmp_path / "one", has_sealed=False).seal(b"x")
    with pytest.raises(StoreError, match="HS704"):
        open_vault(tmp_path / "two", has_sealed=False).unseal(sealed)


def test_a_key_that_others_may_read_is_refused(tmp_path):
    open_vault(tmp_path / "key", has_sealed=False)
    (tmp_path / "key").chmod(0o644)
    with pytest.raises(StoreError, match="HS703"):
        open_vault(tmp_path / "key", has_sealed=False)


def test_a_key_file_that_cannot_be_read_is_told(tmp_path):
    with pytest.raises(StoreError, match="HS703"):
        open_vault(tmp_path, has_sealed=False)


def test_a_file_that_holds_no_key_is_refused_and_left_alone(tmp_path):
    (tmp_path / "key").write_text("hello")
    os.chmod(tmp_path / "key", 0o600)
    with pytest.raises(StoreError, match="HS703"):
        open_vault(tmp_path / "key", has_sealed=False)
    assert (tmp_path / "key").read_text() == "hello"


def test_no_new_key_is_made_where_something_is_sealed(tmp_path):
    with pytest.raises(StoreError, match="HS703"):
        open_vault(tmp_path / "key", has_sealed=True)
    assert not (tmp_path / "key").exists()
    open_vault(tmp_path / "key", has_sealed=False)
    open_vault(tmp_path / "key", has_sealed=True)
