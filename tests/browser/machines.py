"""A machine on the bench for tests in a browser: it answers as the simulator says."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from halfsplit.book import shipped_book
from halfsplit.job.machine import facts_of
from halfsplit.jobfile import parse_job
from halfsplit.jobfile.onto import parse_entries
from halfsplit.model.job import Entry, Inspect, Measure, RepairDone, Run, Seen
from halfsplit.simulate.numbers import number_shown
from halfsplit.simulate.worlds import Nature, World

BOOK = shipped_book()


@dataclass
class Machine:
    """A machine on the bench.

    Args:
        text: what is so of it, as the head of a job file.
        states: what is wrong with it: root -> state.
        slips: what the work itself leaves behind, the first time that it is done: repair -> root and state.
        seed: of what happens to it; with 2 a new supply is a good one (one dead on arrival has no budget of taps).
    """

    text: str
    states: Mapping[str, str]
    slips: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    seed: int = 2

    def __post_init__(self) -> None:
        job, mistakes = parse_job(f"{self.text}\nlog: []\n", BOOK)
        assert job is not None, mistakes
        self.rng = np.random.default_rng(self.seed)
        nature = Nature(job, BOOK, facts_of(job, BOOK, []), self.rng)
        self._slips = dict(self.slips)
        for root, state in (*self.states.items(), *self.slips.values()):
            assert state in {each.name for each in nature.plans[root].states}, (root, state)
        self.world = World(nature, self.states)
        self._names = 0

    def read(self, text: str) -> tuple[Entry, ...]:
        """Return the entries that an answer would enter."""
        job, mistakes = parse_entries(text, self.text, BOOK)
        assert job is not None, (text, mistakes)
        return job.log

    def left(self) -> tuple[str, ...]:
        """Return what is still wrong with it of all that it was given, and of what the work is told to leave behind.

        What else the work brings in by chance, once in some hundred jobs, is of no flow.
        """
        given = {*self.states, *(root for root, _ in self.slips.values())}
        return tuple(root for root in self.world.left() if root in given)

    def show(self, asked: Sequence[Entry], signs: Iterable[str]) -> tuple[Entry, ...]:
        """Do what is asked for, and return it with what was seen."""
        return tuple(self._show(entry, tuple(signs)) for entry in asked)

    def _show(self, entry: Entry, signs: tuple[str, ...]) -> Entry:
        self._names += 1
        entry = replace(entry, id=f"seen_{self._names}")
        match entry:
            case Run():
                shown = self.world.run(replace(entry, seen=Seen()), signs)
                return replace(entry, seen=shown.seen.as_seen(shown.used))
            case Inspect():
                return replace(entry, seen=self.world.look(entry))
            case Measure():
                point = BOOK.measurements[entry.what.partition(".")[0]]
                value, _ = number_shown(point, self.world.number(entry), slips=False, rng=self.rng)
                return replace(entry, value=value)
            case _:
                self.world.do(entry)
                if isinstance(entry, RepairDone) and entry.do in self._slips:
                    root, state = self._slips.pop(entry.do)
                    self.world.states[root] = state
                return entry
