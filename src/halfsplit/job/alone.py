"""What each check shows when one fault alone is there, worked out with the very parts that weigh a job.

A machine that has every kind of part stands on the bench, with one pattern of one fault and nothing else wrong, and
each check of the book is done to it.  What eyes can tell is told apart and no more: below the first picture a run
that does not start, and one that starts and gets no further, are all that can be known of the ladder.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from halfsplit.errors import Mistake
from halfsplit.job.acts import ActsMaker
from halfsplit.job.asked import PICTURE, STOP, entries_of
from halfsplit.job.changes import Moment
from halfsplit.job.conditions import FactsMaker
from halfsplit.job.effects import Effects
from halfsplit.job.eyes import Eyes
from halfsplit.job.findings import STATES
from halfsplit.job.looks import LookMaker
from halfsplit.job.moments import walk_log
from halfsplit.job.pictures import STAGES, picture
from halfsplit.job.readings import ReadingMaker, Weighing
from halfsplit.job.reports import UNTOLD_MINUTES
from halfsplit.job.roots import Plan, plan_roots
from halfsplit.job.strengths import Words
from halfsplit.job.units import gatherer_of
from halfsplit.model.arrays import Floats, Ints
from halfsplit.model.bench import Check
from halfsplit.model.book import Book
from halfsplit.model.evidence import NOTHING, Acts, Effect
from halfsplit.model.job import Inspect, Job, Measure, OwnedPart, Run
from halfsplit.model.machine import Conditions

ENDING = "ending"
"""The feature of a run that says how it ended."""

YES, NO = "yes", "no"
INSIDE = "inside"

Result = tuple[str, ...]
"""One value for each feature of a reading."""


@dataclass(frozen=True)
class Alone:
    """One pattern of one fault, alone in a machine; ``share`` is its share among the fault's patterns."""

    fault: str
    pattern: str
    share: float


@dataclass(frozen=True)
class Showing:
    """One reading that a check asks for, with the chance of each result.

    Args:
        check: the check.
        what: ``run``, or the id of an inspection or measurement.
        features: what it tells: ``ending``, signs and pictures; or the inspection or measurement itself.
        results: each result as one value for each feature.
        p: shape (K different rows, O results), each adds up to 1.
        row: shape (patterns,): which row of ``p`` is of which pattern; the last one is of a sound machine.
    """

    check: str
    what: str
    features: tuple[str, ...]
    results: tuple[Result, ...]
    p: Floats
    row: Ints

    @property
    def tells_something(self) -> bool:
        """Whether any pattern shows otherwise in it than a sound machine does."""
        return bool(np.abs(self.p - self.p[self.row[-1]]).max() > _ROUNDING)


@dataclass(frozen=True)
class Shown:
    """All that the checks of a book show: one row for each pattern, and every reading."""

    alone: tuple[Alone, ...]
    showings: tuple[Showing, ...]
    mistakes: tuple[tuple[str, Mistake], ...]
    """Checks that cannot be done as they are written, each with what is wrong."""


def show_alone(book: Book) -> Shown:
    """Return what each check of a book shows for each pattern of each fault, alone.

    Args:
        book: the fault book.

    Returns:
        The patterns, and the readings.  A fault of a part that there may be several of is at the first of them.

    Notes:
        It takes some seconds for 200 faults and 100 checks.
    """
    return _Bench(book).shown()


class _Bench:
    """All that is shared by the checks of one book."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.job = Job(parts=tuple(OwnedPart(slot) for slot in _every_part(book)))
        self.gatherer = gatherer_of(book)
        course = walk_log(self.job, (), book, self.gatherer, [])
        plans: dict[str, Plan] = {}
        for plan in plan_roots(book, course, self.gatherer, {}):
            if plan.fault is not None and plan.at_intake:
                plans.setdefault(plan.fault.id, plan)
        self.plans = tuple(plans.values())
        words = Words(book)
        self.effects = Effects(book)
        self.acts = ActsMaker(self.effects, words)
        self.facts = FactsMaker(book)
        self.looks = LookMaker(self.effects, self.acts, words)
        self.readings = ReadingMaker(self.effects)

    def shown(self) -> Shown:
        """Return the whole."""
        alone = [
            Alone(plan.id.partition("@")[0], state.name, state.share) for plan in self.plans for state in plan.states
        ]
        showings: list[Showing] = []
        mistakes: list[tuple[str, Mistake]] = []
        for check in self.book.checks.values():
            wrong: list[Mistake] = []
            course = walk_log(self.job, entries_of(check, self.book), self.book, self.gatherer, wrong)
            mistakes += [(check.id, mistake) for mistake in wrong]
            for moment in course.moments:
                match moment.entry:
                    case Run():
                        showings.append(self._run(check, moment, moment.entry))
                    case Inspect() if moment.looked_at:
                        showings.append(self._look(check, moment, moment.entry))
                    case Measure() if moment.looked_at:
                        showings.append(self._number(check, moment, moment.entry))
                    case _:
                        pass
        return Shown(tuple(alone), tuple(showings), tuple(mistakes))

    def _run(self, check: Check, moment: Moment, run: Run) -> Showing:
        facts = self.facts.facts(
            moment.together, run.conditions, lead_out=moment.lead_out, first_after=moment.first_after
        )
        used = moment.together.used
        asks = [word for word in check.asks if word in self.book.signs]
        if any(word.partition(".")[0] in (PICTURE, STOP) for word in check.asks):
            asks += [picture(output, stage) for output in used for stage in STAGES]
        reading = self.readings.reading(run.id, moment.time, facts, Weighing({}, dict.fromkeys(asks, (1.0, 0.0))))
        minutes = UNTOLD_MINUTES if run.conditions.minutes is None else run.conditions.minutes
        eyes = Eyes(self.effects, asks, minutes)
        known: dict[Effect, Result] = {}

        def result(total: Effect) -> Result:
            if total not in known:
                visible = [sign.is_visible(total) for sign in reading.signs]
                known[total] = (eyes.seen(total.stop, visible).ending.line, *(YES if was else NO for was in visible))
            return known[total]

        def results(acts: Acts | None) -> dict[Result, float]:
            found: dict[Result, float] = {}
            for p_own, own in _draws(acts):
                for p, base in reading.base:
                    seen = result(base | own)
                    found[seen] = found.get(seen, 0.0) + p * p_own
            return found

        at_work = moment.together.at_work(self.book.loads[run.conditions.load].rests)
        rows = [self.acts.in_run(plan, facts, at_work) for plan in self.plans]
        return self._showing(check, run.id, (ENDING, *asks), rows, results)

    def _look(self, check: Check, moment: Moment, look: Inspect) -> Showing:
        words = self.book.inspections[look.what].seen
        weights: dict[str, Mapping[int, Floats | float]] = {}
        for word in words:
            reading = self.looks.look_reading([replace(moment, entry=replace(look, seen=word))])
            if reading is not None:
                weights[word] = reading.stop_weights

        def results(acts: Acts | None) -> dict[Result, float]:
            draws = _draws(acts)
            return {
                (word,): sum(p * float(weight.get(effect.stop, 0.0)) for p, effect in draws)
                for word, weight in weights.items()
            }

        rows = [self.looks.look_acts(plan, moment, look.what) for plan in self.plans]
        return self._showing(check, look.what, (look.what,), rows, results)

    def _number(self, check: Check, moment: Moment, entry: Measure) -> Showing:
        facts = self.facts.facts(moment.together, Conditions(load=entry.load))

        def results(acts: Acts | None) -> dict[Result, float]:
            found: dict[Result, float] = {}
            for p, effect in _draws(acts):
                state = STATES[effect.stop] if effect.stop < len(STATES) else INSIDE
                found[state,] = found.get((state,), 0.0) + p
            return found

        rows = [self.looks.number_acts(plan, moment, entry.what, facts) for plan in self.plans]
        return self._showing(check, entry.what, (entry.what,), rows, results)

    def _showing(
        self,
        check: Check,
        what: str,
        features: tuple[str, ...],
        rows: Sequence[Sequence[Acts | None] | None],
        results: Callable[[Acts | None], dict[Result, float]],
    ) -> Showing:
        """Return a showing; patterns that do the same have one row."""
        numbers: dict[int, int] = {}
        found: list[dict[Result, float]] = []
        kept: list[Acts] = []  # so that no id is given twice
        row: list[int] = []

        def number_of(acts: Acts | None) -> int:
            key = id(acts) if acts is not None else 0
            if key not in numbers:
                numbers[key] = len(found)
                found.append(results(acts))
                if acts is not None:
                    kept.append(acts)
            return numbers[key]

        for plan, acts in zip(self.plans, rows, strict=True):
            row += [number_of(None if acts is None else acts[n]) for n in range(1, len(plan.states) + 1)]
        row.append(number_of(None))
        every = tuple(dict.fromkeys(result for each in found for result in each))
        p = np.array([[each.get(result, 0.0) for result in every] for each in found])
        return Showing(check.id, what, features, every, p / p.sum(axis=1, keepdims=True), np.array(row, dtype=np.int64))


def _every_part(book: Book) -> Iterable[str]:
    for kind in book.kinds.values():
        many = max(1, kind.default)
        yield from [f"{kind.id}.{number}" for number in range(1, many + 1)] if kind.many else [kind.id]


def _draws(acts: Acts | None) -> list[tuple[float, Effect]]:
    """Return what acts may do, with the rest that does nothing."""
    if acts is None:
        return [(1.0, NOTHING)]
    rest = 1.0 - sum(p for p, _ in acts.outcomes)
    return [*acts.outcomes, (rest, NOTHING)] if rest > _ROUNDING else list(acts.outcomes)


_ROUNDING = 1e-12  # shares that add up to 1 within this leave nothing over
