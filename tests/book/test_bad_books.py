"""Each bad book is laid over the small good one; its first line says which codes come in which lines."""

import re
import shutil
from pathlib import Path

import pytest

from halfsplit.book import check_book, load_book

TOP = Path(__file__).parents[2]
BOOKS = TOP / "tests" / "books"
GOOD = BOOKS / "good" / "three_parts"
BAD = sorted((BOOKS / "bad").iterdir())

TRIED_OUT = {"HS329", "HS336", "HS337"}
"""Mistakes of a book that can be used all the same."""

TESTED_ELSEWHERE = {"HS101", "HS301"}  # no file can hold these: test_load.py


def expected(path: Path) -> list[tuple[str, int, str]]:
    """(file, line, code) of all mistakes that the first line of a bad file announces."""
    first = path.read_text(encoding="utf-8").splitlines()[0]
    assert first.startswith("# expect:")
    return [(f"bad/{path.name}", int(line), code) for code, line in re.findall(r"(HS\d{3}):(\d+)", first)]


@pytest.mark.parametrize("bad", BAD, ids=lambda path: path.stem)
def test_a_bad_book_gets_exactly_the_mistakes_that_it_announces(bad: Path, tmp_path: Path) -> None:
    files = sorted(bad.iterdir()) if bad.is_dir() else [bad]
    folder = tmp_path / "bad"
    folder.mkdir()
    for file in files:
        shutil.copy(file, folder)
    book, mistakes = check_book(GOOD, folder)
    found = [(*mistake.place.rsplit(":", 2)[:2], mistake.code) for mistake in mistakes]
    assert book is None or {code for _, _, code in found} <= TRIED_OUT
    assert sorted((file, int(line), code) for file, line, code in found) == sorted(
        announced for file in files for announced in expected(file)
    )


@pytest.mark.parametrize("folders", [(GOOD,), (GOOD, BOOKS / "good" / "own_bench")], ids=["three_parts", "own_bench"])
def test_a_good_book_has_none_even_when_it_is_tried_out(folders: tuple[Path, ...]) -> None:
    book, mistakes = check_book(*folders)
    assert mistakes == ()
    assert book == load_book(*folders, cache=False)[0]


def test_every_code_of_the_book_has_a_failing_example() -> None:
    used = {
        code
        for source in (TOP / "src" / "halfsplit" / "book").glob("*.py")
        for code in re.findall(r'"(HS\d{3})"', source.read_text(encoding="utf-8"))
    }
    shown = {code for bad in (BOOKS / "bad").rglob("*.yaml") for _, _, code in expected(bad)}
    assert used - shown == TESTED_ELSEWHERE


def test_the_likeliest_word_is_named(tmp_path: Path) -> None:
    (tmp_path / "book.yaml").write_text("repairs: {replace_board: {recheck: counter_rum}}\n", encoding="utf-8")
    _, mistakes = load_book(GOOD, tmp_path, cache=False)
    assert [mistake.do for mistake in mistakes] == ["Did you mean 'counter_run'? Write it so"]
