"""What closes a job for less than an end at once comes before that end."""

import numpy as np
import pytest

from halfsplit.plan import HAND_BACK, Action, Situation, Thumb, rank_by_thumb


def of(p_bad: float, proof_cents: float, due: float | None = None) -> Thumb:
    """A machine with one fault or none, a proof that always shows it, and a repair for 30 cents."""
    proof = Action("prove", proof_cents, "", powers=True, tells=np.eye(2))
    repair = Action("fix", 30.0, "", powers=True, cures=np.array([1.0]))
    return Thumb(
        Situation(
            np.array([1.0 - p_bad, p_bad]),
            np.array([[False], [True]]),
            (proof, repair),
            comeback=100.0,
            replacing=1000.0,
            shows=np.array([1.0]),
            broken=100.0,
        ),
        {"fix": np.array([0, 0])},
        proof=proof_cents,
        due=due,
        proves="prove",
    )


def test_a_proof_and_an_end_cost_the_proof_and_what_is_left_where_it_fails():
    # nothing is wrong in 0.8: 10 and no more; in 0.2 the repair for 30 is known to be needed, and a proof of it
    total = next(each.total for each in rank_by_thumb(of(0.2, 10.0)).ranked if each.id == "prove")
    assert total == pytest.approx(10.0 + 0.2 * (30.0 + 10.0))


@pytest.mark.parametrize(("proof_cents", "is_first"), [(10.0, True), (60.0, False)])
def test_a_proof_that_is_worth_it_comes_before_handing_back(proof_cents, is_first):
    ranked = [each.id for each in rank_by_thumb(of(0.2, proof_cents)).ranked]
    assert (ranked.index("prove") < ranked.index(HAND_BACK)) is is_first


def test_nothing_goes_back_sound_without_its_proof_and_none_is_due_twice():
    hand_back = {
        due: next(each.total for each in rank_by_thumb(of(0.2, 10.0, due)).ranked if each.id == HAND_BACK)
        for due in (None, 0.0)
    }
    assert hand_back[None] == pytest.approx(0.8 * 10.0 + 0.2 * 100.0)
    assert hand_back[0.0] == pytest.approx(0.2 * 100.0)
