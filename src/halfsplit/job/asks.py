"""What a check asks: its readings, each with the view that tells what it may come to, made ready once.

It hangs on the state of the bench and on the roots of the job, and on no suspicion: but for the signs of a run that are
told apart, where it asks for many.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from halfsplit.job.act_tables import ActTable, EffectNumbers
from halfsplit.job.cells import Cells, Placed, Present
from halfsplit.job.changes import Moment
from halfsplit.job.conditions import FactsMaker, RunFacts
from halfsplit.job.doings import ByPlan, Doings, Key, composed
from halfsplit.job.effects import Effects
from halfsplit.job.eyes import Eyes
from halfsplit.job.findings import INSIDE, STATES
from halfsplit.job.looks import LookMaker
from halfsplit.job.pictures import STAGES, picture
from halfsplit.job.plans import Plans
from halfsplit.job.readings import ReadingMaker, Weighing
from halfsplit.job.reports import UNTOLD_MINUTES
from halfsplit.job.run_views import RunView
from halfsplit.job.scale_views import ScaleView
from halfsplit.job.work import Work
from halfsplit.job.wrong_taps import P_MISNOTED
from halfsplit.model.arrays import Floats
from halfsplit.model.book import Book
from halfsplit.model.job import Inspect, Measure, Run
from halfsplit.model.ladder import NO_STOP
from halfsplit.model.machine import Conditions

MOST_SIGNS = 6
"""Signs of one run that are told apart; the run itself tells how it ended."""

MOST_MOVED = 64
"""Tables of what plans do after work that are kept."""


@dataclass(frozen=True)
class AskedRun:
    """A run that a check asks for.

    Args:
        entry: the run, with no result yet.
        moment: when it is.
        facts: in which conditions it is.
        signs: the signs that the check asks for.
        key: what decides what plans do in it.
        acts: what plans do in it.
        keys: what decides what the work before it does.
        changes: what the work before it does to plans.
        work: the same for the roots of the job.
    """

    entry: Run
    moment: Moment
    facts: RunFacts
    signs: tuple[str, ...]
    key: Key
    acts: ActTable
    keys: tuple[Key, ...]
    changes: tuple[ByPlan[Floats], ...]
    work: Work


@dataclass(frozen=True)
class AskedScale:
    """A look or a number that a check asks for.

    Args:
        entry: the entry, with no result yet.
        view: what it may come to.
        acts: what plans show or do there.
        changes: what the work before it does to plans.
    """

    entry: Inspect | Measure
    view: ScaleView
    acts: ActTable
    changes: tuple[ByPlan[Floats], ...]


@dataclass(frozen=True)
class Asks:
    """What a check asks.

    Args:
        readings: in the order in which they are made; the entries between them show nothing.
        work: what all the work of the check does to the roots of the job.
    """

    readings: tuple[AskedRun | AskedScale, ...]
    work: Work

    @property
    def run(self) -> AskedRun | None:
        """The last run among them."""
        return next((each for each in reversed(self.readings) if isinstance(each, AskedRun)), None)

    @property
    def powers(self) -> bool:
        """Whether the machine is powered up for them."""
        return any(isinstance(each.entry, Run | Measure) for each in self.readings)


class AskMaker:
    """Makes what checks ask, and the views of it.

    Args:
        book: the fault book.
        doings: what plans do.
        cells: the cells of all plans.
        numbers: the numbers of effects.
        effects: the book's effects.
        facts: makes the conditions of runs.
        looks: makes the weights of looks.
        readings: makes the readings of runs.
    """

    def __init__(
        self,
        book: Book,
        doings: Doings,
        cells: Cells,
        numbers: EffectNumbers,
        effects: Effects,
        facts: FactsMaker,
        looks: LookMaker,
        readings: ReadingMaker,
    ) -> None:
        self._book = book
        self._doings = doings
        self._cells = cells
        self._numbers = numbers
        self._effects = effects
        self._facts = facts
        self._looks = looks
        self._readings = readings
        self._eyes: dict[tuple[tuple[str, ...], float], Eyes] = {}
        self._moved: dict[Key, tuple[ActTable, ActTable]] = {}
        self.runs: dict[Key, RunView] = {}
        self.scales: dict[Key, ScaleView] = {}

    def asks(self, signs: Sequence[str], steps: Sequence[Moment], plans: Plans, placed: Placed) -> Asks:
        """Return what the steps of a check ask.

        Args:
            signs: what is asked for of a run.
            steps: the moments of its entries.
            plans: the plans of the job.
            placed: where its roots have their cells.
        """
        keys: list[Key] = []
        changes: list[ByPlan[Floats]] = []
        readings: list[AskedRun | AskedScale] = []
        known = tuple(sign for sign in signs if sign in self._book.signs)
        for moment in steps:
            for change in moment.changes:
                key, moves = self._doings.moves(plans, change, moment.together)
                keys.append(key)
                changes.append(moves)
            so_far, before = tuple(keys), tuple(changes)
            match moment.entry:
                case Run():
                    said = moment.entry.conditions
                    facts = self._facts.facts(
                        moment.together, said, lead_out=moment.lead_out, first_after=moment.first_after
                    )
                    key, acts = self._doings.in_run(plans, facts, moment.together, said.load)
                    work = self._doings.work(plans, placed.roots, so_far, changes)
                    readings.append(AskedRun(moment.entry, moment, facts, known, key, acts, so_far, before, work))
                case Inspect():
                    readings.append(self._look(moment, moment.entry, plans, so_far, before))
                case Measure():
                    readings.append(self._number(moment, moment.entry, plans, so_far, before))
                case _:
                    pass
        return Asks(tuple(readings), self._doings.work(plans, placed.roots, tuple(keys), changes))

    def run_view(self, asked: AskedRun, present: Present) -> RunView:
        """Return what a run may come to, of the signs that tell most now."""
        moment, minutes = asked.moment, asked.entry.conditions.minutes
        asks = self._telling(asked.signs, asked.acts, present)
        if "monitor" in moment.together.has:  # whoever watches a run sees the monitor
            asks += [picture(output, stage) for output in moment.together.used for stage in STAGES]
        watched = UNTOLD_MINUTES if minutes is None else minutes
        key = (asked.key, asked.keys, tuple(asks), watched)
        if key not in self.runs:
            weighing = Weighing({}, dict.fromkeys(asks, (1.0, 0.0)))
            reading = self._readings.reading(asked.entry.id, moment.time, asked.facts, weighing)
            eyes = self._eyes_for(tuple(asks), watched)
            self.runs[key] = RunView(self._cells, self._numbers, reading.base, reading.signs, eyes)
        view = self.runs[key]
        view.place(asked.acts, lambda: self._moved_by_work(asked), present.placed)
        return view

    def scale_view(self, asked: AskedScale, present: Present) -> ScaleView:
        """Return what a look or a number may come to."""
        asked.view.place(asked.acts, lambda: asked.acts.moved(composed(asked.changes), self._cells), present.placed)
        return asked.view

    def _moved_by_work(self, asked: AskedRun) -> ActTable:
        """Return what plans do in a run after the work before it; runs of one setup mostly come one after another."""
        key = (id(asked.acts), asked.keys)
        if key not in self._moved:
            if len(self._moved) >= MOST_MOVED:
                del self._moved[next(iter(self._moved))]
            self._moved[key] = (asked.acts, asked.acts.moved(composed(asked.changes), self._cells))
        return self._moved[key][1]

    def _telling(self, signs: Sequence[str], acts: ActTable, present: Present) -> list[str]:
        """Return the signs that tell most now: those that the likely faults show or hide most often."""
        if len(signs) <= MOST_SIGNS:
            return list(signs)
        _, shown, hidden = self._numbers.tables()
        mass = np.bincount(acts.effect, acts.p * present.p_cell_of(acts.cell), len(shown))
        bits = [self._effects.bit[sign] for sign in signs]
        of_sign = dict(zip(signs, mass @ ((shown | hidden)[:, bits] > 0), strict=True))
        best = sorted(signs, key=lambda sign: -of_sign[sign])[:MOST_SIGNS]
        return [sign for sign in signs if sign in best]

    def _eyes_for(self, asks: tuple[str, ...], minutes: float) -> Eyes:
        """Return what turns runs into what is seen of them; one object for the same signs and minutes."""
        key = (asks, minutes)
        if key not in self._eyes:
            self._eyes[key] = Eyes(self._effects, asks, minutes)
        return self._eyes[key]

    def _look(
        self,
        moment: Moment,
        look: Inspect,
        plans: Plans,
        keys: tuple[Key, ...],
        changes: tuple[ByPlan[Floats], ...],
    ) -> AskedScale:
        what = look.what.partition(".")[0]
        key, acts = self._doings.in_look(plans, moment, what)
        whole_key = ("look", key, look.tool, keys)
        if whole_key not in self.scales:
            words = self._book.inspections[what].seen
            weights = []
            for word in words:
                reading = self._looks.look_reading([replace(moment, entry=replace(look, seen=word))])
                weights.append({} if reading is None else dict(reading.stop_weights))
            levels = [*sorted({stop for each in weights for stop in each} - {NO_STOP}), NO_STOP]
            says = np.array([[float(each.get(level, 0.0)) for each in weights] for level in levels])
            says /= says.sum(axis=1, keepdims=True)
            self.scales[whole_key] = ScaleView(self._cells, self._numbers, words, says)
        return AskedScale(look, self.scales[whole_key], acts, changes)

    def _number(
        self,
        moment: Moment,
        entry: Measure,
        plans: Plans,
        keys: tuple[Key, ...],
        changes: tuple[ByPlan[Floats], ...],
    ) -> AskedScale:
        what = entry.what.partition(".")[0]
        facts = self._facts.facts(moment.together, Conditions(load=entry.load))
        key, acts = self._doings.of_number(plans, moment, what, facts)
        whole_key = ("number", key, keys)
        if whole_key not in self.scales:
            says = np.eye(len(STATES) + 1) * (1.0 - P_MISNOTED)
            says[:, -1] += P_MISNOTED
            self.scales[whole_key] = ScaleView(self._cells, self._numbers, (*STATES, INSIDE), says)
        return AskedScale(entry, self.scales[whole_key], acts, changes)
