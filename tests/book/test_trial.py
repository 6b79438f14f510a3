"""A book is tried out whatever is left of it: it has mistakes, or its checks can be done."""

from pathlib import Path

import pytest

from halfsplit.book import check_book, load_book
from halfsplit.book.layers import SECTIONS
from halfsplit.book.load import open_desk

GOOD = Path(__file__).parents[1] / "books" / "good" / "three_parts"
ENTRIES = {section: list(entries) for section, entries in open_desk(GOOD).pages.sections.items()}


@pytest.mark.parametrize("section", [section for section in SECTIONS if ENTRIES[section]])
def test_a_book_that_lacks_anything_is_tried_out_or_has_mistakes(section, tmp_path):
    for retired in [[entry] for entry in ENTRIES[section]] + [ENTRIES[section]]:
        lines = [f"{section}:", *(f'  "{entry}": {{retire: yes}}' for entry in retired)]
        (tmp_path / "own.yaml").write_text("\n".join(lines) + "\n", encoding="utf-8")
        book, mistakes = check_book(GOOD, tmp_path)
        assert book is not None or mistakes
        assert book == load_book(GOOD, tmp_path, cache=False)[0]


def test_faults_that_no_check_tells_apart_are_found_and_kin_is_believed(tmp_path):
    fault = """
  crack_{n}:
    title: cracked solder {n}
    at: board
    base: 0.001
    cures: {{replace_board: {cure}}}
    owner_says: A solder joint has cracked.
    {kin}
    patterns: {{a: {{acts: [{{q: often, not: loader}}]}}}}"""
    for kin, codes in (("", ["HS336"]), ("kin: cracks", [])):
        text = "".join(fault.format(n=n, cure=cure, kin=kin) for n, cure in ((1, "usually"), (2, "often")))
        (tmp_path / "own.yaml").write_text(f"basis: estimate\nspread: 0.7\nfaults:{text}\n", encoding="utf-8")
        book, mistakes = check_book(GOOD, tmp_path)
        assert book is not None
        assert [mistake.code for mistake in mistakes] == codes


def test_faults_of_machines_of_another_kind_need_not_be_told_apart(tmp_path):
    text = "basis: estimate\nspread: 0.7\nfaults:"
    for kind, cure in (("built", "usually"), ("ready_made", "often")):
        text += f"""
  crack_{kind}:
    title: cracked solder
    at: board
    base: 0.001
    only: {{kind: {kind}}}
    cures: {{replace_board: {cure}}}
    owner_says: A solder joint has cracked.
    patterns: {{a: {{acts: [{{q: often, not: loader}}]}}}}"""
    (tmp_path / "own.yaml").write_text(text + "\n", encoding="utf-8")
    assert check_book(GOOD, tmp_path)[1] == ()
