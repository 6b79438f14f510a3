"""From folders to a book, from its files or from the cache."""

import dataclasses
import json
import shutil
from hashlib import sha256
from pathlib import Path

import pytest

from halfsplit.book import load_book, shipped_book, shipped_book_dir
from halfsplit.model.book import Book

GOOD = Path(__file__).parents[1] / "books" / "good" / "three_parts"


@pytest.fixture(autouse=True)
def cache(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache of the test's own."""
    folder = tmp_path_factory.mktemp("cache")
    monkeypatch.setenv("XDG_CACHE_HOME", str(folder))
    return folder / "halfsplit"


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """The good book, to be changed."""
    return shutil.copytree(GOOD, tmp_path / "three_parts")


def loaded(*dirs: Path, cache: bool = True) -> Book:
    book, mistakes = load_book(*dirs, cache=cache)
    assert mistakes == ()
    assert book is not None
    return book


def kept(cache: Path) -> list[Path]:
    return sorted(cache.glob("*.book"))


def test_the_shipped_book_has_no_mistakes() -> None:
    assert load_book(shipped_book_dir(), cache=False)[1] == ()
    assert shipped_book().hash == loaded(shipped_book_dir()).hash


def test_a_book_from_the_cache_is_the_book_from_its_files(cache: Path) -> None:
    fresh = loaded(GOOD)
    assert len(kept(cache)) == 1
    assert loaded(GOOD) == fresh == loaded(GOOD, cache=False)
    assert repr(loaded(GOOD)) == repr(fresh)


def test_the_shipped_book_comes_back_from_the_cache_as_it_was() -> None:
    fresh = loaded(shipped_book_dir())
    assert loaded(shipped_book_dir()) == fresh


def test_without_the_cache_nothing_is_kept(cache: Path) -> None:
    loaded(GOOD, cache=False)
    assert kept(cache) == []


def test_a_book_with_mistakes_is_not_kept(cache: Path, copied: Path) -> None:
    (copied / "more.yaml").write_text("loads: {idel: {}}\n", encoding="utf-8")
    assert load_book(copied)[0] is None
    assert kept(cache) == []


@pytest.mark.parametrize(
    "damage",
    [
        b"",
        b"\xff\xfe",
        b"0\n{}",
        *(sha256(body).hexdigest().encode() + b"\n" + body for body in (b"{}", b"[1, 2", b"[]", b"[[]]", b"null")),
    ],
)
def test_a_damaged_cache_is_read_past(cache: Path, damage: bytes) -> None:
    fresh = loaded(GOOD)
    kept(cache)[0].write_bytes(damage)
    assert loaded(GOOD) == fresh


def test_a_cache_entry_of_another_shape_is_read_past(cache: Path) -> None:
    fresh = loaded(GOOD)
    plain = json.loads(kept(cache)[0].read_bytes().partition(b"\n")[2])
    body = json.dumps(plain[:-1]).encode()
    kept(cache)[0].write_bytes(sha256(body).hexdigest().encode() + b"\n" + body)
    assert loaded(GOOD) == fresh


def test_a_cache_that_cannot_be_written_is_no_mistake(cache: Path) -> None:
    cache.parent.rmdir()
    cache.parent.write_text("a file where the folder should be", encoding="utf-8")
    assert loaded(GOOD) == loaded(GOOD, cache=False)


def test_the_cache_keeps_a_few_books_only(cache: Path, copied: Path) -> None:
    for number in range(12):
        (copied / "more.yaml").write_text(f"# {number}\n", encoding="utf-8")
        loaded(copied)
    assert 0 < len(kept(cache)) < 12


def test_a_changed_file_is_read_again(copied: Path) -> None:
    before = loaded(copied)
    supply = copied / "supply.yaml"
    supply.write_text(supply.read_text(encoding="utf-8").replace("base: 0.02", "base: 0.03"), encoding="utf-8")
    after = loaded(copied)
    assert (before.faults["supply_no_standby"].base.p, after.faults["supply_no_standby"].base.p) == (
        0.02,
        0.03,
    )
    assert before.hash != after.hash


def test_the_hash_is_of_what_the_book_says_and_not_of_how_it_is_written(copied: Path) -> None:
    before = loaded(copied)
    (copied / "rest.yaml").rename(copied / "z_last.yaml")
    machine = copied / "machine.yaml"
    machine.write_text("# another comment\n" + machine.read_text(encoding="utf-8"), encoding="utf-8")
    after = loaded(copied)
    assert list(after.faults) != list(before.faults)
    assert after.hash == before.hash


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("supply.yaml", "title: relay click", "title: relay clack"),
        ("supply.yaml", "spread: 0.5", "spread: 0.6"),
        ("words.yaml", "spread: 0.7", "spread: 0.8"),
        ("supply.yaml", "basis: estimate", "basis: common practice"),
    ],
)
def test_the_hash_changes_with_every_word(copied: Path, file: str, old: str, new: str) -> None:
    before = loaded(copied)
    path = copied / file
    path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    assert loaded(copied).hash != before.hash


def test_a_book_cannot_be_written_to() -> None:
    book = loaded(GOOD)
    with pytest.raises(TypeError):
        book.faults["another"] = book.faults["board_dead"]  # type: ignore[index]
    with pytest.raises(TypeError):
        book.faults["board_dead"].after["storm"] = book.strengths["always"]  # type: ignore[index]
    with pytest.raises(dataclasses.FrozenInstanceError):
        book.faults["board_dead"].wear = 3.0  # type: ignore[misc]


def test_files_below_and_files_that_are_hidden(copied: Path) -> None:
    before = loaded(copied)
    (copied / "more").mkdir()
    (copied / "rest.yaml").rename(copied / "more" / "rest.yaml")
    (copied / ".rest.yaml").write_text("faults: [", encoding="utf-8")
    assert loaded(copied) == before


def test_a_folder_without_a_book_says_so(tmp_path: Path) -> None:
    for folder in (tmp_path, tmp_path / "nowhere"):
        _, mistakes = load_book(folder)
        assert (f"{folder}:1:1", "HS301") in [(mistake.place, mistake.code) for mistake in mistakes]


def test_a_file_with_the_other_ending_is_not_passed_over(copied: Path) -> None:
    (copied / "rest.yaml").rename(copied / "rest.yml")
    _, mistakes = load_book(copied)
    assert ("HS301", "three_parts/rest.yml:1:1") in [(mistake.code, mistake.place) for mistake in mistakes]


def test_a_file_that_is_not_utf_8_says_in_which_line(copied: Path) -> None:
    (copied / "more.yaml").write_bytes(b"events:\n  x: {title: \xe9}\n")
    _, mistakes = load_book(copied)
    assert [(mistake.code, mistake.place) for mistake in mistakes] == [("HS101", "three_parts/more.yaml:2:1")]


def test_an_empty_file_is_no_mistake(copied: Path) -> None:
    before = loaded(copied)
    (copied / "empty.yaml").write_text("# nothing yet\nfaults:\nforced:\n", encoding="utf-8")
    assert loaded(copied) == before


def test_mistakes_come_in_the_order_of_the_lines(copied: Path) -> None:
    words = "".join(f"  w{number}: {{}}\n" for number in range(12))
    (copied / "more.yaml").write_text(f"tools:\n{words}", encoding="utf-8")
    _, mistakes = load_book(copied)
    lines = [int(mistake.place.split(":")[1]) for mistake in mistakes]
    assert lines == sorted(lines)
    assert max(lines) > 9
