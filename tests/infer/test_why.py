"""What each reading did to a suspicion."""

import numpy as np
import pytest
from judges import weigh_all, with_readings
from laws.evidence_cases import FEW, draw_case
from oracles import enumerate_evidence

from halfsplit.infer import compile_readings
from halfsplit.infer.retold import Retold
from halfsplit.infer.why import explain
from halfsplit.model.evidence import Acts, Effect, Evidence, Reading, Root, SignAsked


def asked(evidence, *given):
    return Retold(compile_readings(evidence), given=given, limit=0)


def p_of(evidence, root, names):
    kept = [reading for reading in evidence.readings if reading.id in names]
    return float(enumerate_evidence(with_readings(evidence, kept)).p_now(root))


@pytest.mark.parametrize("seed", range(25))
def test_before_after_and_without_are_those_of_the_twin(seed):
    evidence = draw_case(seed, FEW).evidence
    names = [reading.id for reading in evidence.readings]
    retold = asked(evidence)
    for root in evidence.roots:
        shifts = explain(retold, root.id)
        assert [shift.readings for shift in shifts] == [(name,) for name in names]
        for k, shift in enumerate(shifts):
            others = [name for name in names if name not in shift.readings]
            told = (shift.p_before, shift.p_after, shift.p_without)
            expected = [p_of(evidence, root.id, some) for some in (names[:k], names[: k + 1], others)]
            assert told == pytest.approx(expected, rel=1e-9, abs=1e-15)


@pytest.mark.parametrize("seed", range(10))
def test_the_last_reading_leads_to_what_all_of_them_say(seed):
    evidence = draw_case(seed).evidence
    said, retold = weigh_all(evidence), asked(evidence)
    for root in evidence.roots:
        assert explain(retold, root.id)[-1].p_after == pytest.approx(said.p_now(root.id), rel=1e-12, abs=1e-15)


def test_what_is_known_already_is_not_asked_again():
    evidence = draw_case(3).evidence
    retold, said = asked(evidence), weigh_all(evidence)
    retold.know(said)
    assert retold.after(len(evidence.readings)).log_p == said.log_p


def look(name, sees, of=0):
    return Reading(name, 0, signs=(SignAsked(of, 0, *((0.9, 0.2) if sees else (0.1, 0.8))),))


def two_faults():
    shows = {bit: (None, Acts(((1.0, Effect(shown=1 << bit)),))) for bit in (0, 1)}
    roots = tuple(
        Root(f"fault{bit}", ("absent", "present"), np.array([0.5, 0.5]), {name: shows[bit] for name in names})
        for bit, names in ((0, ("seen", "not seen")), (1, ("elsewhere",)))
    )
    readings = (look("seen", True), look("elsewhere", True, of=1), look("not seen", False))
    return Evidence((), roots, readings)


def test_odds_move_by_how_much_better_the_fault_explains_the_reading():
    seen, elsewhere, not_seen = explain(asked(two_faults()), "fault0")
    assert seen.odds_after / seen.odds_before == pytest.approx(0.9 / 0.2)
    assert elsewhere.odds_after == pytest.approx(elsewhere.odds_before)
    assert not_seen.odds_after / not_seen.odds_before == pytest.approx(0.1 / 0.8)


def test_readings_that_are_given_come_first():
    shifts = explain(asked(two_faults(), "not seen"), "fault0")
    assert [shift.readings for shift in shifts] == [("not seen",), ("seen",), ("elsewhere",)]


def test_leaving_out_is_only_worked_out_when_asked_for():
    assert all(shift.p_without is None for shift in explain(asked(two_faults()), "fault0", without=[]))
