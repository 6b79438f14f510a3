"""Looks and numbers as readings: what is there lies on a scale of levels, worst first, and the worst one wins."""

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from functools import cached_property

from halfsplit.job.acts import ActsMaker, StateActs
from halfsplit.job.changes import Moment
from halfsplit.job.conditions import RunFacts, p_holds
from halfsplit.job.effects import Effects, added
from halfsplit.job.findings import STATES
from halfsplit.job.numbers import weights_of
from halfsplit.job.roots import Plan, State
from halfsplit.job.strengths import Words
from halfsplit.job.units import Foothold
from halfsplit.job.wrong_taps import P_MISNOTED, P_MISTAPPED
from halfsplit.measure import LEAST_WEIGHT
from halfsplit.model.bench import Inspection, Measurement
from halfsplit.model.book import Book
from halfsplit.model.evidence import Acts, Reading
from halfsplit.model.faults import Pattern
from halfsplit.model.job import UNSURE, Inspect, Measure
from halfsplit.model.ladder import NO_STOP

P_OTHER_WORD = 0.02
"""The chance that one look puts another wrong word to what is there (estimate)."""

_RAIL_OFF = {"+5VSB": "standby_power"}
"""Rail -> the rung below which it is off; all others are off until the rails are good."""


@dataclass(frozen=True)
class Levels:
    """The levels of one inspection: word and catch, worst and surest first."""

    inspection: Inspection
    levels: tuple[tuple[str, float], ...]


class LookMaker:
    """Makes readings and acts of looks and measurements.

    Args:
        effects: the bits and stops of the book.
        acts: where equal acts are kept.
        words: where the words of the numbers go.
        are_exact: whether what is entered is what was seen.
    """

    def __init__(self, effects: Effects, acts: ActsMaker, words: Words, *, are_exact: bool = False) -> None:
        self._p_mistapped = 0.0 if are_exact else P_MISTAPPED
        self._p_misnoted = 0.0 if are_exact else P_MISNOTED
        self._effects = effects
        self._book: Book = effects.book
        self._acts = acts
        self._words = words
        self._levels: dict[str, Levels] = {}

    def look_reading(self, moments: Sequence[Moment]) -> Reading | None:
        """Return the reading of a sequence of looks with the same eyes; None when nobody was sure of any.

        Args:
            moments: looks at one place with one tool, between which nothing was done there.

        Returns:
            A reading whose stop is the worst level that is there.  P(seq | level) = h prod P(seen | level)
            + (1 - h) prod P(seen | fine), with h the reach of the tool: what these eyes in this light can
            miss they miss each time.
        """
        looks = [moment.entry for moment in moments if isinstance(moment.entry, Inspect)]
        seen = [look.seen for look in looks if look.seen != UNSURE]
        if not seen:
            return None
        levels = self._levels_of(looks[0].what.partition(".")[0])
        h = self._book.tools[looks[0].tool].reach
        fine = 1.0
        for word in seen:
            fine *= self._entered(levels.inspection, _p_seen_fine(levels.inspection, word))
        weights = {NO_STOP: fine}
        for level, (word, catch) in enumerate(levels.levels):
            found = 1.0
            for said in seen:
                found *= self._entered(levels.inspection, _p_seen(levels.inspection, said, word, catch))
            weights[level] = h * found + (1.0 - h) * fine
        return Reading(looks[0].id, moments[0].time, stop_weights=weights)

    def _entered(self, inspection: Inspection, p: float) -> float:
        """Return the chance that a word is entered that was seen with some chance; any other may slip into it."""
        return (1.0 - self._p_mistapped) * p + self._p_mistapped * (1.0 - p) / (len(inspection.seen) - 1)

    def look_acts(self, plan: Plan, moment: Moment, what: str) -> StateActs | None:
        """Return what each state of a root shows to a look, or None where none shows anything."""
        if what not in plan.told_by:
            return None
        levels = self._levels_of(what)
        acts: list[Acts | None] = [None]
        for state in plan.states:
            best: int | None = None
            for pattern, places in _patterns(plan, state):
                if _is_seen_there(places, levels.inspection.at, moment.looked_at, None):
                    for look in pattern.looks:
                        if look.inspection == what:
                            level = levels.levels.index((look.word, look.catch.p))
                            best = level if best is None else min(best, level)
            acts.append(None if best is None else self._acts.certain(((1.0, self._effects.effect(best)),)))
        return self._acts.shared(acts)

    def number_reading(self, moment: Moment, entry: Measure) -> Reading:
        """Return the reading of a number from an instrument.

        The stop is the worst state that holds: absent, low, high, or none for inside the limits.  A number that is
        entered wrong lies on the other side of a limit.
        """
        point = self._book.measurements[entry.what.partition(".")[0]]
        weights = weights_of(entry, point)
        s, inside = self._p_misnoted, weights.inside
        outside = (weights.absent, weights.low, weights.high)
        by_level = {level: (1.0 - s) * weight + s * inside for level, weight in enumerate(outside)}
        stops = {**by_level, NO_STOP: (1.0 - s) * inside + s * max(outside)}
        return Reading(entry.id, moment.time, stop_weights=stops)

    def number_acts(self, plan: Plan, moment: Moment, what: str, facts: RunFacts) -> StateActs | None:
        """Return where each state of a root puts a number, or None where none moves it."""
        point = self._book.measurements[what]
        here = moment.together.footholds | moment.looked_at
        if plan.all_footholds.isdisjoint(here) and plan.victims.isdisjoint(here):
            return None
        if not point.rail and what not in plan.told_by:
            return None
        is_off = self._off_acts(plan, point, facts, here) if point.rail else None
        acts: list[Acts | None] = [None]
        for number, state in enumerate(plan.states, 1):
            draws = []
            word = ""
            for pattern, places in _patterns(plan, state):
                if _is_seen_there(places, point.at, moment.looked_at, here):
                    for read in pattern.reads:
                        p = p_holds(read.when, facts) * read.q.p if read.measurement == what else 0.0
                        if p > 0.0:
                            draws.append(((p, self._effects.effect(STATES.index(read.state))),))
                            word = self._words.word(read.q, f"read:{state.fault}.{pattern.id}.{what}.{read.state}")
            if draws:
                acts.append(self._acts.certain(added(draws), word))
            else:
                acts.append(is_off[number] if is_off is not None else None)
        return self._acts.shared(acts)

    def _off_acts(self, plan: Plan, point: Measurement, facts: RunFacts, here: frozenset[Foothold]) -> StateActs | None:
        """Return how each state leaves a rail without voltage because the machine does not get so far.

        For patterns of which the book does not say where they put this number.
        """
        rungs = self._book.ladder.rungs
        rung = _RAIL_OFF.get(point.rail, rungs[min(2, len(rungs) - 1)].id)
        needs = self._book.ladder.needs_stop(rung)
        run = self._acts.in_run(plan, facts, here)
        if run is None:
            return None
        off: list[Acts | None] = []
        for acts in run:
            p = sum(p for p, effect in acts.outcomes if effect.stop < needs) if acts is not None else 0.0
            off.append(self._acts.certain(((p, self._effects.effect(0)),), acts.word) if acts and p > 0.0 else None)
        return tuple(off)

    def _levels_of(self, what: str) -> Levels:
        if what not in self._levels:
            inspection = self._book.inspections[what]
            order = {word: number for number, word in enumerate(inspection.seen)}
            levels = tuple(sorted(self._words_of.get(what, ()), key=lambda level: (order[level[0]], -level[1])))
            self._levels[what] = Levels(inspection, levels)
        return self._levels[what]

    @cached_property
    def _words_of(self) -> Mapping[str, Set[tuple[str, float]]]:
        """Inspection -> the words that faults give it, with the chance that they are said."""
        found: dict[str, set[tuple[str, float]]] = {}
        for fault in self._book.faults.values():
            for pattern in fault.patterns:
                for look in pattern.looks:
                    found.setdefault(look.inspection, set()).add((look.word, look.catch.p))
        return found


Places = Mapping[str, frozenset[Foothold]]


def _patterns(plan: Plan, state: State) -> list[tuple[Pattern, Places]]:
    """Return the patterns of a state with the footholds of each: its own, and those of what it harmed."""
    own = {at: plan.footholds.get(at, frozenset()) for at in state.at}
    harmed: list[tuple[Pattern, Places]] = [
        (victim.pattern, dict.fromkeys(victim.at, frozenset({victim.unit}))) for victim in state.victims
    ]
    return [(state.pattern, own), *harmed]


def _is_seen_there(places: Places, at: str, looked_at: frozenset[Foothold], here: frozenset[Foothold] | None) -> bool:
    """Return whether a look at some place can find a root with these footholds.

    If it has one on that very kind of part or joint, it must be the one looked at; what shows away from its
    foothold, as in a record, shows there whichever it is.  With ``here`` some foothold must be there.
    """
    if here is not None and all(group.isdisjoint(here) for group in places.values()):
        return False
    return at not in places or not places[at].isdisjoint(looked_at)


def _p_seen(inspection: Inspection, said: str, word: str, catch: float) -> float:
    """Return P(a look says a word | another word's level is there)."""
    if said == word:
        return catch
    others = len(inspection.seen) - 2
    slips = P_OTHER_WORD if others > 0 else 0.0
    if said == inspection.fine:
        return max(0.0, 1.0 - catch - slips) if catch < 1.0 else LEAST_WEIGHT
    return slips / max(1, others)


def _p_seen_fine(inspection: Inspection, said: str) -> float:
    """Return P(a look says a word | nothing is there)."""
    alarm = inspection.false_alarm.p
    return 1.0 - alarm if said == inspection.fine else alarm / (len(inspection.seen) - 1)
