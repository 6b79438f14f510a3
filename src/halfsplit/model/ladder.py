"""The order in which a PC comes alive, and where a run may stop.

A run has one stop.  Below log-in a stop is named by the lowest rung that was *not* reached; above log-in
by the time band in which the run ended.  Every stop has a kind.  All stops of one run lie on one scale of
whole numbers, earlier is lower, so that the stops of several faults combine by taking the lowest; ties
at one place go by the fixed order of kinds.
"""

from collections.abc import Iterator
from dataclasses import dataclass

NO_STOP = 1_000
"""The stop of a run that nothing stops; above every stop that a book can name."""

KINDS = ("cuts_out", "resets", "freezes", "stays")
"""Ways in which a run ends, in the order in which they win at one place."""

BAND_SECONDS = (1.0, 5.0, 15.0, 60.0, 600.0, 3600.0)
"""Upper ends of the time bands: 1 s, 5 s, 15 s, 1 min, 10 min, 1 h."""

_STEP = 8  # room for the kinds between two places


@dataclass(frozen=True)
class Rung:
    """One rung of the ladder.

    Args:
        id: as written in job files.
        title: as the trade says it.
        seconds: when, counted from the start, this rung is reached: earliest and latest.
    """

    id: str
    title: str
    seconds: tuple[float, float]


@dataclass(frozen=True)
class Ladder:
    """The rungs from standby power to log-in, lowest first."""

    rungs: tuple[Rung, ...]

    def place(self, rung_id: str) -> int:
        """Return the place of a rung, 0 = lowest."""
        for place, rung in enumerate(self.rungs):
            if rung.id == rung_id:
                return place
        raise KeyError(rung_id)

    def stop_before(self, rung_id: str, kind: str = "stays") -> int:
        """Return the stop of a run that did not reach ``rung_id``, but all below it."""
        return self.place(rung_id) * _STEP + KINDS.index(kind)

    def stop_in_band(self, seconds: float, kind: str) -> int:
        """Return the stop of a run that ended ``seconds`` after log-in."""
        return (len(self.rungs) + band_of(seconds)) * _STEP + KINDS.index(kind)

    def needs_stop(self, rung_id: str) -> int:
        """Return the earliest stop at which ``rung_id`` has been reached."""
        return (self.place(rung_id) + 1) * _STEP

    def stops(self) -> Iterator[tuple[int, int, str]]:
        """Yield every stop there is as (stop, place, kind); places past the rungs are time bands."""
        for place in range(len(self.rungs) + len(BAND_SECONDS)):
            for order, kind in enumerate(KINDS):
                yield place * _STEP + order, place, kind

    def places_by(self, seconds: float) -> tuple[int, ...]:
        """Return the places at which a run may be when it ends ``seconds`` after the *start*.

        A place is the lowest rung not reached.  Rung r may be the last one reached when its earliest time
        has come and the latest time of the next has not passed.
        """
        places = []
        for place in range(len(self.rungs)):
            reached_below = place == 0 or self.rungs[place - 1].seconds[0] <= seconds
            if reached_below and seconds <= self.rungs[place].seconds[1]:
                places.append(place)
        return tuple(places)


def band_of(seconds: float) -> int:
    """Return the number of the time band that ``seconds`` after log-in fall in; the last one is open."""
    for band, end in enumerate(BAND_SECONDS):
        if seconds <= end:
            return band
    return len(BAND_SECONDS) - 1


def is_stop(stop: int) -> bool:
    """Return whether the run ended by itself."""
    return stop < NO_STOP
