"""docs/book.md shows what the loader reads."""

import re
import shlex
from pathlib import Path

import pytest

from halfsplit.book import load_book
from halfsplit.book.layers import FILE_FIELDS, SECTIONS
from halfsplit.book.load import open_desk
from halfsplit.cli import main

TOP = Path(__file__).parents[2]
GOOD = TOP / "tests" / "books" / "good" / "three_parts"
DOC = (TOP / "docs" / "book.md").read_text(encoding="utf-8")

NOUNS = {
    "parts": "part",
    "joints": "joint",
    "map": "block",
    "facts": "fact",
    "hosts": "host",
    "outputs": "output",
    "grades": "grade",
    "shelf": "shelf part",
    "loads": "load",
    "complaints": "complaint",
    "stops": "stop",
    "tellers": "teller",
    "events": "event",
    "signs": "sign",
    "tools": "tool",
    "inspections": "inspection",
    "measurements": "measurement",
    "openings": "opening",
    "hazards": "hazard",
    "checks": "check",
    "repairs": "repair",
    "faults": "fault",
}
"""Section -> the noun that its entries are."""

NEEDED_BY = {"HS327": "recheck", "HS328": "caution", "HS321": "owner_says"}
"""Codes that say that one certain field is missing."""


def rows(noun: str) -> list[str]:
    return re.findall(rf"^\| {noun} \| (.+?) \|", DOC, flags=re.MULTILINE)


def documented(noun: str) -> set[str]:
    return {field for row in rows(noun) for field in re.findall(r"`(\w+)`", row)}


def test_every_yaml_block_stands_in_a_book_that_is_loaded() -> None:
    files = [path.read_text(encoding="utf-8") for path in GOOD.parent.rglob("*.yaml")]
    blocks = re.findall(r"^```yaml\n(.*?)^```", DOC, flags=re.DOTALL | re.MULTILINE)
    assert len(blocks) > 10
    for block in blocks:
        assert any(block in text for text in files), block


@pytest.mark.parametrize("noun", sorted(open_desk(GOOD).fields))
def test_every_field_is_documented_and_no_other(noun: str) -> None:
    fields = set(open_desk(GOOD).fields[noun])
    ending = set(open_desk(GOOD).fields["ending"]) - {"share"}
    if noun in ("act", "forced act"):
        fields -= ending
    assert documented(noun) == fields


@pytest.mark.parametrize(("section", "noun"), NOUNS.items(), ids=NOUNS.values())
def test_the_fields_in_bold_are_those_that_an_empty_entry_lacks(section: str, noun: str, tmp_path: Path) -> None:
    (tmp_path / "own.yaml").write_text(f"{section}: {{empty: {{}}}}\n", encoding="utf-8")
    _, mistakes = load_book(GOOD, tmp_path, cache=False)
    lacking = set()
    for mistake in mistakes:
        field = re.match(r"'(\w+)' is missing", mistake.so)
        if field is not None:
            lacking.add(field[1])
        elif mistake.code in NEEDED_BY:
            lacking.add(NEEDED_BY[mistake.code])
    assert {field for row in rows(noun) for field in re.findall(r"\*\*`(\w+)`\*\*", row)} == lacking


def test_every_section_is_documented() -> None:
    table = re.findall(r"^\| (`.+?) \| .+ \|$", DOC.partition("### What a machine")[0], flags=re.MULTILINE)
    named = {section for row in table for section in re.findall(r"`(\w+)`", row)}
    assert named == {*SECTIONS, "forced"}
    assert set(FILE_FIELDS) == {"basis", "spread"}


@pytest.mark.parametrize("line", re.findall(r"^\.venv/bin/halfsplit .+$", DOC, flags=re.MULTILINE))
def test_every_command_shown_runs(
    line: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(TOP)
    words = shlex.split(line.partition(" > ")[0])[1:]
    assert main(words) == 0
    assert capsys.readouterr().out


def test_the_mistake_shown_is_the_mistake_that_comes(tmp_path: Path) -> None:
    folder = tmp_path / "three_parts"
    folder.mkdir()
    for path in GOOD.iterdir():
        text = path.read_text(encoding="utf-8").replace("share: 0.2\n", "share: 0.15\n")
        (folder / path.name).write_text(text, encoding="utf-8")
    _, mistakes = load_book(folder, cache=False)
    assert [f"    {mistake}" for mistake in mistakes] == re.findall(r"^    HS\d{3} .+$", DOC, flags=re.MULTILINE)
