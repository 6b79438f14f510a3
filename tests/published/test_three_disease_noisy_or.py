"""Three diseases and three findings, a noisy-OR network of the kind of Heckerman (1989).

Source: D. Heckerman, "A tractable inference algorithm for diagnosing multiple diseases" (quickscore),
UAI 1989, for the kind of network.  The network and all figures here: recomputed, by inclusion-exclusion
and by enumeration, which agree to 1e-15.

Priors .10 .20 .05; leak .01 for each finding; links from the diseases: f1 .8 .3 0, f2 .5 0 .9,
f3 .2 .6 .4.
"""

import numpy as np
import pytest
from judges import by_both

from halfsplit.model.evidence import NOTHING, Acts, Effect, Evidence, Reading, Root, SignAsked

PRIORS = {"d1": 0.10, "d2": 0.20, "d3": 0.05}
LEAK = 0.01
LINKS = {"f1": (0.8, 0.3, 0.0), "f2": (0.5, 0.0, 0.9), "f3": (0.2, 0.6, 0.4)}
FOUND = Effect(shown=1)


def disease(place, name):
    return Root(
        id=name,
        states=("absent", "present"),
        start=np.array([1 - PRIORS[name], PRIORS[name]]),
        acts={finding: (None, Acts(((links[place], FOUND),))) for finding, links in LINKS.items() if links[place]},
    )


def findings(**is_present):
    readings = tuple(
        Reading(
            id=finding,
            time=0,
            base=((LEAK, FOUND), (1 - LEAK, NOTHING)),
            signs=(SignAsked(0, 0, float(present), float(not present)),),
        )
        for finding, present in is_present.items()
    )
    return Evidence((), tuple(disease(place, name) for place, name in enumerate(PRIORS)), readings)


@pytest.mark.parametrize(
    ("found", "p_evidence", "half_last_digit", "posteriors"),
    [
        ({"f1": True}, 0.143848, 5e-7, (0.565792, 0.503921, 0.050000)),
        ({"f1": True, "f2": True, "f3": False}, 0.0296611382, 5e-11, (0.964271, 0.120474, 0.080536)),
        ({"f1": True, "f2": True, "f3": True}, 0.0166599125, 5e-11, (0.859098, 0.511702, 0.257685)),
    ],
)
@by_both
def test_each_row_of_findings_gives_its_posteriors(judge, found, p_evidence, half_last_digit, posteriors):
    said = judge(findings(**found))
    assert float(said.p_readings) == pytest.approx(p_evidence, rel=0, abs=half_last_digit)
    for name, p in zip(PRIORS, posteriors, strict=True):
        assert float(said.p_now(name)) == pytest.approx(p, rel=0, abs=5e-7)


@by_both
def test_a_disease_without_a_link_to_the_finding_stays_at_its_prior(judge):
    assert float(judge(findings(f1=True)).p_now("d3")) == pytest.approx(PRIORS["d3"], rel=1e-14, abs=0)
    assert float(judge(findings(f2=True)).p_now("d2")) == pytest.approx(PRIORS["d2"], rel=1e-14, abs=0)


@by_both
def test_negative_findings_factor(judge):
    none = judge(findings(f1=False, f2=False, f3=False))
    for place, (name, prior) in enumerate(PRIORS.items()):
        miss = np.prod([1 - links[place] for links in LINKS.values()])
        expected = prior * miss / (prior * miss + 1 - prior)
        assert float(none.p_now(name)) == pytest.approx(expected, rel=1e-12, abs=0)
