"""The examples in the documents and the demo jobs are job files of the shipped book."""

import re
from dataclasses import fields
from pathlib import Path

import pytest

from halfsplit.book import shipped_book
from halfsplit.job.weighed import Conflict, Weighed
from halfsplit.jobfile import load_job, parse_job, write_job
from halfsplit.jobfile.entries import KINDS_OF_ENTRY, fields_of

TOP = Path(__file__).parents[2]
DOCUMENT = (TOP / "docs" / "jobfile.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```yaml\n(.*?)^```", DOCUMENT, flags=re.DOTALL | re.MULTILINE)
EXAMPLES = sorted((TOP / "examples").glob("*.yaml"))


@pytest.fixture(scope="module")
def book():
    return shipped_book()


@pytest.mark.parametrize("text", BLOCKS)
def test_every_block_of_the_document_is_a_job_file(text, book):
    job, mistakes = parse_job(text, book)
    assert mistakes == ()
    assert parse_job(write_job(job, book), book)[1] == ()


def test_the_document_shows_every_kind_of_entry_and_names_every_field():
    assert all(f"- {kind}:" in DOCUMENT for kind in KINDS_OF_ENTRY if kind != "told")
    named = {field for kind in KINDS_OF_ENTRY if kind != "correct" for field in fields_of(kind)}
    assert {field for field in named if not re.search(rf"\b{field}\b", DOCUMENT)} == set()


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_every_demo_job_is_a_job_file(path, book):
    job, mistakes = load_job(path, book)
    assert mistakes == ()
    assert job.log


def test_there_are_demo_jobs():
    assert len(EXAMPLES) >= 3


def test_the_document_names_every_key_of_the_json():
    keys = {field.name for record in (Weighed, Conflict) for field in fields(record)} - {"rungs", "runs", "left_out"}
    keys |= {"estimate"}  # what was left out, by its name in the JSON
    assert {key for key in keys if f"`{key}`" not in DOCUMENT} == set()
