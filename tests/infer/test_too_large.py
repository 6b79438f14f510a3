"""With nothing left out, readings that are too rich are refused before they fill the memory."""

import resource

import pytest
from laws.evidence_cases import RICH_JOB, draw_case

from halfsplit.errors import TooLargeError
from halfsplit.infer import weigh
from halfsplit.infer.program import FITTING_PAIRS

GROWTH_BYTES = 3 << 30


def test_what_does_not_fit_is_refused_with_how_many_pairs_it_would_be():
    evidence = draw_case(0, RICH_JOB).evidence
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(TooLargeError) as refused:
        weigh(evidence, limit=0)
    assert refused.value.pairs > FITTING_PAIRS
    assert [mistake.code for mistake in refused.value.mistakes] == ["HS402"]
    assert (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024 < GROWTH_BYTES


def test_the_same_readings_are_weighed_with_a_limit():
    said = weigh(draw_case(0, RICH_JOB).evidence)
    assert said.p_readings > 0
    assert 0 < said.bound_share < 1
