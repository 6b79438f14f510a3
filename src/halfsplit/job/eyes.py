"""What can be seen of a run: the total that it has, as far as eyes and ears can tell.

A machine that starts and shows no picture may stand at any rung: a run without a picture that stays as it is, one that
froze and one that has loaded its system are one ending, unless a sign that was asked for proves more.
"""

from collections.abc import Mapping, Sequence
from math import inf, sqrt
from types import MappingProxyType

import numpy as np

from halfsplit.job.effects import Effects
from halfsplit.job.findings import Ending, RunSeen
from halfsplit.job.pictures import STAGES, is_picture
from halfsplit.model.arrays import Ints
from halfsplit.model.ladder import BAND_SECONDS, NO_STOP

STANDS = ("freezes", "stays")
"""Kinds of stop that look the same while there is no picture."""

KIND_WORDS: Mapping[str, str] = MappingProxyType(
    {"cuts_out": "cuts out", "resets": "resets", "freezes": "freezes", "stays": "stops"}
)
"""Kind of stop -> how it is put in a line."""

_TIMES = (
    (15.0, "within seconds", "within seconds", 3.0),
    (60.0, "within a minute", "within a minute of log-in", 30.0),
    (inf, "after minutes", "minutes after log-in", 600.0),
)
"""Of a stop: the last second that a line is for, the line counted from the start, from log-in, and what it enters.

Who sees it is right to a factor (``reports.TIMES_OFF``): these times stand for all that looks so.
"""

_RUNG_BITS = 6


class Eyes:
    """Turns what a run does into what can be seen of it.

    Args:
        effects: the bits and stops of the book.
        asks: the signs and pictures asked for.
        minutes: how long it is watched.
    """

    def __init__(self, effects: Effects, asks: Sequence[str], minutes: float) -> None:
        self._asks = tuple(asks)
        self._places = {stop: (place, kind) for stop, place, kind in effects.stops}
        self._rungs = [(rung.id, rung.title) for rung in effects.ladder.rungs]
        self._earliest, self._latest = zip(*(rung.seconds for rung in effects.ladder.rungs), strict=True)
        self._starts = effects.ladder.place("starts")
        self._first_picture = effects.ladder.place(STAGES["self_test"])
        signs = effects.book.signs
        self._proves = [effects.ladder.place(signs[name].proves) if name in signs else -1 for name in asks]
        self._pictures = [is_picture(name) for name in asks]
        self._watched_seconds = 60.0 * minutes
        self._endings: dict[tuple[object, ...], Ending] = {}
        self._seen: dict[tuple[int, tuple[bool, ...]], RunSeen] = {}
        self._numbers: dict[int, int] = {}
        self._number_of: dict[int, int] = {}  # an ending, by its identity -> its number
        self._numbered: list[Ending] = []

    def numbers(self, stops: Ints, visible: Ints) -> Ints:
        """Return a number for each run, equal for runs that look the same, shape (N,).

        Args:
            stops: where each stopped.
            visible: which of the signs asked for were visible, a bit for each in their order.
        """
        proved = np.full(len(stops), -1, dtype=np.int64)
        for place, rung in enumerate(self._proves):
            if rung >= 0:
                proved = np.where(visible >> place & 1, np.maximum(proved, rung), proved)
        pictures = sum(1 << place for place, is_one in enumerate(self._pictures) if is_one)
        lit = (visible & pictures) != 0
        some, of = np.unique((stops << _RUNG_BITS | proved + 1) << 1 | lit, return_inverse=True)
        endings = np.array([self._number(each) for each in some.tolist()], dtype=np.int64)
        return np.asarray(endings[of.ravel()] << len(self._asks) | visible)

    def _number(self, kind: int) -> int:
        """Return the number of the ending of a stop, a rung proved and whether there was a picture, as one number."""
        if kind not in self._numbers:
            proved = (kind >> 1 & (1 << _RUNG_BITS) - 1) - 1
            ending = self._ending(kind >> 1 + _RUNG_BITS, proved, is_lit=bool(kind & 1))
            self._numbers[kind] = self._number_of.setdefault(id(ending), len(self._numbered))
            if self._numbers[kind] == len(self._numbered):
                self._numbered.append(ending)
        return self._numbers[kind]

    def of_number(self, number: int) -> RunSeen:
        """Return what is seen of the runs of a number."""
        signs = tuple((name, bool(number >> place & 1)) for place, name in enumerate(self._asks))
        return RunSeen(self._numbered[number >> len(self._asks)], signs)

    def seen(self, stop: int, visible: Sequence[bool]) -> RunSeen:
        """Return what is seen of a run that stopped there, with these of the signs asked for visible."""
        key = (stop, tuple(map(bool, visible)))
        if key not in self._seen:
            is_lit = any(was for was, is_picture in zip(visible, self._pictures, strict=True) if is_picture)
            proved = max((rung for rung, was in zip(self._proves, visible, strict=True) if was), default=-1)
            self._seen[key] = RunSeen(
                self._ending(stop, proved, is_lit=is_lit), tuple(zip(self._asks, key[1], strict=True))
            )
        return self._seen[key]

    def _ending(self, stop: int, proved: int, *, is_lit: bool) -> Ending:
        if stop == NO_STOP:
            return self._stays(proved, is_lit=is_lit)
        place, kind = self._places[stop]
        if place >= len(self._rungs):
            return self._after_log_in(place - len(self._rungs), kind, proved, is_lit=is_lit)
        if place <= self._starts:
            line, kind = ("does not start", "") if kind in STANDS else (f"{KIND_WORDS[kind]} at once", kind)
            return self._kept(Ending(line, not_reached=self._rungs[self._starts][0], kind=kind))
        if kind in STANDS and not is_lit:
            return self._stays(min(proved, place - 1), is_lit=False)
        if not is_lit or place <= self._first_picture:
            return self._stops_dark(place, kind, proved)
        line = f"{KIND_WORDS[kind]} before '{self._rungs[place][1]}'"
        return self._kept(Ending(line, not_reached=self._rungs[place][0], kind=kind))

    def _stops_dark(self, place: int, kind: str, proved: int) -> Ending:
        """Return the ending of a run that stops by itself without a picture: its time, and how far signs prove it."""
        is_rung = place < len(self._rungs)
        usual = sqrt(self._earliest[place - 1] * self._latest[place]) if is_rung else inf
        when, seconds = next((when, at) for until, when, _, at in _TIMES if usual <= until)
        rung, title = self._rungs[max(proved, self._starts)]
        after = f" and after '{title}'" if proved > self._starts else ""
        return self._kept(Ending(f"no picture, {KIND_WORDS[kind]} {when}{after}", rung, "", kind, seconds))

    def _stays(self, proved: int, *, is_lit: bool) -> Ending:
        """Return the ending of a run that stays on: with a picture it is seen to log in, else only what signs prove."""
        if is_lit:
            return self._kept(Ending("runs to log-in and stays up", self._rungs[-1][0], stayed=True))
        rung, title = self._rungs[max(proved, self._starts)]
        line = "starts, no picture" if proved <= self._starts else f"no picture, but reaches '{title}'"
        return self._kept(Ending(line, rung))

    def _after_log_in(self, band: int, kind: str, proved: int, *, is_lit: bool) -> Ending:
        middle = sqrt((BAND_SECONDS[0], *BAND_SECONDS)[band] * BAND_SECONDS[band])
        if self._watched_seconds < middle or (kind in STANDS and not is_lit):
            return self._stays(proved, is_lit=is_lit)
        if not is_lit:
            return self._stops_dark(len(self._rungs) + band, kind, proved)
        when, seconds = next((when, at) for until, _, when, at in _TIMES if BAND_SECONDS[band] <= until)
        return self._kept(Ending(f"{KIND_WORDS[kind]} {when}", self._rungs[-1][0], "", kind, seconds))

    def _kept(self, ending: Ending) -> Ending:
        key = (ending.line, ending.reached, ending.not_reached, ending.kind, ending.seconds, ending.stayed)
        return self._endings.setdefault(key, ending)
