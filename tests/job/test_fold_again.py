"""What folds before worked out makes the next one faster, and no different."""

from dataclasses import replace
from pathlib import Path

import pytest
from folding import BOOK

from halfsplit.job.fold import fold_job
from halfsplit.job.kept import Kept
from halfsplit.jobfile.parse import load_job

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.yaml"))
KEPT = Kept(BOOK)


def written(folded):
    """Return all of the evidence but the words' spreads, which may be of more words than it has."""
    evidence = folded.evidence
    roots = [(root, sorted(root.acts.items())) for root in evidence.roots]
    return [repr(one) for one in (*roots, *evidence.readings, *evidence.contexts, folded.roots, folded.readings)]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_fold_with_what_was_kept_is_the_same(path):
    job, mistakes = load_job(path, BOOK)
    assert job is not None, mistakes
    for many in (len(job.log), len(job.log) // 2, len(job.log)):
        some = replace(job, log=job.log[:many])
        assert written(fold_job(some, BOOK, KEPT)) == written(fold_job(some, BOOK))
