"""What plans do in a run, show to a look, put a number to, and what changes do to them; kept by what decides it."""

from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Generic, TypeVar

from halfsplit.job.act_tables import ActTable, ActTableMaker, EffectNumbers
from halfsplit.job.acts import ActsMaker, StateActs
from halfsplit.job.cells import Cells, Roots
from halfsplit.job.changes import Change, LeadOut, Moment, Opened, Powered, Repaired
from halfsplit.job.conditions import RunFacts
from halfsplit.job.looks import LookMaker
from halfsplit.job.moves import MoveMaker
from halfsplit.job.roots import Plan
from halfsplit.job.units import Together
from halfsplit.job.work import Work, work_of
from halfsplit.model.book import Book
from halfsplit.model.evidence import Floats

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


class Doings:
    """What plans do.  A plan, and a tuple of them, is known by its identity: it must stay the same object.

    Args:
        book: the fault book.
        cells: the cells of all plans.
        numbers: the numbers of effects.
        acts: makes what plans do in runs.
        looks: makes what plans show to looks and put numbers to.
    """

    def __init__(self, book: Book, cells: Cells, numbers: EffectNumbers, acts: ActsMaker, looks: LookMaker) -> None:
        self._book = book
        self._acts = acts
        self._looks = looks
        self._tables = ActTableMaker(cells, numbers)
        self._in_run: dict[Key, _Found[StateActs]] = {}
        self._in_look: dict[Key, _Found[StateActs]] = {}
        self._of_number: dict[Key, _Found[StateActs]] = {}
        self._moves: dict[Key, _Found[Floats]] = {}
        self._last_mover: tuple[Key, MoveMaker] | None = None
        self._work: dict[Key, Work] = {}

    def in_run(self, plans: Sequence[Plan], facts: RunFacts, together: Together, load: str) -> tuple[Key, ActTable]:
        """Return what roots do in a run, with the key of it."""
        key = (id(facts), id(together), load)
        at_work = together.at_work(self._book.loads[load].rests)
        return key, self._acting(self._in_run, key, plans, lambda plan: self._acts.in_run(plan, facts, at_work))

    def in_look(self, plans: Sequence[Plan], moment: Moment, what: str) -> tuple[Key, ActTable]:
        """Return what roots show to a look, with the key of it."""
        key = (what, moment.looked_at)
        return key, self._acting(self._in_look, key, plans, lambda plan: self._looks.look_acts(plan, moment, what))

    def of_number(self, plans: Sequence[Plan], moment: Moment, what: str, facts: RunFacts) -> tuple[Key, ActTable]:
        """Return where roots put a number, with the key of it."""
        key = (what, id(facts), id(moment.together), moment.looked_at)
        return key, self._acting(
            self._of_number, key, plans, lambda plan: self._looks.number_acts(plan, moment, what, facts)
        )

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
            self._last_mover = (key, MoveMaker(self._book, plans))
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
