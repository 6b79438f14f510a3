"""A run of which many signs are told that were not there: no more classes for it, and the same answer."""

import numpy as np
import pytest
from folding import fold
from judges import weigh_all
from oracles import enumerate_evidence

from halfsplit.errors import TooManySignsError
from halfsplit.infer import classes, compile_readings, fields, weigh
from halfsplit.model.evidence import Acts, Effect, Evidence, Reading, Root, SignAsked
from halfsplit.model.ladder import NO_STOP

SCREEN = 30
SIGNS = 24
FEW_CLASSES = 16
STOPS = (3, 2, NO_STOP, NO_STOP, NO_STOP)


def draw_evidence(seed: int) -> Evidence:
    """A run that got to its end, or stopped late, with all of its signs told as not there.

    Every second sign is seen on a screen, which some faults hide; a third of the signs need the last stop.
    """
    rng = np.random.default_rng(seed)
    end = int(rng.choice([NO_STOP, 3]))
    asked = tuple(
        SignAsked(
            bit,
            4 if bit % 3 == 0 else 1,
            0.0,
            1.0,
            screens=1 << SCREEN if bit % 2 else 0,
            screen_needs=((SCREEN, 1),) if bit % 2 else (),
        )
        for bit in range(SIGNS)
    )

    def draw_acts(stop: int) -> Acts:
        shown = sum(1 << int(bit) for bit in rng.choice(SIGNS, size=3, replace=False))
        hidden = (1 << SCREEN if rng.random() < 0.5 else 0) | (
            1 << int(rng.integers(SIGNS)) if rng.random() < 0.3 else 0
        )
        return Acts(((0.3, Effect(stop, shown)), (0.4, Effect(stop, 0, hidden)), (0.2, Effect(stop, shown, hidden))))

    roots = tuple(
        Root(f"fault{n}", ("absent", "there"), np.array([0.7, 0.3]), {"run": (None, draw_acts(STOPS[n]))})
        for n in range(len(STOPS))
    )
    run = Reading("run", 0, ((1.0, Effect(shown=1 << SCREEN)),), {end: 1.0}, 0.0, asked)
    return Evidence((), roots, (run,), {})


@pytest.mark.parametrize("most_bits", [0, fields.MAX_TABLE_BITS])
@pytest.mark.parametrize("seed", range(8))
def test_the_answer_is_that_of_the_twin(seed, most_bits, monkeypatch):
    monkeypatch.setattr(fields, "MAX_TABLE_BITS", most_bits)  # codes in a table, and in a list
    evidence = draw_evidence(seed)
    said, true = weigh_all(evidence), enumerate_evidence(evidence)
    assert said.p_readings == pytest.approx(float(true.p_readings), rel=1e-9, abs=0)
    for root in evidence.roots:
        assert said.p_states(root.id) == pytest.approx([float(p) for p in true.p_states(root.id)], rel=1e-9, abs=0)


@pytest.mark.parametrize("seed", range(8))
def test_signs_that_were_not_there_make_no_classes_of_their_own(seed):
    evidence = draw_evidence(seed)
    field = compile_readings(evidence).fields["run"][0].field
    assert field.classes <= FEW_CLASSES


DARK = """
run: {with: {monitor: shelf.monitor_bench, keyboard: shelf.keyboard_bench}, reached: starts, stop: cuts_out,
  picture: {card: {self_test: no, system: no}}, signs: {memory_complaint: no, processor_complaint: no,
  card_complaint: no, burnt_smell: yes, spark_seen: yes, setup_opens: no, logo_screen: no, boot_complaint: no,
  caps_lock_answers: no, drive_activity: no, error_screen: no, no_boot_drive_message: no}}
""".replace("\n", " ")


def test_a_dark_run_that_may_have_stopped_anywhere_takes_no_room_for_codes_that_there_are_not():
    """Of 2 ** 33 numbers that its code could be some thousand are codes; the others had a place each, 64 GiB."""
    evidence = fold(DARK, machine="{kind: built, card: {}, memory: [8, 8], drives: [sata]}").evidence
    run = max(evidence.readings, key=lambda reading: len(reading.signs))
    field = compile_readings(evidence).fields[run.id][0].field
    assert field.bits > 24
    assert len(field.weights) == len(field.codes) < 10_000
    assert weigh(evidence).p_readings > 0.0


@pytest.mark.parametrize(("limit", "most"), [("MAX_TOTALS", 1_000), ("WORD_BITS", 24)])
def test_a_run_that_its_signs_part_into_too_many_ways_is_refused_and_says_so(limit, most, monkeypatch):
    monkeypatch.setattr(classes, limit, most)
    evidence = fold(DARK, machine="{kind: built, card: {}, memory: [8, 8], drives: [sata]}").evidence
    with pytest.raises(TooManySignsError) as refused:
        compile_readings(evidence)
    (mistake,) = refused.value.mistakes
    assert (mistake.code, mistake.place) == ("HS403", max(evidence.readings, key=lambda each: len(each.signs)).id)
