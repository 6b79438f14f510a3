"""What one advice worked out that the next one can use: by content, so that it holds for any job of the same book.

A new reading changes how likely things are, and seldom what a check does.  What roots do in one run, what one change
does to them, and what each set of acts comes to are therefore kept by what decides them.
"""

from collections.abc import Callable, Hashable, Mapping

from halfsplit.job.act_tables import EffectNumbers
from halfsplit.job.acts import ActsMaker
from halfsplit.job.asks import AskMaker
from halfsplit.job.cells import Cells, Placed, Roots
from halfsplit.job.changes import Course, Powered
from halfsplit.job.conditions import FactsMaker
from halfsplit.job.doings import Doings, Key
from halfsplit.job.effects import Effects
from halfsplit.job.looks import LookMaker
from halfsplit.job.moments import Walker
from halfsplit.job.plans import Plans
from halfsplit.job.readings import ReadingMaker
from halfsplit.job.roots import Plan, plan_roots
from halfsplit.job.scales import ScaleMaker
from halfsplit.job.strengths import Words
from halfsplit.job.trail import Trail, trail_of
from halfsplit.job.units import OWNER, gatherer_of
from halfsplit.job.walks import Walks
from halfsplit.model.book import Book
from halfsplit.model.evidence import Evidence
from halfsplit.model.job import Entry, Job
from halfsplit.model.machine import Standing

MOST_KEPT = 6_000
"""Views that are kept, some 200 for each state of a bench; beyond them all is forgotten."""

MOST_STATES_OF_BENCH = 8
"""States of a bench of which the walks are kept: as a rule a closed and an opened machine of a few jobs."""


def go_on() -> None:
    """Make no pause."""


class Kept:
    """What is kept from one advice to the next.

    Args:
        book: the fault book.
        pause: called between the parts of an advice; what it raises ends the advice there, and what is kept is sound.
    """

    def __init__(self, book: Book, pause: Callable[[], None] = go_on) -> None:
        self.book = book
        self.pause = pause
        self.gatherer = gatherer_of(book)
        self.effects = Effects(book)
        self.words = Words(book)
        self.acts = ActsMaker(self.effects, self.words)
        self.facts = FactsMaker(book)
        self.looks = LookMaker(self.effects, self.acts, self.words)
        self.readings = ReadingMaker(self.effects)
        self.scale_maker = ScaleMaker(self.effects)
        self.cells = Cells()
        self.numbers = EffectNumbers(len(self.effects.bit))
        self.doings = Doings(book, self.cells, self.numbers, self.acts, self.looks)
        self.asks = AskMaker(
            book, self.doings, self.cells, self.numbers, self.effects, self.facts, self.looks, self.readings
        )
        self._plans: dict[Key, Plan] = {}
        self._plan_sets: dict[Key, Plans] = {}
        self._roots: dict[Key, Roots] = {}
        self._placed: dict[tuple[int, int], tuple[Plans, Placed]] = {}
        self._walks: dict[Hashable, Walks] = {}
        self._trail: Trail | None = None
        self._asked: dict[str, dict[str, tuple[Entry, ...]]] = {}

    def make_room(self) -> None:
        """Forget all where there is too much of it."""
        if len(self.asks.runs) + len(self.asks.scales) > MOST_KEPT:
            self.__init__(self.book, self.pause)  # type: ignore[misc]

    def trail(self, job: Job) -> Trail:
        """Return a job with its log walked; of the job that was walked last only what was put on its log since.

        Raises:
            ModelError: see ``fold_job``.
        """
        last = self._trail
        self._trail = trail_of(job, self.book, self.gatherer) if last is None else last.further(job)
        return self._trail

    def roots(self, evidence: Evidence) -> Roots:
        """Return the roots of the evidence; one object for equal ones."""
        key = tuple((root.id, root.states) for root in evidence.roots)
        return self._roots.setdefault(key, Roots(evidence))

    def walks(self, walker: Walker, facts: Mapping[str, object]) -> Walks:
        """Return what can come next from a state of the bench; one object for the same state and facts."""
        known = repr(sorted(facts.items()))
        key = (walker.state(), known)
        walks = self._walks.pop(key, None)
        if walks is None:
            walks = Walks(walker, self.book, facts, self._asked.setdefault(known, {}))
        self._walks[key] = walks  # the last one used is the last to be forgotten
        if len(self._walks) > MOST_STATES_OF_BENCH:
            del self._walks[next(iter(self._walks))]
        return walks

    def placed(self, plans: Plans, roots: Roots) -> Placed:
        """Return where the roots of a job have their cells; one object for the same plans and roots."""
        key = (id(plans), id(roots))
        if key not in self._placed:
            self._placed[key] = (plans, self.cells.place(plans, roots))
        return self._placed[key][1]

    def plans(self, course: Course, facts: Mapping[str, object], shelf: Mapping[str, Standing]) -> Plans:
        """Return the roots of a course; equal ones are one object, and so are all of equal courses."""
        moments = course.moments
        powered = {id(c.together) for moment in moments for c in moment.changes if isinstance(c, Powered)}
        key = (
            id(self.gatherer.together(course.intake[OWNER])),
            frozenset(id(moment.together) for moment in moments),
            frozenset(powered),
            repr(sorted(facts.items())),
            frozenset(shelf.items()),
        )
        if key not in self._plan_sets:
            found = Plans(map(self._plan, plan_roots(self.book, course, self.gatherer, facts, shelf)))
            self._plan_sets[key] = self._plan_sets.setdefault(tuple(map(id, found)), found)
        return self._plan_sets[key]

    def _plan(self, plan: Plan) -> Plan:
        states = tuple((state.name, state.fault, state.share, frozenset(state.at)) for state in plan.states)
        places = frozenset(plan.footholds.items())
        key = (plan.id, states, places, plan.p, plan.at_intake, plan.needs_all)
        known = self._plans.setdefault(key, plan)
        if known is plan:
            self.cells.add(plan)
        return known
