"""Any job that speaks the words of the book folds to sound evidence, or says what is wrong with it."""

import random

import numpy as np
from folding import BOOK
from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.errors import ModelError
from halfsplit.job.fold import fold_job
from halfsplit.job.folded import Folded
from halfsplit.model.job import (
    ChangeSetup,
    Correct,
    Inspect,
    Job,
    Measure,
    OwnedPart,
    RepairDone,
    Run,
    Seen,
    StopSeen,
    Told,
)
from halfsplit.model.ladder import KINDS, NO_STOP
from halfsplit.model.machine import Conditions

RUNGS = [rung.id for rung in BOOK.ladder.rungs]
SLOTS = ["supply", "board", "card", "memory", "memory.1", "memory.2", "drive", "drive.1", "monitor", "case", "riser"]
HELD = ["out", "in", "owner", "new", "shelf.supply_a", "shelf.memory_ddr4", "owner.memory.2", "bench.card"]
USUAL = {"volts": 11.5, "ohms": 40.0, "watts": 3.0, "celsius": 70.0, "rpm": 500.0}


class Draw:
    """A job drawn from the words of the book; the same seed gives the same job for ever."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)

    def word(self, words):
        """One of the words, or nothing."""
        return self.random.choice(["", *words])

    def job(self) -> Job:
        told = [self.told(f"t{n}") for n in range(self.random.randrange(4))]
        log = [self.entry(f"e{n}") for n in range(self.random.randrange(7))]
        parts = self.random.choice([(), (OwnedPart("memory.1"),), (OwnedPart("drive.2"), OwnedPart("riser"))])
        return Job(
            machine={"age_years": self.random.choice([0.0, 3.0, 12.0])},
            parts=parts,
            missing=self.random.choice([(), ("card",)]),
            complaint=self.word(BOOK.complaints),
            told=tuple(told),
            log=tuple(log),
        )

    def conditions(self) -> Conditions:
        return Conditions(
            cold=self.random.choice([None, True, False]),
            load=self.random.choice(list(BOOK.loads)),
            minutes=self.random.choice([None, 1.0, 30.0, 600.0]),
            lead_out_minutes=self.random.choice([None, 0.0, 5.0]),
            position=self.word(BOOK.positions),
            touched=self.word(BOOK.touches),
            started_by=self.word(BOOK.starters),
            first_after=self.word([*BOOK.events, *BOOK.repairs]),
        )

    def seen(self) -> Seen:
        seconds = self.random.choice([None, 0.5, 8.0, 90.0, 400.0, 9000.0])
        stages = {stage: self.random.random() < 0.5 for stage in ("self_test", "system")}
        signs = self.random.sample(list(BOOK.signs), self.random.randrange(4))
        return Seen(
            reached=self.word(RUNGS),
            not_reached=self.word(RUNGS),
            stop=self.random.choice([None, StopSeen(self.word(KINDS), seconds)]),
            stayed=self.random.random() < 0.2,
            picture=self.random.choice([{}, {self.random.choice(["used", *BOOK.outputs]): stages}]),
            signs={sign: self.random.choice(["yes", "no", "unsure"]) for sign in signs},
        )

    def told(self, name: str) -> Told:
        return Told(
            name,
            event=self.word(BOOK.events),
            is_true=self.random.random() < 0.7,
            seen=self.random.choice([None, self.seen()]),
            always=self.random.choice([None, True, False]),
            conditions=self.conditions(),
            sure=self.random.choice(["sure", "fairly", "guess"]),
        )

    def entry(self, name: str):
        on = self.random.choice(["owner", "owner", *BOOK.hosts])
        swaps = {self.random.choice(SLOTS): self.random.choice(HELD) for _ in range(self.random.randrange(3))}
        output, case = self.word(BOOK.outputs), self.random.choice(["", "", "in", "out"])
        failed, more = self.random.randrange(4), self.random.randrange(3)
        match self.random.randrange(6):
            case 0 | 1:
                conditions, seen = self.conditions(), self.seen()
                return Run(
                    name,
                    on=on,
                    swaps=swaps,
                    output=output,
                    case=case,
                    conditions=conditions,
                    seen=seen,
                    failed=failed,
                    of=failed + more,
                )
            case 2:
                return ChangeSetup(name, on=on, swaps=swaps, output=output, case=case)
            case 3:
                what = self.random.choice(list(BOOK.inspections))
                word = self.random.choice([*BOOK.inspections[what].seen, "unsure"])
                number, tool = self.number(BOOK.inspections[what].at), self.random.choice(list(BOOK.tools))
                return Inspect(name, what=what + number, tool=tool, seen=word, on=on)
            case 4:
                what = self.random.choice(list(BOOK.measurements))
                point = BOOK.measurements[what]
                value = USUAL[point.unit] * self.random.choice([0.0, 0.9, 1.1])
                return Measure(
                    name, what=what + self.number(point.at), value=value, load=self.random.choice(["idle", "card"])
                )
            case _ if self.random.random() < 0.2:
                return Correct(name, entry="e0", now=Run("", seen=self.seen()))
            case _:
                do = self.random.choice(list(BOOK.repairs))
                to = BOOK.repairs[do].at + self.number(BOOK.repairs[do].at)
                return RepairDone(name, do=do, to=to, fitted=self.random.choice(["new", "shelf.supply_a"]))

    def number(self, at: str) -> str:
        """A number where there may be several, now and then."""
        kinds = BOOK.joints[at].between if at in BOOK.joints else (at,)
        many = any(BOOK.kinds[kind].many for kind in kinds)
        return self.random.choice([".1", ".2", ""]) if many else ""


def fold_if_sound(job: Job) -> Folded | None:
    """Return the folded job, or None where everything that is wrong with it was told."""
    try:
        return fold_job(job, BOOK)
    except ModelError as error:
        strange = [mistake for mistake in error.mistakes if not mistake.code.startswith("HS20")]
        if strange:
            raise
        return None


def is_share(array):
    return bool(np.all(np.asarray(array) >= -1e-12) and np.all(np.asarray(array) <= 1 + 1e-9))


@settings(max_examples=100)
@given(st.integers(0, 2**32 - 1))
def test_any_job_folds_to_sound_evidence_or_says_why_not(seed):
    folded = fold_if_sound(Draw(seed).job())
    if folded is None:
        return
    evidence = folded.evidence
    readings = {reading.id: reading for reading in evidence.readings}
    contexts = {context.id: len(context.values) for context in evidence.contexts}
    assert len(readings) == len(evidence.readings)
    assert [reading.time for reading in evidence.readings] == sorted(reading.time for reading in evidence.readings)
    for reading in evidence.readings:
        assert abs(sum(p for p, _ in reading.base) - 1.0) < 1e-9
        assert is_share(reading.other_stops)
        assert all(is_share(weight) for weight in reading.stop_weights.values())
        assert all(is_share(sign.if_visible) and is_share(sign.if_not) for sign in reading.signs)
    for root in evidence.roots:
        assert root.start.shape == (*(contexts[name] for name in root.given), len(root.states))
        assert np.allclose(root.start.sum(axis=-1), 1.0)
        assert is_share(root.start)
        assert len(root.held) == len(root.states) <= 12
        assert [move.time for move in root.moves] == sorted({move.time for move in root.moves})
        for move in root.moves:
            assert np.allclose(move.matrix.sum(axis=-1), 1.0)
            assert is_share(move.matrix)
        for name, acts in root.acts.items():
            assert name in readings
            assert len(acts) == len(root.states)
            for act in acts:
                if act is not None:
                    assert 0.0 < sum(p for p, _ in act.outcomes) <= 1 + 1e-9
                    assert all(0 <= effect.stop <= NO_STOP for _, effect in act.outcomes)
                    assert act.word == "" or act.word in evidence.spreads
