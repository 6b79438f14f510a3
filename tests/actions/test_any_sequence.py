"""Whatever is done at a bench, in whatever order: logs only grow, and what is on file folds as its export does."""

import contextlib
import tempfile
from datetime import timedelta
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test
from small_book import SMALL_BOOK
from stores import NOON

from halfsplit.actions import (
    Bench,
    bring_back,
    collect,
    describe,
    erase_person,
    export_job,
    import_job,
    job_view,
    open_job,
    put_away,
    record,
    set_person,
    set_state,
    start_time,
    undo,
)
from halfsplit.errors import InputError
from halfsplit.store import open_store
from halfsplit.store.persons import Person
from halfsplit.store.states import STATES

ENTRIES = st.sampled_from(
    [
        "told: moved_house",
        "told: {stop: resets, load: games, always: no}",
        "run: {load: games, reached: log_in, stop: {resets: 6 min}, failed: 3, of: 5}",
        "run: {cold: yes, not: self_test, stop: stays, signs: {fans_turn: yes}, id: first}",
        "setup: {memory.2: out}",
        "setup: {memory.7: in}",
        "inspect: {at: card_power_plug, seen: half_in}",
        "measure: {at: rail_12v, volts: 11.18, load: card}",
        "repair: {do: reseat, at: card_power_plug}",
        "note: a word",
        "[{note: one}, {note: two}]",
        "correct: {entry: run_1, cold: no}",
        "correct: {entry: run_1, withdrawn: yes}",
        "correct: {entry: run_1, withdrawn: no}",
        "correct: {entry: first, load: card, cold: ~}",
        "rum: {}",
    ]
)
MACHINES = st.sampled_from(
    ["machine: {memory: [8]}", "machine: {memory: [8, 8], card: {watts: 220}}", "machine: {card: none}", "name: x"]
)
WHO = st.sampled_from(["AB", "CD"])


class Sequence(RuleBasedStateMachine):
    """A bench with some jobs, and what was seen of their logs so far."""

    def __init__(self):
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.bench = Bench(open_store(Path(self.folder.name)), SMALL_BOOK)
        self.now = NOON
        self.seen = {}

    def teardown(self):
        self.bench.store.close()
        self.folder.cleanup()

    def later(self, seconds):
        self.now += timedelta(seconds=seconds)
        return self.now

    @precondition(lambda self: len(self.seen) < 3)
    @rule(by=WHO)
    def open(self, by):
        number = open_job(self.bench, "machine: {memory: [8, 8]}", by=by, now=self.later(1))
        self.seen[number] = job_view(self.bench, number).lines

    @precondition(lambda self: self.seen)
    @rule(data=st.data(), text=ENTRIES, by=WHO, seconds=st.integers(0, 20))
    def enter(self, data, text, by, seconds):
        with contextlib.suppress(InputError):
            record(self.bench, self.a_job(data), text, by=by, now=self.later(seconds))

    @precondition(lambda self: self.seen)
    @rule(data=st.data(), text=MACHINES, by=WHO)
    def tell(self, data, text, by):
        with contextlib.suppress(InputError):
            describe(self.bench, self.a_job(data), text, by=by, now=self.later(1))

    @precondition(lambda self: self.seen)
    @rule(data=st.data(), by=WHO, seconds=st.integers(0, 15))
    def take_back(self, data, by, seconds):
        number = self.a_job(data)
        mine = [line.entry for line in job_view(self.bench, number).lines if line.initials == by]
        with contextlib.suppress(InputError):
            entry = data.draw(st.sampled_from(mine[:-4:-1] or [""]))
            undo(self.bench, number, entry, by=by, now=self.later(seconds))

    @precondition(lambda self: self.seen)
    @rule(data=st.data(), state=st.sampled_from(list(STATES)), by=WHO)
    def go_on(self, data, state, by):
        number = self.a_job(data)
        if state == "collected":
            collect(self.bench, number, by=by, now=self.later(1), person_days=90)
        else:
            set_state(self.bench, number, state, by=by, now=self.later(1))
        start_time(self.bench, number, by=by, now=self.now)
        put_away(self.bench, number, now=self.now, person_days=90)
        bring_back(self.bench, number)

    @precondition(lambda self: self.seen)
    @rule(data=st.data())
    def know_a_person(self, data):
        number = self.a_job(data)
        before = job_view(self.bench, number)
        set_person(self.bench, number, Person("Anna Beispiel"), now=self.now, person_days=90)
        erase_person(self.bench, number)
        assert job_view(self.bench, number) == before

    def a_job(self, data):
        return data.draw(st.sampled_from(sorted(self.seen)))

    @invariant()
    def logs_only_grow_and_can_be_read(self):
        for number, known in self.seen.items():
            view = job_view(self.bench, number)
            assert view.lines[: len(known)] == known
            assert [line.seq for line in view.lines] == list(range(1, len(view.lines) + 1))
            assert view.mistakes == ()
            self.seen[number] = view.lines

    @precondition(lambda self: self.seen)
    @rule(data=st.data())
    def an_import_is_the_same_job(self, data):
        number = self.a_job(data)
        exported = export_job(self.bench, number)
        again = import_job(self.bench, exported, by="AB", now=self.now)
        here, there = job_view(self.bench, number), job_view(self.bench, again)
        assert there.folded().lines == here.folded().lines
        assert repr(there.folded().evidence) == repr(here.folded().evidence)


def test_any_sequence_of_actions():
    run_state_machine_as_test(
        Sequence,
        settings=settings(
            max_examples=10,
            stateful_step_count=20,
            deadline=None,
            suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
        ),
    )
