"""Moves between two readings may be one move: no answer changes."""

from dataclasses import replace

import numpy as np
import pytest
from judges import answers, close
from laws.evidence_cases import Size, draw_case

from halfsplit.infer import compile_readings, weigh_readings
from halfsplit.infer.moves import merge_moves

BUSY = replace(Size(), moves=(4, 8))
"""Many moves, so that several lie between two readings."""


def some_readings(evidence, seed):
    rng = np.random.default_rng(seed)
    return [reading.id for reading in evidence.readings if rng.random() < 0.5]


@pytest.mark.parametrize("seed", range(40))
def test_merged_moves_give_every_answer_of_the_moves_one_by_one(seed):
    evidence = draw_case(seed, BUSY).evidence
    compiled, readings = compile_readings(evidence), some_readings(evidence, seed)
    merged = merge_moves(compiled, readings, to_the_end=True)
    said, expected = (weigh_readings(one, readings, limit=0) for one in (merged, compiled))
    assert answers(said, evidence) == close(answers(expected, evidence))


@pytest.mark.parametrize("seed", range(40))
def test_moves_after_the_last_reading_do_not_change_the_probability_of_the_readings(seed):
    evidence = draw_case(seed, BUSY).evidence
    compiled, readings = compile_readings(evidence), some_readings(evidence, seed)
    merged = merge_moves(compiled, readings, to_the_end=False)
    said, expected = (weigh_readings(one, readings, limit=0) for one in (merged, compiled))
    assert said.log_p == pytest.approx(expected.log_p, rel=0, abs=1e-12)


def test_there_are_fewer_moves_where_readings_are_left_out():
    counts = []
    for seed in range(40):
        compiled = compile_readings(draw_case(seed, BUSY).evidence)
        merged = merge_moves(compiled, [], to_the_end=True)
        assert all(len(root.moves) <= 1 for root in merged.roots)
        counts.append(max(len(root.moves) for root in compiled.roots))
    assert max(counts) > 2
