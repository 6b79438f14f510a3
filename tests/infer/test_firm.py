"""How firm: moving the book's numbers and replaying says what weighing the moved book says."""

from dataclasses import replace

import numpy as np
import pytest
from judges import weigh_all
from laws.evidence_cases import JOB, draw_case

from halfsplit.infer import firm
from halfsplit.infer.draws import Numbers
from halfsplit.infer.firm import DRAWS, WHOLE_PRODUCTS, how_firm, move_numbers, moved_p_faults
from halfsplit.model.evidence import Evidence, Root

SHIFTS = {"rarely": np.array([-0.9, 0.4, 1.7]), "often": np.array([1.2, -1.5, 0.3])}
"""Three draws of two words, as what is added to the log odds."""

MISSED = 2e-3
"""What replaying the larger rows only may be off by."""


def moved(p, shift):
    """A probability with its log odds moved; certainty stays."""
    return p if p in (0.0, 1.0) else 1.0 / (1.0 + (1.0 - p) / p * np.exp(-shift))


def moved_start(start, shift):
    if start.ndim > 1:
        return np.array([moved_start(part, shift) for part in start])
    present = start[1:].sum()
    if present == 0.0:
        return start
    after = moved(float(present), shift)
    return np.array([1.0 - after, *(start[1:] * (after / present))])


def moved_acts(acts, shift):
    if acts is None or acts.word not in shift:
        return acts
    total = sum(p for p, _ in acts.outcomes)
    factor = moved(total, shift[acts.word]) / total
    return replace(acts, outcomes=tuple((p * factor, effect) for p, effect in acts.outcomes))


def moved_evidence(evidence, shift):
    """The same question with every number of the book moved by its word, written out."""
    roots = tuple(
        replace(
            root,
            start=moved_start(root.start, shift[root.word]) if root.word in shift else root.start,
            acts={name: tuple(moved_acts(one, shift) for one in acts) for name, acts in root.acts.items()},
        )
        for root in evidence.roots
    )
    return replace(evidence, roots=roots)


def weighed_anew(evidence):
    """P(there now) of each root for each of the three draws, each weighed by itself."""
    found = []
    for draw in range(3):
        said = weigh_all(moved_evidence(evidence, {word: shift[draw] for word, shift in SHIFTS.items()}))
        found.append([said.p_now(root.id) for root in evidence.roots])
    return np.array(found).T


@pytest.mark.parametrize("seed", range(40))
def test_a_replay_with_moved_numbers_is_the_moved_book_weighed_anew(seed, monkeypatch):
    monkeypatch.setattr(firm, "WHOLE_PRODUCTS", 10**9)  # larger ones are replayed with their likely joins only
    evidence = draw_case(seed).evidence
    replayed = moved_p_faults(weigh_all(evidence), Numbers(SHIFTS, 3))
    assert replayed == pytest.approx(weighed_anew(evidence), rel=1e-9, abs=1e-15)


@pytest.mark.parametrize("seed", [0, 3, 7])
def test_a_large_group_is_replayed_by_its_larger_rows_and_hardly_differs(seed):
    evidence = draw_case(seed, JOB).evidence
    posterior = weigh_all(evidence)
    draws = Numbers({word: np.repeat(shift, DRAWS) for word, shift in SHIFTS.items()}, 3 * DRAWS)
    records = max(sum(len(joined.into) for joined in group.up.joined) for group in posterior.groups)
    assert records * draws.draws > WHOLE_PRODUCTS
    replayed = moved_p_faults(posterior, draws)[:, ::DRAWS]
    assert replayed == pytest.approx(weighed_anew(evidence), rel=0, abs=MISSED)


@pytest.mark.parametrize("seed", range(6))
def test_numbers_that_do_not_move_give_the_answer_as_written(seed):
    evidence = replace(draw_case(seed, JOB).evidence, spreads={"rarely": 0.0, "often": 0.0})
    posterior = weigh_all(evidence)
    ranges = how_firm(posterior, draws=5)
    for root in evidence.roots:
        p = posterior.p_now(root.id)
        one = ranges[root.id]
        assert (one.low, one.median, one.high) == pytest.approx((p, p, p), rel=1e-9, abs=1e-15)


@pytest.mark.parametrize("seed", range(10))
def test_a_range_rises_from_low_to_high_and_is_the_same_each_time(seed):
    posterior = weigh_all(draw_case(seed).evidence)
    ranges = how_firm(posterior)
    assert all(0 <= one.low <= one.median <= one.high <= 1 for one in ranges.values())
    assert how_firm(posterior) == ranges
    assert how_firm(posterior, seed=1) != ranges


def alone(word):
    """Evidence of one fault, of which nothing was seen."""
    root = Root("fault", ("absent", "present"), np.array([0.8, 0.2]), word=word)
    return Evidence((), (root,), (), {"rarely": 0.5, "often": 0.7})


def test_without_a_reading_the_range_is_the_spread_of_the_number_itself():
    low, high = (moved(0.2, z * 0.5) for z in (-1.645, 1.645))
    one = how_firm(weigh_all(alone("rarely")), draws=4_000)["fault"]
    assert (one.low, one.median, one.high) == pytest.approx((low, 0.2, high), rel=0.05)


def test_a_number_without_a_word_does_not_move():
    one = how_firm(weigh_all(alone("")))["fault"]
    assert (one.low, one.high) == pytest.approx((0.2, 0.2), rel=1e-12)


def test_faults_that_share_a_word_move_together_and_others_do_not():
    roots = [
        Root(name, ("absent", "present"), np.array([1 - p, p]), word=word)
        for name, p, word in [("a", 0.2, "rarely"), ("b", 0.05, "rarely"), ("c", 0.05, "often")]
    ]
    posterior = weigh_all(Evidence((), tuple(roots), (), {"rarely": 0.5, "often": 0.7}))
    a, b, c = moved_p_faults(posterior, move_numbers(posterior.evidence.spreads))
    assert np.array_equal(np.argsort(a), np.argsort(b))
    assert not np.array_equal(np.argsort(a), np.argsort(c))


def test_a_word_gets_the_same_draws_whatever_other_words_there_are():
    few = move_numbers({"often": 0.7})
    many = move_numbers({"always": 0.1, "often": 0.7, "rarely": 0.5})
    assert few.draws == many.draws == DRAWS >= 200
    assert np.array_equal(few.shift["often"], many.shift["often"])
