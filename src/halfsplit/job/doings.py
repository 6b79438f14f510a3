"""What plans do in a run, show to a look, put a number to, and what changes do to them; kept by what decides it."""

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from typing import Generic, TypeVar

from halfsplit.job.act_tables import ActTable, ActTableMaker, EffectNumbers
from halfsplit.job.acts import ActsMaker, StateActs
from halfsplit.job.cells import Cells, Roots
from halfsplit.job.changes import Change, LeadOut, Moment, Opened, Powered, Repaired
from halfsplit.job.conditions import RunFacts
from halfsplit.job.looks import LookMaker
from halfsplit.job.moves import MoveMaker
from halfsplit.job.plans import Plans
from halfsplit.job.roots import Plan
from halfsplit.job.units import Together
from halfsplit.job.work import Work, work_of
from halfsplit.model.arrays import Floats
from halfsplit.model.book import Book

T = TypeVar("T")
Key = tuple[Hashable, ...]
ByPlan = Mapping[int, tuple[Plan, T]]


class _Found(Generic[T]):
    """What was found for each plan, by the plan's identity, and for which plans it was looked for."""

    def __init__(self) -> None:
        self.plans: Plans | None = None
        self.asked: frozenset[int] = frozenset()
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
        self._last_mover: tuple[Plans, MoveMaker] | None = None
        self._last_new: tuple[frozenset[int], Plans, Plans, frozenset[int]] | None = None
        self._work: dict[Key, Work] = {}

    def in_run(self, plans: Plans, facts: RunFacts, together: Together, load: str) -> tuple[Key, ActTable]:
        """Return what roots do in a run, with the key of it."""
        key = (id(facts), id(together), load)
        at_work = together.at_work(self._book.loads[load].rests)
        return key, self._acting(self._in_run, key, plans, lambda new: self._acts.in_runs(new.met(at_work), facts))

    def in_look(self, plans: Plans, moment: Moment, what: str) -> tuple[Key, ActTable]:
        """Return what roots show to a look, with the key of it."""
        key = (what, moment.looked_at)
        return key, self._acting(
            self._in_look,
            key,
            plans,
            lambda new: [(plan, self._looks.look_acts(plan, moment, what)) for plan in new.told_by(what)],
        )

    def of_number(self, plans: Plans, moment: Moment, what: str, facts: RunFacts) -> tuple[Key, ActTable]:
        """Return where roots put a number, with the key of it."""
        key = (what, id(facts), id(moment.together), moment.looked_at)
        here = moment.together.footholds | moment.looked_at
        return key, self._acting(
            self._of_number,
            key,
            plans,
            lambda new: [(plan, self._looks.number_acts(plan, moment, what, facts)) for plan in new.near(here)],
        )

    def moves(self, plans: Plans, change: Change, together: Together) -> tuple[Key, ByPlan[Floats]]:
        """Return the matrices of all roots that one change moves, with the key of it."""
        key = _key_of(change)
        entry = self._moves.setdefault(key, _Found())
        if entry.plans is not plans:
            new = self._new(entry, plans)
            if new:
                moved = self._mover(new).moves([Moment(0, None, together, (change,))], frozenset())
                mine = [(plans.by_id[name], moves[0].matrix) for name, moves in moved.items()]
                entry.found |= {id(plan): (plan, matrix) for plan, matrix in mine}
        return key, entry.found

    def work(self, plans: Plans, roots: Roots, keys: tuple[Key, ...], changes: Sequence[ByPlan[Floats]]) -> Work:
        """Return what changes do one after another to the roots of a job; ``keys`` are those of the changes."""
        key = (id(plans), id(roots), keys)
        if key not in self._work:
            self._work[key] = work_of(composed(changes), plans, roots)
        return self._work[key]

    def _mover(self, plans: Plans) -> MoveMaker:
        if self._last_mover is None or self._last_mover[0] is not plans:
            self._last_mover = (plans, MoveMaker(self._book, plans))
        return self._last_mover[1]

    def _new(self, entry: _Found[T], plans: Plans) -> Plans:
        """Return those of some plans that were not asked for yet, and note that all of them are now."""
        last = self._last_new
        if not entry.asked:
            new, asked = plans, plans.ids
        elif last is not None and last[0] is entry.asked and last[1] is plans:
            _, _, new, asked = last
        else:
            new = Plans(plan for plan in plans if id(plan) not in entry.asked)
            asked = entry.asked | plans.ids
            self._last_new = (entry.asked, plans, new, asked)
        entry.plans, entry.asked = plans, asked
        return new

    def _acting(
        self,
        kept: dict[Key, _Found[StateActs]],
        key: Key,
        plans: Plans,
        make: Callable[[Plans], Iterable[tuple[Plan, StateActs | None]]],
    ) -> ActTable:
        """Return what plans do, and those that were asked before; one object as long as it stays the same."""
        entry = kept.setdefault(key, _Found())
        if entry.plans is not plans:
            before = len(entry.found)
            made = make(self._new(entry, plans))
            entry.found |= {id(plan): (plan, acts) for plan, acts in made if acts is not None}
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
