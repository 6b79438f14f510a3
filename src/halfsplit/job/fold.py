"""The fold: from a job and a book to the evidence that the engine weighs, with what is needed to show it."""

from collections.abc import Sequence
from types import MappingProxyType

from halfsplit.job.acts import StateActs
from halfsplit.job.changes import Moment
from halfsplit.job.conditions import RunFacts
from halfsplit.job.effects import BROUGHT_IN
from halfsplit.job.folded import Folded, RootNote
from halfsplit.job.kept import Kept
from halfsplit.job.lines import book_of, line_of, thing_of, title_of
from halfsplit.job.moves import MoveMaker
from halfsplit.job.occurrence import EventTold, event_contexts, events_told, start_of
from halfsplit.job.readings import weigh_report
from halfsplit.job.reports import passed_report, read_report
from halfsplit.job.roots import Plan
from halfsplit.job.told import HomeReader, teller_context
from halfsplit.job.trail import Trail
from halfsplit.job.units import OWNER, Foothold
from halfsplit.model.book import Book
from halfsplit.model.evidence import Context, Evidence, Move, Reading, Root, SignAsked
from halfsplit.model.job import Entry, Inspect, Job, Measure, Run
from halfsplit.model.ladder import NO_STOP
from halfsplit.model.machine import Conditions

MOST_JOINT = 12
"""Joint values of all contexts together; what is beyond is mixed into each root by itself."""

MOST_MACHINES = 0.5
"""A normal thing that more machines than this have is a property of them, and brings none of them in (estimate)."""


def fold_job(job: Job, book: Book, kept: Kept | None = None) -> Folded:
    """Fold a job into evidence.

    Args:
        job: the job.
        book: the fault book.
        kept: what folds and advices with this book worked out before; the fold is then faster, and no different.

    Returns:
        The evidence, and what is needed to show it.

    Raises:
        ModelError: everything in the job that cannot be folded, with the places of its entries: HS201 a
            correction of no entry, HS202 a word that the book does not have, HS203 a part that there is
            not, HS204 a run on an empty host, HS205 a look at nothing, HS206 a fact that makes no sense,
            HS207 a number that no instrument shows, HS208 a repair of one of several parts that does not
            say which.
    """
    kept = kept if kept is not None and kept.book is book else Kept(book)
    return _Fold(kept.trail(job), kept).folded()


class _Fold:
    """All that the fold of one job shares."""

    def __init__(self, trail: Trail, kept: Kept) -> None:
        self.job = trail.job
        self.book = trail.book
        self.told = trail.told
        self.course = trail.course
        self.spoken = book_of(trail.course, trail.book)
        self.facts = trail.facts
        self.gatherer = kept.gatherer
        self.plans = kept.plans(self.course, self.facts, self.job.shelf)
        self.words = kept.words
        self.effects = kept.effects
        self.maker = kept.acts
        self.facts_maker = kept.facts
        self.looks = kept.looks
        self.reader = kept.readings
        self.scales = kept.scale_maker
        self.readings: list[Reading] = []
        self.acts: dict[str, dict[str, StateActs]] = {plan.id: {} for plan in self.plans}
        self.entries: dict[str, tuple[str, ...]] = {}
        self.lines: dict[str, str] = {}

    def folded(self) -> Folded:
        """Return the whole."""
        self._read_intake()
        self._read_log()
        events = events_told(self.told, self.book)
        mover = MoveMaker(self.book, self.plans)
        has_teller = any("teller" in reading.given for reading in self.readings)
        fixed = (teller_context(self.book),) if has_teller else ()

        def p_there(plan: Plan) -> float:
            return float(start_of(plan, events, frozenset(), self.facts, self.book)[0][1:].sum())

        shared = event_contexts(self.plans, events, self.book)
        contexts = _chosen(fixed, [*shared, *mover.contexts(self.course.moments, p_there)])
        names = frozenset(context.id for context in contexts)
        moves = mover.moves(self.course.moments, names)
        roots = tuple(self._root(plan, events, names, moves.get(plan.id, [])) for plan in self.plans)
        evidence = Evidence(contexts, roots, tuple(self.readings), self.words.spreads())
        return self._noted(evidence)

    def _read_intake(self) -> None:
        """Read that the machine was brought in, and what was told of runs at home."""
        bit = self.effects.bit[BROUGHT_IN]
        self._add(Reading(BROUGHT_IN, 0, signs=(SignAsked(bit, 0, 1.0, 0.0),)), (), "the machine was brought in")
        shows = self.maker.certain(((1.0, self.effects.effect(NO_STOP, 1 << bit)),))
        for plan in self.plans:
            if plan.at_intake and not _is_property(plan):
                acts = self.maker.shared([None, *(shows for _ in plan.states)])
                if acts is not None:
                    self.acts[plan.id][BROUGHT_IN] = acts
        home = self.gatherer.together(self.course.intake[OWNER])
        by_id = {statement.id: statement for statement in self.told}
        for run in HomeReader(self.effects, self.facts_maker, home).home_runs(self.told, self.job.complaint):
            entries = [by_id[name] for name in run.entries]
            line = line_of(entries, self.spoken) if entries else self.book.complaints[self.job.complaint].title
            self._add_run(run.reading, run.entries, line, run.facts, home.footholds)

    def _read_log(self) -> None:
        looks: dict[tuple[object, ...], list[Moment]] = {}
        for moment in self.course.moments:
            entry = moment.entry
            match entry:
                case Run():
                    self._read_run(moment, entry)
                case Inspect():
                    key = (entry.what, entry.on, entry.tool, moment.looked_at, moment.stretch)
                    looks.setdefault(key, []).append(moment)
                case Measure():
                    self._read_number(moment, entry)
                case _:
                    pass
        for moments in looks.values():
            self._read_looks(moments)
        self.readings.sort(key=lambda reading: reading.time)

    def _read_run(self, moment: Moment, run: Run) -> None:
        facts = self.facts_maker.facts(
            moment.together, run.conditions, lead_out=moment.lead_out, first_after=moment.first_after
        )
        minutes = run.conditions.minutes
        report = read_report(run.seen, moment.together.used, self.effects, minutes=minutes, stresses=facts.stresses)
        lots = [(run.id, report, run.failed)]
        if run.failed < run.of:
            passed = passed_report(run.seen, moment.together.used, self.effects, minutes=minutes)
            lots.append((f"{run.id}:passed", passed, run.of - run.failed))
        for name, weighed, count in lots:
            if count and (weighed.stops or weighed.signs):
                reading = self.reader.reading(
                    name, moment.time, facts, weigh_report(weighed, moment.together.used, self.effects), count=count
                )
                line = line_of([run], self.spoken, passed=name != run.id)
                at_work = moment.together.at_work(self.book.loads[run.conditions.load].rests)
                self._add_run(reading, (run.id,), line, facts, at_work)

    def _read_looks(self, moments: Sequence[Moment]) -> None:
        reading = self.looks.look_reading(moments)
        if reading is None:
            return
        entries = [moment.entry for moment in moments if moment.entry is not None]
        self._add(reading, tuple(entry.id for entry in entries), line_of(entries, self.spoken))
        first = moments[0].entry
        what = first.what.partition(".")[0] if isinstance(first, Inspect) else ""
        for plan in self.plans.told_by(what):
            acts = self.looks.look_acts(plan, moments[0], what)
            if acts is not None:
                self.acts[plan.id][reading.id] = acts

    def _read_number(self, moment: Moment, entry: Measure) -> None:
        reading = self.looks.number_reading(moment, entry)
        self._add(reading, (entry.id,), line_of([entry], self.spoken))
        facts = self.facts_maker.facts(moment.together, Conditions(load=entry.load))
        for plan in self.plans.near(moment.together.footholds | moment.looked_at):
            acts = self.looks.number_acts(plan, moment, entry.what.partition(".")[0], facts)
            if acts is not None:
                self.acts[plan.id][reading.id] = acts

    def _add_run(
        self,
        reading: Reading,
        entries: tuple[str, ...],
        line: str,
        facts: RunFacts,
        footholds: frozenset[Foothold],
    ) -> None:
        """Add the reading of a run, with what each root does in it."""
        scale = self.scales.scale(reading)
        self._add(self.scales.reading(reading, scale), entries, line)
        for plan, acts in self.maker.in_runs(self.plans.met(footholds), facts):
            scaled = self.maker.shared(self.scales.acts(acts, scale)) if acts is not None else None
            if scaled is not None:
                self.acts[plan.id][reading.id] = scaled

    def _add(self, reading: Reading, entries: tuple[str, ...], line: str) -> None:
        self.readings.append(reading)
        self.entries[reading.id] = entries
        self.lines[reading.id] = line

    def _root(self, plan: Plan, events: Sequence[EventTold], contexts: frozenset[str], moves: Sequence[Move]) -> Root:
        start, given = start_of(plan, events, contexts, self.facts, self.book)
        now = self.gatherer.together(self.course.standing[OWNER]).footholds
        # a normal thing taken for a fault makes no part bad
        is_normal = plan.fault is not None and plan.fault.is_normal
        held = [
            frozenset() if is_normal else frozenset(thing_of(foothold, now) for foothold in plan.held(state))
            for state in plan.states
        ]
        word = self.words.word(plan.fault.base, f"base:{plan.fault.id}") if plan.fault else ""
        return Root(
            plan.id,
            ("absent", *(state.name for state in plan.states)),
            start,
            MappingProxyType(self.acts[plan.id]),
            tuple(moves),
            given,
            word,
            (frozenset(), *held),
        )

    def _noted(self, evidence: Evidence) -> Folded:
        now = self.gatherer.together(self.course.standing[OWNER]).footholds
        footholds = {foothold for plan in self.plans for state in plan.states for foothold in plan.held(state)}
        readings: dict[str, tuple[str, ...]] = {}
        for name, entries in self.entries.items():
            for entry in entries:
                readings[entry] = (*readings.get(entry, ()), name)
        notes = {
            plan.id: RootNote(
                plan.fault.id if plan.fault else "",
                plan.title,
                tuple(sorted({thing_of(foothold, now) for foothold in plan.all_footholds})),
                not plan.all_footholds.isdisjoint(now),
                bool(plan.fault and plan.fault.is_unlisted),
                plan.fault.matters if plan.fault else True,
            )
            for plan in self.plans
        }
        entries_now: Sequence[Entry | None] = [moment.entry for moment in self.course.moments]
        return Folded(
            evidence,
            MappingProxyType(notes),
            MappingProxyType(self.lines),
            MappingProxyType(self.entries),
            MappingProxyType(readings),
            MappingProxyType({thing_of(f, now): title_of(f, self.spoken) for f in sorted(footholds, key=str)}),
            tuple(entry for entry in entries_now if isinstance(entry, Run)),
            self.course.standing,
            self.facts,
            self.spoken,
        )


def _is_property(plan: Plan) -> bool:
    """Return whether a root is what most machines have by nature."""
    return plan.fault is not None and plan.fault.is_normal and plan.fault.base.p > MOST_MACHINES


def _chosen(fixed: tuple[Context, ...], weighted: Sequence[tuple[float, Context]]) -> tuple[Context, ...]:
    """Return the contexts on which most hangs, as many as the engine looks at all values of."""
    joint = 1
    for context in fixed:
        joint *= len(context.values)
    kept = list(fixed)
    for _, context in sorted(weighted, key=lambda item: -item[0]):
        if joint * len(context.values) <= MOST_JOINT:
            joint *= len(context.values)
            kept.append(context)
    return tuple(kept)
