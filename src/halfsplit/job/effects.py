"""What runs show, in the engine's terms: signs and pictures as bits, ways to end as stops."""

from collections.abc import Iterable, Sequence

from halfsplit.job.conditions import RunFacts
from halfsplit.job.pictures import STAGES, picture
from halfsplit.model.book import Book
from halfsplit.model.evidence import NOTHING, Acts, Effect
from halfsplit.model.faults import Ending
from halfsplit.model.ladder import NO_STOP, band_of

BROUGHT_IN = "brought_in"
"""The sign that something is wrong, or taken for wrong: the machine was brought in."""

Draw = tuple[tuple[float, Effect], ...]
"""Pairs of probability and effect; what is missing to 1 does nothing."""


class Effects:
    """The bits and stops of a book, and the effects that its endings have.

    Args:
        book: the fault book.
    """

    def __init__(self, book: Book) -> None:
        self.ladder = book.ladder
        self.book = book
        names = [*book.signs, *(picture(o, stage) for o in book.outputs for stage in STAGES), BROUGHT_IN]
        self.bit = {name: number for number, name in enumerate(names)}
        self.needs = {sign.id: self.ladder.needs_stop(sign.needs) for sign in book.signs.values()}
        self.needs |= {
            picture(output, stage): self.ladder.needs_stop(rung)
            for output in book.outputs
            for stage, rung in STAGES.items()
        }
        self.stops = tuple(self.ladder.stops())
        self._stop_at = {(place, kind): stop for stop, place, kind in self.stops}
        self._effects: dict[tuple[int, int, int], Effect] = {(NO_STOP, 0, 0): NOTHING}
        self._draws: dict[tuple[object, ...], Draw] = {}
        self._showable: dict[frozenset[str], int] = {}

    def effect(self, stop: int = NO_STOP, shown: int = 0, hidden: int = 0) -> Effect:
        """Return an effect; equal ones are one object."""
        key = (stop, shown, hidden)
        if key not in self._effects:
            self._effects[key] = Effect(stop, shown, hidden)
        return self._effects[key]

    def mask(self, names: Iterable[str]) -> int:
        """Return the bits of signs and pictures."""
        return sum(1 << self.bit[name] for name in set(names))

    def draw(self, endings: Sequence[Ending], facts: RunFacts) -> Draw:
        """Return the effects of an act's endings in a run, with their shares; a stop at a time spreads over places."""
        key = (id(endings), facts.used, self.showable(facts.has))
        if key not in self._draws:
            found: dict[Effect, float] = {}
            for ending in endings:
                stops = self._stops_of(ending)
                for stop in stops:
                    effect = self._effect_of(ending, stop, facts)
                    found[effect] = found.get(effect, 0.0) + ending.share / len(stops)
            self._draws[key] = tuple((p, effect) for effect, p in found.items())
        return self._draws[key]

    def places_at(self, seconds: float) -> tuple[int, ...]:
        """Return the places, rungs and after them time bands, at which a run may be ``seconds`` after its start."""
        places = self.ladder.places_by(seconds)
        last = self.ladder.rungs[-1]
        if seconds < last.seconds[0]:
            return places
        return (*places, len(self.ladder.rungs) + band_of(seconds - last.seconds[0]))

    def stop_at(self, place: int, kind: str) -> int:
        """Return the stop at a place, which is a rung not reached or a time band past the rungs."""
        return self._stop_at[place, kind]

    def _stops_of(self, ending: Ending) -> list[int]:
        if ending.not_reached:
            return [self.ladder.stop_before(ending.not_reached, ending.kind)]
        if ending.seconds is None:
            return [NO_STOP]
        if ending.from_start:
            return [self.stop_at(place, ending.kind) for place in self.places_at(ending.seconds)]
        return [self.ladder.stop_in_band(ending.seconds, ending.kind)]

    def _effect_of(self, ending: Ending, stop: int, facts: RunFacts) -> Effect:
        shown = self.mask(ending.shows) & self.showable(facts.has)
        dark = [name for word in ending.dark for name in self._darkened(word, facts)]
        return self.effect(stop, shown, self.mask([*ending.hides, *dark]))

    def showable(self, has: frozenset[str]) -> int:
        """Return the bits of the signs that can show at all with these parts in."""
        if has not in self._showable:
            self._showable[has] = self.mask(sign.id for sign in self.book.signs.values() if has.issuperset(sign.has))
        return self._showable[has]

    def _darkened(self, word: str, facts: RunFacts) -> list[str]:
        which, _, stage = word.partition(".")
        outputs = facts.used if which == "used" else tuple(self.book.outputs) if which == "all" else (which,)
        return [picture(output, each) for output in outputs for each in ([stage] if stage else STAGES)]


def joint_draw(draws: Sequence[Draw]) -> Draw:
    """Return the joint draw of independent ones, with equal effects put together; it adds up to 1."""
    found: dict[Effect, float] = {NOTHING: 1.0}
    for draw in draws:
        rest = max(0.0, 1.0 - sum(p for p, _ in draw))
        ways = [*draw, (rest, NOTHING)] if rest > _ROUNDING else list(draw)
        after: dict[Effect, float] = {}
        for before, p in found.items():
            for share, effect in ways:
                both = before | effect
                after[both] = after.get(both, 0.0) + p * share
        found = after
    return tuple((p, effect) for effect, p in found.items() if p > 0.0)


def joint_acts(first: Acts | None, second: Acts | None) -> Acts | None:
    """Return the acts of two independent draws in one run; the word of the likelier one is kept."""
    if first is None or second is None:
        return first or second
    draw = tuple((p, effect) for p, effect in joint_draw([first.outcomes, second.outcomes]) if effect != NOTHING)
    likelier = max(first, second, key=lambda acts: sum(p for p, _ in acts.outcomes))
    return Acts(draw, likelier.word)


def scaled(draw: Draw, factor: float) -> Draw:
    """Return a draw that happens with a chance only."""
    return draw if factor == 1.0 else tuple((p * factor, effect) for p, effect in draw)


def added(draws: Sequence[Draw]) -> Draw:
    """Return the sum of draws that exclude each other."""
    found: dict[Effect, float] = {}
    for draw in draws:
        for p, effect in draw:
            found[effect] = found.get(effect, 0.0) + p
    total = max(1.0, sum(found.values()))
    return tuple((p / total, effect) for effect, p in found.items())


_ROUNDING = 1e-12  # shares that add up to 1 within this leave nothing over
