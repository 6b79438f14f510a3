"""What the owner says of runs at home: soft readings, all by one teller."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from halfsplit.job.complaints import CLASSES
from halfsplit.job.conditions import FactsMaker, RunFacts
from halfsplit.job.effects import Effects
from halfsplit.job.occurrence import SURENESS
from halfsplit.job.pictures import STAGES, picture
from halfsplit.job.readings import ReadingMaker, Weighing
from halfsplit.job.reports import Report, read_report, stops_between
from halfsplit.job.units import Together
from halfsplit.model.arrays import Floats
from halfsplit.model.book import Book
from halfsplit.model.evidence import Context, Reading
from halfsplit.model.job import Told
from halfsplit.model.ladder import NO_STOP
from halfsplit.model.machine import Conditions

TELLER = "teller"
"""The context of how far the teller's words go."""

COMPLAINT = "complaint"
"""The id of the reading of the complaint class alone."""

TOLD_ANYWAY = 0.2
"""How often owners tell of a stop, a picture or a sign's absence whatever is true (estimate)."""

COMPLAINED_ANYWAY = 0.1
"""How often an owner is put into a class of complaint whatever is true (estimate)."""


IN_USE_MINUTES = 120.0
"""How long a machine was in use when it misbehaved at home, in minutes (estimate)."""

MOST_SOFT_SIGNS = 7
"""Signs told of one run at home that are weighed together."""


@dataclass(frozen=True)
class HomeRun:
    """One reading of what runs at home showed, with the statements that it is of."""

    reading: Reading
    facts: RunFacts
    entries: tuple[str, ...]


def teller_context(book: Book) -> Context:
    """Return the levels of how far a teller's words go, with their shares."""
    total = sum(teller.share for teller in book.tellers)
    return Context(
        TELLER,
        tuple(teller.id for teller in book.tellers),
        tuple(teller.share / total for teller in book.tellers),
    )


class HomeReader:
    """Makes the readings of what was told.

    Args:
        effects: the bits and stops of the book.
        facts: makes the facts of runs.
        home: what was together at intake.
    """

    def __init__(self, effects: Effects, facts: FactsMaker, home: Together) -> None:
        self._effects = effects
        self._facts = facts
        self._home = home
        self._readings = ReadingMaker(effects)
        self._slip = np.array([teller.slip for teller in effects.book.tellers])

    def home_runs(self, told: Sequence[Told], complaint: str) -> tuple[HomeRun, ...]:
        """Return the readings of what was told of runs.

        Statements with the same conditions are of one run, or of two where the owner says that it is always
        so.  The complaint belongs to the run that was told of first.

        Args:
            told: the statements.
            complaint: the class of complaint, or "".
        """
        groups: dict[tuple[Conditions, bool], list[Told]] = {}
        for statement in told:
            if statement.seen is not None:
                key = (statement.conditions, bool(statement.always))
                groups.setdefault(key, []).append(statement)
        if complaint in CLASSES and not groups:
            groups[self._at_home(complaint), False] = []
        runs = []
        for number, ((conditions, always), group) in enumerate(groups.items()):
            facts = self._facts.facts(self._home, conditions)
            weights = _Weights(self._effects)
            for statement in group:
                weights.add(self._report(statement, facts), self._slip_of(statement), None)
            if number == 0 and complaint in CLASSES:
                weights.add(self._class_report(complaint, facts, group), self._slip, COMPLAINED_ANYWAY)
            name = group[0].id if group else COMPLAINT
            for part, weighing in enumerate(_in_parts(weights.weighing())):
                own = f"{name}:{part}" if part else name
                reading = self._readings.reading(own, 0, facts, weighing, count=2 if always else 1)
                runs.append(HomeRun(reading, facts, tuple(statement.id for statement in group)))
        return tuple(runs)

    def _at_home(self, complaint: str) -> Conditions:
        """Return the conditions of a class of complaint of which nothing else was told."""
        if not CLASSES[complaint].in_use:
            return Conditions()
        loads = self._effects.book.loads.values()
        heaviest = max(loads, key=lambda load: len(load.stresses), default=None)
        return Conditions(load="idle" if heaviest is None else heaviest.id, minutes=IN_USE_MINUTES)

    def _slip_of(self, statement: Told) -> Floats:
        return 1.0 - (1.0 - self._slip) * SURENESS.get(statement.sure, 1.0)

    def _report(self, statement: Told, facts: RunFacts) -> Report:
        if statement.seen is None:
            return Report({}, {})
        conditions = statement.conditions
        return read_report(
            statement.seen, facts.used, self._effects, minutes=conditions.minutes, stresses=facts.stresses
        )

    def _class_report(self, complaint: str, facts: RunFacts, group: Sequence[Told]) -> Report:
        """Return what a class of complaint says; what statements of the same run say goes before it."""
        shown = CLASSES[complaint]
        ladder = self._effects.ladder
        low = ladder.needs_stop(shown.reached) if shown.reached else 0
        high = ladder.needs_stop(shown.missed) if shown.missed else NO_STOP + 1
        weights = {stop: shown.stop for stop, _, _ in self._effects.stops}
        weights[NO_STOP] = 1.0 if group else shown.no_stop
        stops = weights | stops_between(self._effects, low, high)
        stages = ["self_test"] if shown.lit else STAGES
        is_seen = any(statement.seen is not None and statement.seen.picture for statement in group)
        tells_picture = not is_seen or not shown.in_use
        signs = {picture(output, stage): shown.lit for output in facts.used for stage in stages if tells_picture}
        return Report({stop: weight for stop, weight in stops.items() if weight < 1.0}, signs)


def _in_parts(weighing: Weighing) -> Iterable[Weighing]:
    """Yield what was told of one run in parts that the engine can hold: what was there first, then what was not.

    Each sign that is told softly doubles what has to be told apart.  What goes beyond ``MOST_SOFT_SIGNS`` is weighed
    as told of another such run, which is the same for all that shows in every run.
    """
    was_there = sorted(weighing.signs, key=lambda name: float(np.mean(weighing.signs[name][0])) < 0.5)
    chunks = [was_there[at : at + MOST_SOFT_SIGNS] for at in range(0, len(was_there), MOST_SOFT_SIGNS)] or [[]]
    for number, names in enumerate(chunks):
        signs = MappingProxyType({name: weighing.signs[name] for name in names})
        yield Weighing(weighing.stops if not number else {}, signs, weighing.given)


class _Weights:
    """Multiplies the clauses of several statements: (1 - slip) [fits] + slip x how often it is said anyway."""

    def __init__(self, effects: Effects) -> None:
        self._effects = effects
        self._stops: dict[int, Floats] = {}
        self._signs: dict[str, tuple[Floats | float, Floats | float]] = {}

    def add(self, report: Report, slip: Floats, anyway: float | None) -> None:
        """Add one statement; ``anyway`` is how often it is said whatever is true, None = as the book says."""
        if report.stops:
            missed = slip * (TOLD_ANYWAY if anyway is None else anyway)
            fits = 1.0 - slip + missed
            for stop in [*(stop for stop, _, _ in self._effects.stops), NO_STOP]:
                weight = report.stops.get(stop, 1.0)
                self._stops[stop] = self._stops.get(stop, 1.0) * (weight * fits + (1.0 - weight) * missed)
        for name, was in report.signs.items():
            missed = slip * (self._anyway(name, is_there=was) if anyway is None else anyway)
            fits = 1.0 - slip + missed
            visible, hidden = self._signs.get(name, (1.0, 1.0))
            self._signs[name] = (visible * (fits if was else missed), hidden * (missed if was else fits))

    def weighing(self) -> Weighing:
        """Return all of it."""
        return Weighing(self._stops, self._signs, (TELLER,))

    def _anyway(self, name: str, *, is_there: bool) -> float:
        signs = self._effects.book.signs
        return signs[name].told_anyway if is_there and name in signs else TOLD_ANYWAY
