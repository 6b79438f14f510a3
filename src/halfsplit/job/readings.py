"""From what a run showed to a reading: its weights, and what the setup itself does in it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from halfsplit.job.conditions import RunFacts, p_holds
from halfsplit.job.effects import Draw, Effects, joint_draw, scaled
from halfsplit.job.pictures import STAGES, is_picture, picture
from halfsplit.job.reports import Report, is_usual, screens_of
from halfsplit.job.wrong_taps import P_MISTAPPED
from halfsplit.model.arrays import Floats
from halfsplit.model.evidence import NOTHING, Effect, Reading, SignAsked
from halfsplit.model.ladder import NO_STOP

Weight = Floats | float


@dataclass(frozen=True)
class Weighing:
    """How a report weighs a total.

    Args:
        stops: stop -> weight; a stop that is not named weighs 1.
        signs: sign or picture -> its weight if it is visible, and if it is not.
        given: the contexts that the weights depend on.
    """

    stops: Mapping[int, Weight]
    signs: Mapping[str, tuple[Weight, Weight]]
    given: tuple[str, ...] = ()


def weigh_report(report: Report, used: tuple[str, ...], effects: Effects) -> Weighing:
    """Return the weighing of a report of the bench.

    It is taken as it is, but that a sign which no sound machine gives may have been entered where there was none: in a
    run that got so far that it could have been seen, on a screen that was lit.

    Args:
        report: what the run showed.
        used: the outputs that the monitor was on.
        effects: the bits and stops of the book.
    """
    signs: dict[str, tuple[Weight, Weight]] = {}
    low = 0
    for name, was in report.signs.items():
        not_so = 0.0 if was == is_usual(name, effects) or is_picture(name) else P_MISTAPPED
        signs[name] = (1.0, not_so) if was else (not_so, 1.0)
        if was and not_so:
            low = max(low, effects.needs[name])
            screens = screens_of(name, used, effects)
            if len(screens) == 1:
                signs.setdefault(screens[0], (1.0, 0.0))
    too_early = {stop: 0.0 for stop, _, _ in effects.stops if stop < low}
    return Weighing({**report.stops, **too_early}, signs)


class ReadingMaker:
    """Makes readings of runs.

    Args:
        effects: the bits and stops of the book.
    """

    def __init__(self, effects: Effects) -> None:
        self._effects = effects

    def reading(self, name: str, time: int, facts: RunFacts, weighing: Weighing, *, count: int = 1) -> Reading:
        """Return the reading of one run, or of ``count`` equal ones.

        Args:
            name: its id.
            time: its place in the log.
            facts: the run.
            weighing: what the report says.
            count: how many runs showed it.
        """
        signs = []
        relevant = 0
        for sign, (if_visible, if_not) in weighing.signs.items():
            screens = screens_of(sign, facts.used, self._effects)
            mask = self._effects.mask(screens)
            needs = tuple((self._effects.bit[screen], self._effects.needs[screen]) for screen in screens)
            bit = self._effects.bit[sign]
            relevant |= 1 << bit | mask
            signs.append(SignAsked(bit, self._effects.needs[sign], if_visible, if_not, mask, needs))
        base = self._base(facts, relevant)
        return Reading(name, time, base, weighing.stops, 1.0, tuple(signs), count, weighing.given)

    def _base(self, facts: RunFacts, relevant: int) -> Draw:
        """Return what the setup itself does: what is on by default, and what the forced acts of the book do.

        Only what the report asks for is kept, and equal effects are put together.
        """
        effects = self._effects
        lit = [
            picture(output, stage)
            for output in facts.used
            if effects.book.outputs[output].part in facts.has
            for stage in STAGES
        ]
        is_on = [sign.id for sign in effects.book.signs.values() if sign.is_on]
        shown = (effects.mask(is_on) & effects.showable(facts.has) | effects.mask(lit)) & relevant
        certain = effects.effect(NO_STOP, shown, 0)
        draws: list[Draw] = []
        for forced in effects.book.forced:
            p = p_holds(forced.when, facts) * forced.q.p
            if p <= 0.0:
                continue
            draw = self._kept(scaled(effects.draw(forced.endings, facts), p), relevant)
            if len(draw) == 1 and p >= 1.0:
                certain = certain | draw[0][1]
            elif any(effect != NOTHING for _, effect in draw):
                draws.append(draw)
        return self._kept([(p, effect | certain) for p, effect in joint_draw(draws)], relevant)

    def _kept(self, draw: Sequence[tuple[float, Effect]], relevant: int) -> Draw:
        found: dict[Effect, float] = {}
        for p, effect in draw:
            kept = self._effects.effect(effect.stop, effect.shown & relevant, effect.hidden & relevant)
            found[kept] = found.get(kept, 0.0) + p
        return tuple((p, effect) for effect, p in found.items())
