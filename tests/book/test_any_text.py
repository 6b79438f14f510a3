"""Whatever is written, the answer is a book or a list of mistakes, each with its line and column."""

import re
import shutil
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.book import load_book

GOOD = Path(__file__).parents[1] / "books" / "good" / "three_parts"
TEXTS = {path.name: path.read_text(encoding="utf-8").splitlines() for path in sorted(GOOD.iterdir())}
PLACE = re.compile(r".+:[1-9]\d*:[1-9]\d*")
ODD = (
    "[]",
    "{}",
    "~",
    "-1",
    "on",
    "2",
    "x: y",
    "[[a]]",
    "{a: {b: c}}",
    "supply",
    "retire",
    "012",
    "1e999",
    '"0.5"',
)


@st.composite
def changed(draw: st.DrawFn) -> tuple[str, list[str]]:
    """One file of the good book with a few lines taken out, doubled, or given another value."""
    name = draw(st.sampled_from(sorted(TEXTS)))
    lines = list(TEXTS[name])
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        deed = draw(st.sampled_from(("drop", "double", "value", "key", "swap")))
        if deed == "drop" and len(lines) > 1:
            del lines[at]
        elif deed == "double":
            lines.insert(at, lines[at])
        elif deed == "value":
            lines[at] = re.sub(r"(: )[^:]+$", lambda found: found[1] + draw(st.sampled_from(ODD)), lines[at])
        elif deed == "key":
            lines[at] = re.sub(r"\w+(?=:)", lambda _: draw(st.sampled_from(ODD)), lines[at], count=1)
        else:
            lines[at], lines[0] = lines[0], lines[at]
    return name, lines


@settings(max_examples=150)
@given(changed())
def test_a_changed_book_is_a_book_or_a_list_of_mistakes(change: tuple[str, list[str]]) -> None:
    name, lines = change
    with tempfile.TemporaryDirectory() as top:
        folder = Path(shutil.copytree(GOOD, Path(top) / "book"))
        (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
        book, mistakes = load_book(folder, cache=False)
    assert (book is None) == bool(mistakes)
    for mistake in mistakes:
        assert PLACE.fullmatch(mistake.place), mistake
