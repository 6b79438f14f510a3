"""The real cases: job files of the shipped book, an index that fits them, and maps from causes to faults."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
import yaml

from halfsplit.book import shipped_book
from halfsplit.job.fold import fold_job
from halfsplit.jobfile import load_job
from halfsplit.model.job import Inspect, Measure, Run, Told

HERE = Path(__file__).parent
DOCUMENT = (HERE.parents[1] / "docs" / "cases.md").read_text(encoding="utf-8")
BOOK = shipped_book()
INDEX = {row["id"]: row for row in yaml.safe_load((HERE / "cases.yaml").read_text(encoding="utf-8"))}
FILES = {path.stem: path for path in sorted(HERE.glob("*.yaml")) if re.fullmatch(r"[cm]\d{3}", path.stem)}
MAPS = [yaml.safe_load(path.read_text(encoding="utf-8")) for path in sorted(HERE.glob("map_*.yaml"))]

# Standards, sizes and words of the trade that are written with capitals or with digits.
PLAIN_NAMES = {
    *("PC", "CPU", "CMOS", "USB", "BIOS", "Wi-Fi", "Bluetooth", "W", "I", "M.2"),
    *("m2", "m2_seat.1", "ddr3", "ddr4", "ddr5", "24-pin"),
}


def job_of(case):
    job, mistakes = load_job(FILES[case], BOOK)
    assert mistakes == ()
    return job


def as_sets(causes):
    return {frozenset(cause) for cause in causes}


def test_there_are_63_cases_each_with_a_line_in_the_index():
    assert len(INDEX) == 63
    assert INDEX.keys() == FILES.keys()


def test_the_index_has_no_remarks():
    assert "#" not in (HERE / "cases.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("case", FILES)
def test_every_case_folds_whole_and_up_to_its_cut(case):
    job, row = job_of(case), INDEX[case]
    ids = [entry.id for entry in job.log]
    assert row["cut"] in {*ids, "end"}
    until_cut = replace(job, log=job.log[: len(ids) if row["cut"] == "end" else ids.index(row["cut"])])
    assert fold_job(job, BOOK).evidence.roots
    assert fold_job(until_cut, BOOK).evidence.roots


@pytest.mark.parametrize("case", FILES)
def test_every_case_has_two_readings_and_a_told_one_before_its_cut(case):
    job = job_of(case)
    told = [entry for entry in job.told if isinstance(entry, Told) and (entry.event or entry.seen)]
    assert any(entry.seen for entry in told)
    assert len(told) + sum(isinstance(entry, Run | Inspect | Measure) for entry in job.log) >= 2


@pytest.mark.parametrize("case", FILES)
def test_a_line_of_the_index_fits_its_case(case):
    row = INDEX[case]
    assert list(row) == ["id", "confidence", "class", "cut", "multi", "causes"]
    assert row["confidence"] in ("confirmed", "likely")
    assert row["class"] == job_of(case).complaint
    assert 1 <= len(row["causes"]) <= row["multi"]


@pytest.mark.parametrize("causes", [*({row["id"]: row["causes"] for row in INDEX.values()},), *MAPS])
def test_maps_name_faults_of_the_book(causes):
    assert causes.keys() >= FILES.keys()
    assert {fault for case in causes.values() for cause in case for fault in cause} <= BOOK.faults.keys()


@pytest.mark.parametrize("case", FILES)
def test_where_two_maps_differ_the_document_says_why_one_was_taken(case):
    settled = as_sets(INDEX[case]["causes"])
    assert all(as_sets(each[case]) == settled for each in MAPS) or f"\n- {case}: " in DOCUMENT


@pytest.mark.parametrize("case", FILES)
def test_a_case_names_no_maker_and_no_model(case):
    text = FILES[case].read_text(encoding="utf-8")
    named = re.findall(r"(?<![\w.])(?=[\w.-]*[A-Z]|[a-z_]+\d|\d+-)[\w.-]*\w", text)
    assert {name for name in named if name not in PLAIN_NAMES} == set()


def test_the_document_counts_what_could_not_be_said():
    left_out = sum(len(re.findall(r"^  - note:", path.read_text("utf-8"), re.MULTILINE)) for path in FILES.values())
    assert f"{left_out} lines" in DOCUMENT
