"""What one advice worked out that the next one can use: by content, so that it holds for any job of the same book.

A new reading changes how likely things are, and seldom what a check does.  What roots do in one run, what one change
does to them, and what each set of acts comes to are therefore kept by what decides them.
"""

from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Generic, TypeVar

from halfsplit.job.act_tables import ActTable, ActTableMaker, EffectNumbers
from halfsplit.job.acts import ActsMaker, StateActs
from halfsplit.job.cells import Cells, Placed, Roots
from halfsplit.job.changes import Change, Course, LeadOut, Moment, Opened, Powered, Repaired
from halfsplit.job.conditions import FactsMaker, RunFacts
from halfsplit.job.effects import Effects
from halfsplit.job.eyes import Eyes
from halfsplit.job.looks import LookMaker
from halfsplit.job.moments import Walker
from halfsplit.job.moves import MoveMaker
from halfsplit.job.readings import ReadingMaker
from halfsplit.job.roots import Plan, plan_roots
from halfsplit.job.scales import ScaleMaker
from halfsplit.job.strengths import Words
from halfsplit.job.units import OWNER, Together, gatherer_of
from halfsplit.job.views import RunView, ScaleView
from halfsplit.job.walks import Walks
from halfsplit.job.work import Work, work_of
from halfsplit.model.book import Book
from halfsplit.model.evidence import Evidence, Floats
from halfsplit.model.machine import Standing

MOST_KEPT = 6_000
"""Views that are kept, some 200 for each state of a bench; beyond them all is forgotten."""

MOST_STATES_OF_BENCH = 8
"""States of a bench of which the walks are kept: as a rule a closed and an opened machine of a few jobs."""

T = TypeVar("T")
Key = tuple[Hashable, ...]
ByPlan = Mapping[int, tuple[Plan, T]]


class _Found(Generic[T]):
    """What was found for each plan, by the plan's identity, and for which plans it was looked for."""

    def __init__(self) -> None:
        self.token: object = None
        self.asked: set[int] = set()
        self.found: dict[int, tuple[Plan, T]] = {}
        self.table: ActTable | None = None


class Kept:
    """What is kept from one advice to the next.

    Args:
        book: the fault book.
    """

    def __init__(self, book: Book) -> None:
        self.book = book
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
        self._tables = ActTableMaker(self.cells, self.numbers)
        self._plans: dict[Key, Plan] = {}
        self._plan_sets: dict[Key, tuple[Plan, ...]] = {}
        self._looked_for: dict[int, frozenset[str]] = {}
        self._in_run: dict[Key, _Found[StateActs]] = {}
        self._in_look: dict[Key, _Found[StateActs]] = {}
        self._of_number: dict[Key, _Found[StateActs]] = {}
        self._moves: dict[Key, _Found[Floats]] = {}
        self._last_mover: tuple[Key, MoveMaker] | None = None
        self._roots: dict[Key, Roots] = {}
        self._placed: dict[tuple[int, int], tuple[Sequence[Plan], Placed]] = {}
        self._eyes: dict[tuple[tuple[str, ...], float], Eyes] = {}
        self._work: dict[Key, Work] = {}
        self._walks: dict[Hashable, Walks] = {}
        self.runs: dict[Key, RunView] = {}
        self.scales: dict[Key, ScaleView] = {}

    def make_room(self) -> None:
        """Forget all where there is too much of it."""
        if len(self.runs) + len(self.scales) > MOST_KEPT:
            self.__init__(self.book)  # type: ignore[misc]

    def roots(self, evidence: Evidence) -> Roots:
        """Return the roots of the evidence; one object for equal ones."""
        key = tuple((root.id, root.states) for root in evidence.roots)
        return self._roots.setdefault(key, Roots(evidence))

    def eyes(self, asks: tuple[str, ...], minutes: float) -> Eyes:
        """Return what turns runs into what is seen of them; one object for the same signs and minutes."""
        key = (asks, minutes)
        if key not in self._eyes:
            self._eyes[key] = Eyes(self.effects, asks, minutes)
        return self._eyes[key]

    def walks(self, walker: Walker, facts: Mapping[str, object]) -> Walks:
        """Return what can come next from a state of the bench; one object for the same state and facts."""
        key = (walker.state(), repr(sorted(facts.items())))
        walks = self._walks.pop(key, None) or Walks(walker, self.book, facts)
        self._walks[key] = walks  # the last one used is the last to be forgotten
        if len(self._walks) > MOST_STATES_OF_BENCH:
            del self._walks[next(iter(self._walks))]
        return walks

    def placed(self, plans: Sequence[Plan], roots: Roots) -> Placed:
        """Return where the roots of a job have their cells; one object for the same plans and roots."""
        key = (id(plans), id(roots))
        if key not in self._placed:
            self._placed[key] = (plans, self.cells.place(plans, roots))
        return self._placed[key][1]

    def plans(self, course: Course, facts: Mapping[str, object], shelf: Mapping[str, Standing]) -> tuple[Plan, ...]:
        """Return the roots of a course; equal ones are one object, and so are equal tuples of them."""
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
            plans = plan_roots(self.book, course, self.gatherer, facts, shelf)
            found = tuple(self._plan(plan) for plan in plans)
            self._plan_sets[key] = self._plan_sets.setdefault(tuple(map(id, found)), found)
        return self._plan_sets[key]

    def _plan(self, plan: Plan) -> Plan:
        states = tuple((state.name, state.fault, state.share, frozenset(state.at)) for state in plan.states)
        places = frozenset(plan.footholds.items())
        key = (plan.id, states, places, plan.p, plan.at_intake, plan.needs_all)
        known = self._plans.setdefault(key, plan)
        if known is plan:
            self.cells.add(plan)
        if id(known) not in self._looked_for:
            self._looked_for[id(known)] = frozenset(
                [look.inspection for pattern in known.patterns for look in pattern.looks]
                + [read.measurement for pattern in known.patterns for read in pattern.reads]
            )
        return known

    def in_run(self, plans: Sequence[Plan], facts: RunFacts, together: Together, load: str) -> tuple[Key, ActTable]:
        """Return what roots do in a run, with the key of it."""
        key = (id(facts), id(together), load)
        at_work = together.at_work(self.book.loads[load].rests)
        return key, self._acting(self._in_run, key, plans, lambda plan: self.acts.in_run(plan, facts, at_work))

    def in_look(self, plans: Sequence[Plan], moment: Moment, what: str) -> tuple[Key, ActTable]:
        """Return what roots show to a look, with the key of it."""
        key = (what, moment.looked_at)

        def acts(plan: Plan) -> StateActs | None:
            return self.looks.look_acts(plan, moment, what) if what in self._looked_for[id(plan)] else None

        return key, self._acting(self._in_look, key, plans, acts)

    def of_number(self, plans: Sequence[Plan], moment: Moment, what: str, facts: RunFacts) -> tuple[Key, ActTable]:
        """Return where roots put a number, with the key of it."""
        key = (what, id(facts), id(moment.together), moment.looked_at)
        has_rail = bool(self.book.measurements[what].rail)

        def acts(plan: Plan) -> StateActs | None:
            if not has_rail and what not in self._looked_for[id(plan)]:
                return None
            return self.looks.number_acts(plan, moment, what, facts)

        return key, self._acting(self._of_number, key, plans, acts)

    def moves(self, plans: Sequence[Plan], change: Change, together: Together) -> tuple[Key, ByPlan[Floats]]:
        """Return the matrices of all roots that one change moves, with the key of it."""
        key = _key_of(change)
        entry = self._moves.setdefault(key, _Found())
        if entry.token is not plans:
            new = [plan for plan in plans if id(plan) not in entry.asked]
            if new:
                moved = self._mover(new).moves([Moment(0, None, together, (change,))], frozenset())
                by_id = {plan.id: plan for plan in new}
                entry.found |= {id(by_id[name]): (by_id[name], moves[0].matrix) for name, moves in moved.items()}
                entry.asked |= {id(plan) for plan in new}
            entry.token = plans
        return key, entry.found

    def work(
        self, plans: Sequence[Plan], roots: Roots, keys: tuple[Key, ...], changes: Sequence[ByPlan[Floats]]
    ) -> Work:
        """Return what changes do one after another to the roots of a job; ``keys`` are those of the changes."""
        key = (id(plans), id(roots), keys)
        if key not in self._work:
            self._work[key] = work_of(composed(changes), plans, roots)
        return self._work[key]

    def _mover(self, plans: Sequence[Plan]) -> MoveMaker:
        key = tuple(map(id, plans))
        if self._last_mover is None or self._last_mover[0] != key:
            self._last_mover = (key, MoveMaker(self.book, plans))
        return self._last_mover[1]

    def _acting(
        self,
        kept: dict[Key, _Found[StateActs]],
        key: Key,
        plans: Sequence[Plan],
        make: Callable[[Plan], StateActs | None],
    ) -> ActTable:
        """Return what plans do, and those that were asked before; one object as long as it stays the same."""
        entry = kept.setdefault(key, _Found())
        if entry.token is not plans:
            before = len(entry.found)
            for plan in plans:
                if id(plan) not in entry.asked:
                    entry.asked.add(id(plan))
                    value = make(plan)
                    if value is not None:
                        entry.found[id(plan)] = (plan, value)
            entry.token = plans
            if entry.table is None or len(entry.found) > before:
                entry.table = self._tables.table(entry.found)
        assert entry.table is not None
        return entry.table


def _key_of(change: Change) -> Key:
    """Return what decides what a change does; what is together is one object for equal setups."""
    match change:
        case Opened():
            return ("opened", change.openings, change.reaches, change.at, change.number)
        case LeadOut():
            return ("lead_out", id(change.before))
        case Powered():
            return ("powered", id(change.together), change.times)
        case Repaired():
            return ("repaired", change.repair.id, change.number, id(change.before), change.taken_out)
        case _:
            return ("mated", change)


def composed(changes: Sequence[ByPlan[Floats]]) -> dict[int, Floats]:
    """Return what changes one after another do to each root that they move."""
    found: dict[int, Floats] = {}
    for change in changes:
        for name, (_, matrix) in change.items():
            found[name] = found[name] @ matrix if name in found else matrix
    return found
