"""The places of the log where suspicions turned are found with few questions."""

import numpy as np
import pytest
from laws.evidence_cases import FEW, draw_case

from halfsplit.infer import compile_readings
from halfsplit.infer.retold import Retold
from halfsplit.infer.turns import find_turns
from halfsplit.infer.why import explain
from halfsplit.model.evidence import Acts, Effect, Evidence, Reading, Root, SignAsked

PLENTY = 10_000


def told(n, tells):
    """A look that tells much, or one that tells nothing."""
    return Reading(f"look{n}", n, signs=(SignAsked(0, 0, *((0.9, 0.1) if tells else (0.5, 0.5))),))


def looks(many, *telling):
    readings = tuple(told(n, n in telling) for n in range(many))
    shows = (None, Acts(((1.0, Effect(shown=1)),)))
    root = Root("fault", ("absent", "present"), np.array([0.9, 0.1]), {reading.id: shows for reading in readings})
    return Retold(compile_readings(Evidence((), (root,), readings)), limit=0)


@pytest.mark.parametrize("where", range(16))
def test_the_one_look_that_tells_is_found_with_few_questions(where):
    retold = looks(16, where)
    places = find_turns(retold, ["fault"], effort=PLENTY)
    assert {where, where + 1} <= set(places)
    assert len(places) <= 2 + 4  # the ends, and 16 halved four times
    turns = [
        shift.readings for shift in explain(retold, "fault", places=places) if shift.p_after > shift.p_before + 0.1
    ]
    assert turns == [(f"look{where}",)]


def test_where_nothing_moves_only_the_ends_and_the_complaint_are_asked():
    assert find_turns(looks(16), ["fault"], effort=PLENTY) == (0, 16)


def test_no_more_readings_are_weighed_again_than_the_effort_allows():
    retold = looks(16, 3, 12)
    for effort in (0, 8, 20, 40):
        places = find_turns(retold, ["fault"], effort=effort)
        assert sum(place for place in places if place < 16) <= effort
    assert find_turns(retold, ["fault"], effort=0) == (0, 16)


@pytest.mark.parametrize("seed", range(10))
def test_the_shifts_between_places_join_up_and_hold_every_reading(seed):
    evidence = draw_case(seed, FEW).evidence
    retold = Retold(compile_readings(evidence), given=[evidence.readings[0].id], limit=0)
    roots = [root.id for root in evidence.roots]
    places = find_turns(retold, roots, effort=4)
    assert {0, 1, len(evidence.readings)} <= set(places)
    for root in roots:
        shifts = explain(retold, root, places=places, without=[])
        assert sum((shift.readings for shift in shifts), ()) == retold.order
        assert [shift.p_before for shift in shifts[1:]] == [shift.p_after for shift in shifts[:-1]]
