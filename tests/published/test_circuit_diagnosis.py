"""Three multipliers and two adders, with one wrong output and any number of faults.

Source: J. de Kleer and B. C. Williams, "Diagnosing multiple faults", Artificial Intelligence 32 (1987).
The circuit, its two conflicts and the minimal diagnoses: recalled, the pair {A2, M2} read; every number
recomputed, with the output of a faulty part left free and no other likelihood.

    M1: x = a c    M2: y = b d    M3: z = c e    A1: f = x + y    A2: g = y + z
    a, b, c, d, e = 3, 2, 2, 3, 3;  f is seen as 10, not 12;  g is seen as 12.

One inspection asks for each conflict whether one of its parts is faulty, and sees that it is.
"""

from itertools import chain, combinations, product
from math import log2

import numpy as np
import pytest
from judges import by_both

from halfsplit.model.evidence import Acts, Effect, Evidence, Reading, Root, SignAsked

PARTS = ("A1", "A2", "M1", "M2", "M3")
CONFLICTS = ({"A1", "M1", "M2"}, {"A1", "A2", "M1", "M3"})
MINIMAL = ({"A1"}, {"M1"}, {"A2", "M2"}, {"M2", "M3"})
ALL_SETS = tuple(
    frozenset(faulty) for faulty in chain.from_iterable(combinations(PARTS, n) for n in range(len(PARTS) + 1))
)


def is_consistent(faulty):
    """Some values of the three inner wires fit what is seen, if faulty parts may put out anything."""
    wires = range(-10, 30)
    x_may_be = wires if "M1" in faulty else [3 * 2]
    y_may_be = wires if "M2" in faulty else [2 * 3]
    z_may_be = wires if "M3" in faulty else [2 * 3]
    return any(
        ("A1" in faulty or x + y == 10) and ("A2" in faulty or y + z == 12)
        for x, y, z in product(x_may_be, y_may_be, z_may_be)
    )


CONSISTENT = tuple(faulty for faulty in ALL_SETS if is_consistent(faulty))


def circuit(p_fault, *, exactly=None):
    """The circuit's readings; with ``exactly``, one more that tells which parts are faulty."""
    roots = []
    for bit, part in enumerate(PARTS):
        broken = sum(1 << number for number, conflict in enumerate(CONFLICTS) if part in conflict)
        acts = {
            "outputs": (None, Acts(((1.0, Effect(shown=broken)),))),
            "each part": (None, Acts(((1.0, Effect(shown=1 << bit)),))),
        }
        roots.append(Root(part, ("works", "faulty"), np.array([1 - p_fault, p_fault]), acts))
    readings = [Reading("outputs", 0, signs=tuple(SignAsked(bit, 0, 1.0, 0.0) for bit in range(len(CONFLICTS))))]
    if exactly is not None:
        found = [float(part in exactly) for part in PARTS]
        signs = tuple(SignAsked(bit, 0, is_faulty, 1 - is_faulty) for bit, is_faulty in enumerate(found))
        readings.append(Reading("each part", 0, signs=signs))
    return Evidence((), tuple(roots), tuple(readings))


def test_consistent_are_just_the_sets_that_break_both_conflicts():
    assert len(CONSISTENT) == 27
    assert set(CONSISTENT) == {faulty for faulty in ALL_SETS if all(faulty & conflict for conflict in CONFLICTS)}


def test_the_minimal_diagnoses_are_the_published_four():
    minimal = {faulty for faulty in CONSISTENT if not any(other < faulty for other in CONSISTENT)}
    assert minimal == set(map(frozenset, MINIMAL))


@pytest.mark.parametrize(("p_fault", "mass", "half_last_digit"), [(0.01, 0.02009504, 5e-9), (0.1, 0.20539, 5e-6)])
@by_both
def test_the_normalising_mass(judge, p_fault, mass, half_last_digit):
    assert float(judge(circuit(p_fault)).p_readings) == pytest.approx(mass, rel=0, abs=half_last_digit)


@pytest.mark.parametrize(
    ("p_fault", "marginals"),
    [
        (0.01, {"A1": 0.497635, "M1": 0.497635, "M2": 0.019609, "M3": 0.014780, "A2": 0.014780}),
        (0.1, {"A1": 0.486879, "M1": 0.486879, "M2": 0.167438, "M3": 0.131944, "A2": 0.131944}),
    ],
)
@by_both
def test_the_marginals(judge, p_fault, marginals):
    said = judge(circuit(p_fault))
    assert {part: float(said.p_now(part)) for part in PARTS} == pytest.approx(marginals, rel=0, abs=5e-7)


@pytest.mark.parametrize(
    ("p_fault", "single", "pair", "entropy_bits"),
    [(0.01, 0.478026, 0.004829, 1.359445), (0.1, 0.319441, 0.035493, 2.930461)],
)
@by_both
def test_each_exact_set_of_faults_has_its_weight(judge, p_fault, single, pair, entropy_bits):
    mass = float(judge(circuit(p_fault)).p_readings)
    weights = {faulty: float(judge(circuit(p_fault, exactly=faulty)).p_readings) / mass for faulty in CONSISTENT}
    for faulty in map(frozenset, MINIMAL):
        expected = single if len(faulty) == 1 else pair
        assert weights[faulty] == pytest.approx(expected, rel=0, abs=5e-7)
    assert sum(weights.values()) == pytest.approx(1, rel=1e-12)
    assert -sum(p * log2(p) for p in weights.values()) == pytest.approx(entropy_bits, rel=0, abs=5e-7)


@by_both
def test_the_four_minimal_diagnoses_are_the_best_sets(judge):
    best = [faulty for faulty, _ in judge(circuit(0.1)).sets(4)]
    assert set(best[:2]) == {frozenset({"A1"}), frozenset({"M1"})}
    # {A1, M1} and each single with one more part weigh as much as the minimal pairs.
    every = dict(judge(circuit(0.1)).sets(27))
    assert set(every) == set(CONSISTENT)
    for faulty in map(frozenset, MINIMAL):
        assert float(every[faulty]) == pytest.approx(0.319441 if len(faulty) == 1 else 0.035493, rel=0, abs=5e-7)
    assert all(float(p) <= 0.035493 + 5e-7 for faulty, p in every.items() if len(faulty) > 1)


@by_both
def test_parts_below_one_in_fifty_are_summed_out_of_the_sets(judge):
    best = dict(judge(circuit(0.01)).sets(27))
    assert set().union(*best) == {"A1", "M1"}
    both = 0.497635 * 2 - (1 - float(best[frozenset()]))
    assert float(best[frozenset({"A1", "M1"})]) == pytest.approx(both, rel=0, abs=2e-6)
