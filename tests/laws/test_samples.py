"""Weighted samples stand for the posterior, and for rare faults as well."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from judges import weigh_all
from laws.evidence_cases import JOB, draw_case
from oracles import enumerate_evidence

from halfsplit.infer.sampling import spread_out
from halfsplit.model.evidence import Acts, Effect, Evidence, Reading, Root

STANDARD_ERRORS = 5
"""Some thousand comparisons are made: at 5 a right sampler fails less than once in 1,000 times."""

ENOUGH = 20_000
"""Weights that are wrong by a third show at this many."""


def share_and_error(samples, is_so, p, *, has_own_samples=False):
    """The weighted share of the samples in which it is so, and the standard error of that share.

    A fault with p between 1e-4 and 1/2 has samples of its own, so the error seen in the samples will
    do.  Else a few samples may all agree, and what plain sampling would give is taken if it is more.
    """
    weights = samples.weights / samples.weights.sum()
    seen = np.sqrt(np.sum((weights * (is_so - p)) ** 2))
    plain = np.sqrt(max(0, p * (1 - p)) * np.sum(weights**2))
    error = seen if has_own_samples and 1e-4 <= p <= 0.5 else max(seen, plain)
    return float(np.sum(weights * is_so)), float(error)


def assert_agree(samples, is_so, p, *, has_own_samples=False):
    share, error = share_and_error(samples, is_so, p, has_own_samples=has_own_samples)
    assert share == pytest.approx(p, rel=0, abs=STANDARD_ERRORS * error + 1e-12)


@pytest.mark.parametrize("seed", range(15))
def test_samples_of_a_job_agree_with_p_now(seed):
    evidence = draw_case(seed, JOB).evidence
    said = weigh_all(evidence)
    samples = said.samples(ENOUGH, seed=seed)
    assert samples.states.shape == (len(samples.weights), len(evidence.roots))
    assert np.all(samples.weights > 0)
    for place, root in enumerate(evidence.roots):
        assert_agree(samples, samples.states[:, place] != 0, said.p_now(root.id), has_own_samples=True)
        for state, p in enumerate(said.p_states(root.id)):
            assert_agree(samples, samples.states[:, place] == state, p)


@pytest.mark.parametrize("seed", range(20))
def test_samples_agree_with_every_joint_state(seed):
    evidence = draw_case(seed).evidence
    true = enumerate_evidence(evidence).final_states()
    samples = weigh_all(evidence).samples(ENOUGH, seed=seed)
    drawn = set(map(tuple, samples.states.tolist()))
    assert drawn <= set(true)
    for states, p in true.items():
        assert_agree(samples, (samples.states == states).all(axis=1), float(p))


def test_rare_faults_are_sampled_well():
    """Twelve faults of 1 in 3,000, each explaining a little; plain samples would show one or two."""
    rare = 1 / 3_000
    acts = (None, Acts(((0.5, Effect(stop=3)),)))
    names = [f"rare{number}" for number in range(12)]
    roots = tuple(Root(name, ("absent", "present"), np.array([1 - rare, rare]), {"run": acts}) for name in names)
    usual = Root("usual", ("absent", "present"), np.array([0.5, 0.5]), {"run": acts})
    failed = Reading("run", 0, stop_weights={3: 1.0}, other_stops=0.0)
    said = weigh_all(Evidence((), (*roots, usual), (failed,)))
    samples = said.samples(2_000, seed=1)
    for place, name in enumerate(names):
        is_there = samples.states[:, place] != 0
        assert 1e-4 < said.p_now(name) < 2e-3
        assert np.count_nonzero(is_there) >= 10
        _, error = share_and_error(samples, is_there, said.p_now(name), has_own_samples=True)
        assert error <= 0.35 * said.p_now(name)
        assert_agree(samples, is_there, said.p_now(name), has_own_samples=True)


def test_the_same_seed_draws_the_same_samples_and_another_seed_others():
    said = weigh_all(draw_case(3, JOB).evidence)
    one, again, other = said.samples(200, seed=5), said.samples(200, seed=5), said.samples(200, seed=6)
    assert np.array_equal(one.states, again.states)
    assert np.array_equal(one.weights, again.weights)
    assert not np.array_equal(one.states, other.states)


@given(st.lists(st.integers(0, 4), max_size=60), st.integers(0, 99))
def test_draws_of_one_bucket_are_evenly_spread(buckets, seed):
    """Latin hypercube sampling: of n draws one lies in each n-th part (McKay, Beckman and Conover 1979)."""
    bucket = np.array(buckets, dtype=np.int64)
    spread = spread_out(bucket, np.random.default_rng(seed))
    for each in set(buckets):
        own = np.sort(spread[bucket == each])
        assert np.array_equal(np.floor(own * len(own) + 1e-9), np.arange(len(own)))


def test_few_samples_come_closer_than_random_ones():
    """The error of a likely fault's share is well below that of as many random draws, sqrt(p (1 - p) / n)."""
    said = weigh_all(draw_case(4, JOB).evidence)
    place, p = max(
        ((place, said.p_now(root.id)) for place, root in enumerate(said.evidence.roots)),
        key=lambda each: -abs(each[1] - 0.5),
    )
    errors = []
    for seed in range(40):
        samples = said.samples(400, seed=seed)
        errors.append(float(samples.weights @ (samples.states[:, place] != 0)) - p)
    assert np.sqrt(np.mean(np.square(errors))) < 0.7 * np.sqrt(p * (1.0 - p) / 400)
