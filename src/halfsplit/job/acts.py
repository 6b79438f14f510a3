"""What a fault in one state does in a run, under a look, or to a number; worked out once for equal runs."""

from collections.abc import Iterable, Sequence

from halfsplit.job.conditions import Asking, RunFacts, asked_by, p_holds
from halfsplit.job.effects import Draw, Effects, added, joint_acts, scaled
from halfsplit.job.plans import Met
from halfsplit.job.roots import Plan, State
from halfsplit.job.strengths import Words
from halfsplit.job.units import Foothold
from halfsplit.model.evidence import Acts
from halfsplit.model.faults import Pattern

StateActs = tuple[Acts | None, ...]


class ActsMaker:
    """Makes acts; equal ones are one object, and so are equal tuples of them.

    Args:
        effects: the effects of the book.
        words: where the words of the numbers go.
    """

    def __init__(self, effects: Effects, words: Words) -> None:
        self._effects = effects
        self._words = words
        self._in_run: dict[tuple[int, int, frozenset[str]], Acts | None] = {}
        self._of_plan: dict[tuple[object, ...], StateActs | None] = {}
        self._askings: dict[Asking, int] = {}
        self._asking: dict[int, tuple[object, Asking, int]] = {}
        self._views: dict[int, tuple[RunFacts, dict[int, int]]] = {}
        self._numbers: dict[tuple[object, ...], int] = {}
        self._by_draw: dict[tuple[object, ...], Acts] = {}
        self._joint: dict[tuple[int, int], Acts | None] = {}
        self._tuples: dict[tuple[int, ...], StateActs] = {}

    def in_run(self, plan: Plan, facts: RunFacts, footholds: frozenset[Foothold]) -> StateActs | None:
        """Return what each state of a root does in a run, or None where none does anything.

        Args:
            plan: the root.
            facts: the run.
            footholds: the units and pairs that are together in it.
        """
        return self._of(plan, plan.present(footholds), plan.victims & footholds, facts)

    def in_runs(self, met: Iterable[Met], facts: RunFacts) -> list[tuple[Plan, StateActs | None]]:
        """Return what many roots do in a run; see ``in_run``."""
        return [(each.plan, self._of(each.plan, each.present, each.harmed, facts)) for each in met]

    def _of(
        self, plan: Plan, present: frozenset[str], harmed: frozenset[Foothold], facts: RunFacts
    ) -> StateActs | None:
        if not present and not harmed:
            return None
        key = (id(plan), self._view(plan, plan.patterns, facts), present, harmed)
        if key not in self._of_plan:
            self._of_plan[key] = self._of_states(plan, facts, present, harmed)
        return self._of_plan[key]

    def _of_states(
        self, plan: Plan, facts: RunFacts, present: frozenset[str], harmed: frozenset[Foothold]
    ) -> StateActs | None:
        if plan.needs_all and len(present) < len(plan.footholds):
            present = frozenset()
        acts: list[Acts | None] = [None]
        for state in plan.states:
            here = present & state.at
            own = self._of_pattern(state, state.pattern, facts, here) if here else None
            for victim in state.victims:
                if victim.unit in harmed:
                    own = self._both(own, self._of_pattern(state, victim.pattern, facts, victim.at))
            acts.append(own)
        return self.shared(acts)

    def shared(self, acts: Sequence[Acts | None]) -> StateActs | None:
        """Return acts as a tuple, the same one for the same acts; None where there are none."""
        if not any(acts):
            return None
        key = tuple(map(id, acts))
        return self._tuples.setdefault(key, tuple(acts))

    def certain(self, draw: Draw, word: str = "") -> Acts:
        """Return acts with the given outcomes."""
        key = (draw, word)
        if key not in self._by_draw:
            self._by_draw[key] = Acts(draw, word)
        return self._by_draw[key]

    def _both(self, first: Acts | None, second: Acts | None) -> Acts | None:
        key = (id(first), id(second))
        if key not in self._joint:
            self._joint[key] = joint_acts(first, second)
        return self._joint[key]

    def _of_pattern(self, state: State, pattern: Pattern, facts: RunFacts, present: frozenset[str]) -> Acts | None:
        """Return what a pattern does: its first act that fits, or several where it is not known which fits."""
        key = (id(pattern), self._view(pattern, (pattern,), facts), present)
        if key not in self._in_run:
            self._in_run[key] = self._draw(state, pattern, facts, present)
        return self._in_run[key]

    def _view(self, noun: object, patterns: Sequence[Pattern], facts: RunFacts) -> int:
        """Return a number for what the conditions of a noun's patterns can tell of a run: equal ones, equal acts."""
        if id(noun) not in self._asking:
            asking = asked_by(act.when for pattern in patterns for act in pattern.acts)
            self._asking[id(noun)] = (noun, asking, self._askings.setdefault(asking, len(self._askings)))
        _, (names, has), asks = self._asking[id(noun)]
        if id(facts) not in self._views:
            self._views[id(facts)] = (facts, {})
        views = self._views[id(facts)][1]
        if asks not in views:
            said = tuple(getattr(facts, name) for name in names)
            view = (asks, said, facts.has & has, facts.used, self._effects.showable(facts.has))
            views[asks] = self._numbers.setdefault(view, len(self._numbers))
        return views[asks]

    def _draw(self, state: State, pattern: Pattern, facts: RunFacts, present: frozenset[str]) -> Acts | None:
        left = 1.0
        fitting: list[tuple[int, float]] = []
        for number, act in enumerate(pattern.acts):
            if act.of and act.of not in present:
                continue
            p = left * p_holds(act.when, facts)
            left -= p
            if p * act.q.p > 0.0:
                fitting.append((number, p * act.q.p))
            if left <= 0.0:
                break
        if not fitting:
            return None
        key = (id(pattern), tuple(fitting), facts.used, self._effects.showable(facts.has))
        if key not in self._by_draw:
            draws = [scaled(self._effects.draw(pattern.acts[number].endings, facts), p) for number, p in fitting]
            number = max(fitting, key=lambda each: each[1])[0]
            word = self._words.word(pattern.acts[number].q, f"q:{state.fault}.{pattern.id}.{number}")
            self._by_draw[key] = Acts(added(draws) if len(draws) > 1 else draws[0], word)
        return self._by_draw[key]
