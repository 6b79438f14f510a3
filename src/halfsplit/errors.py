"""Every way halfsplit says no.

A mistake is data: a code, a place, what is so, what should be so, and what to do.  Readers of
files return *all* their mistakes in a list; anything that cannot go on raises an
``InputError`` that carries them.  The sentence is made here and nowhere else.

Codes are ``HS`` and three digits; the first digit names the room that says no:
1 job files, 2 the model, 3 the fault book, 4 the engine, 5 measurements, 6 the plan, 7 what is
kept, 8 the pages, 9 the command line.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Mistake:
    """One thing that is not as it should be.

    Args:
        place: where it is: ``file:line:col``, a field, or an option.
        code: ``HS`` and three digits; documented in ``docs/errors.md``.
        so: what is so, as half a sentence ("the patterns add up to 0.95").
        should: what should be so ("they must add up to 1").
        do: what to do about it, imperative ("Change one of them by +0.05").
    """

    place: str
    code: str
    so: str
    should: str
    do: str

    def __str__(self) -> str:
        return f"{self.code} {self.place}: {self.so}; {self.should}. {self.do}."


def by_place(mistake: Mistake) -> tuple[list[str | int], Mistake]:
    """Return the key that sorts mistakes by place, line 2 before line 12."""
    pieces = re.split(r"([0-9]+)", mistake.place)
    return [int(piece) if n % 2 else piece for n, piece in enumerate(pieces)], mistake


class InputError(Exception):
    """Somebody's input is not as it should be; ``mistakes`` has every one of them."""

    def __init__(self, mistakes: Iterable[Mistake]) -> None:
        self.mistakes: tuple[Mistake, ...] = tuple(sorted(mistakes, key=by_place))
        super().__init__("\n".join(str(mistake) for mistake in self.mistakes))


class JobFileError(InputError):
    """A job file cannot be read as a job."""


class ModelError(InputError):
    """A noun of the model was asked to be something that it cannot be."""


class BookError(InputError):
    """The fault book has mistakes that keep it from being used."""


class ImpossibleReadingsError(InputError):
    """The readings of a job cannot all be true under the fault book.

    ``readings`` is an irreducible set of them: together they cannot be, without any one of them they can.
    """

    def __init__(self, readings: Iterable[str]) -> None:
        self.readings = tuple(readings)
        super().__init__(
            [
                Mistake(
                    ", ".join(self.readings),
                    "HS401",
                    "these readings cannot all be true under the fault book",
                    "a sound machine or some set of faults must be able to show all of them",
                    "Look again at each of them and correct the one that is wrong",
                )
            ]
        )


class TooLargeError(InputError):
    """Readings too rich to be weighed with nothing left out; ``pairs`` is how many were to be joined at once."""

    def __init__(self, pairs: int, most: int) -> None:
        self.pairs = pairs
        super().__init__(
            [
                Mistake(
                    "readings",
                    "HS402",
                    f"with nothing left out, {pairs:,} pairs of rows would have to be joined at once",
                    f"at most {most:,} fit into memory",
                    "Weigh them with a limit: what is left out is then bounded, and the bound is told",
                )
            ]
        )


class TooManySignsError(InputError):
    """A run of which so many signs are told that they part it into more ways than can be weighed."""

    def __init__(self, reading: str, most: int) -> None:
        super().__init__(
            [
                Mistake(
                    reading,
                    "HS403",
                    f"the signs told of this run part it into more than {most:,} ways in which it can have gone",
                    "so many cannot be told apart in one run",
                    "Leave out the signs that nobody looked for, or tell how far it came",
                )
            ]
        )


class MeasurementError(InputError):
    """A meter, a limit or a number from an instrument makes no sense."""


class PlanError(InputError):
    """What the planner is asked makes no sense."""


class StoreError(InputError):
    """What is kept cannot be opened, read or changed as was asked."""


class WebError(InputError):
    """A page was asked for, or sent, something that it cannot use."""


class UsageError(InputError):
    """A command was called with something it cannot use."""
