"""Every job that the project has folds, and its readings can all be true."""

import re
from pathlib import Path

import pytest
from folding import BOOK

from halfsplit.infer import weigh
from halfsplit.job.fold import fold_job
from halfsplit.jobfile import parse_job

TOP = Path(__file__).parents[2]
IN_DOCUMENT = re.findall(r"^```yaml\n(.*?)^```", (TOP / "docs" / "jobfile.md").read_text(encoding="utf-8"), re.M | re.S)
JOBS = {path.name: path.read_text(encoding="utf-8") for path in sorted((TOP / "examples").glob("*.yaml"))}


@pytest.mark.parametrize("name", JOBS)
def test_an_example_folds_and_weighs(name):
    job, mistakes = parse_job(JOBS[name], BOOK, name)
    assert job is not None, mistakes
    posterior = weigh(fold_job(job, BOOK).evidence)
    assert posterior.log_p > -60
    assert posterior.bound_share < 0.02


def test_the_job_of_the_manual_folds_and_weighs():
    job, mistakes = parse_job(IN_DOCUMENT[0], BOOK)
    assert job is not None, mistakes
    folded = fold_job(job, BOOK)
    assert weigh(folded.evidence).log_p > -60
    assert folded.roots["card_power_plug_half_in"].in_machine


def test_a_fold_made_again_is_the_same():
    job, _ = parse_job(JOBS["restarts_under_load.yaml"], BOOK)
    first, second = fold_job(job, BOOK), fold_job(job, BOOK)
    assert [(each.id, each.base, each.time) for each in first.evidence.readings] == [
        (each.id, each.base, each.time) for each in second.evidence.readings
    ]
    assert [root.acts for root in first.evidence.roots] == [root.acts for root in second.evidence.roots]
