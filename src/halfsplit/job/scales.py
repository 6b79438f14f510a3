"""The stops after log-in, as far as one report can tell them apart.

A book's time for a stop is good to a factor of a few, so which of two faults ends a run first after log-in is
open where their bands lie side by side.  Bands that a report weighs alike are therefore one band, and in it the
stops that weigh most come first: where two faults stop one run, the one that was seen stands.  The rungs below
log-in have a certain order, and stay as they are.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from halfsplit.job.effects import Draw, Effects
from halfsplit.model.arrays import Floats
from halfsplit.model.evidence import Acts, Reading
from halfsplit.model.ladder import KINDS, NO_STOP

_Key = tuple[float, ...]


@dataclass(frozen=True)
class Scale:
    """Stop -> the stop that stands for it; a stop that is not named stands for itself."""

    into: Mapping[int, int]


class ScaleMaker:
    """Makes scales, and puts readings and acts on them; equal ones are one object.

    Args:
        effects: the stops of the book.
    """

    def __init__(self, effects: Effects) -> None:
        self._effects = effects
        rungs = len(effects.ladder.rungs)
        places = sorted({place for _, place, _ in effects.stops if place >= rungs})
        self._bands = [[effects.stop_at(place, kind) for kind in KINDS] for place in places]
        self._scales: dict[tuple[tuple[int, int], ...], Scale] = {}
        self._acts: dict[tuple[int, int], tuple[Acts, Acts]] = {}

    def scale(self, reading: Reading) -> Scale:
        """Return the scale on which a reading weighs stops."""

        def key(stop: int) -> _Key:
            weight: Floats | float = reading.stop_weights.get(stop, reading.other_stops)
            return tuple(np.asarray(weight, dtype=np.float64).ravel().tolist())

        groups: list[list[list[int]]] = []
        for band in self._bands:
            if groups and [key(stop) for stop in groups[-1][0]] == [key(stop) for stop in band]:
                groups[-1].append(band)
            else:
                groups.append([band])
        into: dict[int, int] = {}
        after = key(NO_STOP)
        for group in reversed(groups):
            keys = sorted({key(stop) for stop in group[0]}, reverse=True)
            is_last = all(stands == NO_STOP for stands in into.values())
            stands = {level_key: group[0][level] for level, level_key in enumerate(keys)}
            if is_last and keys[-1] == after:
                stands[keys[-1]] = NO_STOP
            into |= {stop: stands[key(stop)] for band in group for stop in band}
        found = tuple(sorted(into.items()))
        return self._scales.setdefault(found, Scale(into))

    def reading(self, reading: Reading, scale: Scale) -> Reading:
        """Return a reading with its stops on a scale."""
        weights = {
            scale.into.get(stop, stop): weight
            for stop, weight in reading.stop_weights.items()
            if stop == NO_STOP or scale.into.get(stop, stop) != NO_STOP
        }
        base = self._draw(reading.base, scale)
        return replace(reading, base=base, stop_weights=weights)

    def acts(self, acts: Sequence[Acts | None], scale: Scale) -> list[Acts | None]:
        """Return what the states of a root do, with the stops on a scale."""
        return [None if each is None else self._one(each, scale) for each in acts]

    def _one(self, acts: Acts, scale: Scale) -> Acts:
        key = (id(acts), id(scale))
        if key not in self._acts:
            stays = all(effect.stop not in scale.into for _, effect in acts.outcomes)
            self._acts[key] = (acts, acts if stays else Acts(self._draw(acts.outcomes, scale), acts.word))
        return self._acts[key][1]

    def _draw(self, draw: Draw, scale: Scale) -> Draw:
        found: dict[tuple[int, int, int], float] = {}
        for p, effect in draw:
            key = (scale.into.get(effect.stop, effect.stop), effect.shown, effect.hidden)
            found[key] = found.get(key, 0.0) + p
        return tuple((p, self._effects.effect(*key)) for key, p in found.items())
