"""How a pattern shows, said in words: conditions, endings, strengths."""

from collections.abc import Iterable, Mapping
from fractions import Fraction
from math import log
from typing import Protocol

from halfsplit.job.amounts import amount, length_in_words
from halfsplit.job.lines import title_of_slot
from halfsplit.model.book import Book
from halfsplit.model.faults import Act, Cure, Ending, Looks, Reads, Strength, When

_KINDS = {"cuts_out": "cuts out", "resets": "resets", "freezes": "freezes", "stays": "stops"}


class Titled(Protocol):
    """Anything of a book with a title."""

    @property
    def title(self) -> str:
        """As the trade says it."""


class Speech:
    """Says the nouns of one book in words.

    Args:
        book: the fault book, for the titles and the strength words.
    """

    def __init__(self, book: Book) -> None:
        self._book = book

    def strength(self, strength: Strength) -> str:
        """Return the word of a strength; a number of its own comes with the word that is nearest in odds."""
        if strength.word:
            return strength.word.replace("_", " ")
        words = {word: each.p for word, each in self._book.strengths.items() if 0.0 < each.p < 1.0}
        if not words or not 0.0 < strength.p < 1.0:
            return f"{strength.p:g}"
        nearest = min(words, key=lambda word: abs(_log_odds(words[word]) - _log_odds(strength.p)))
        return f"{nearest.replace('_', ' ')} ({strength.p:g})"

    def when(self, when: When) -> str:
        """Return a condition in words, "" where anything goes."""
        yes_or_no = (
            (when.cold, "cold", "warm"),
            (when.lead_out, "after the lead was out", "with the lead left in"),
            (when.in_case, "in the case", "out of the case"),
        )
        said = [yes if so else no for so, yes, no in yes_or_no if so is not None]
        said += [f"under load on {_or(when.load)}"] if when.load else []
        said += [] if when.minutes_over is None else [f"after more than {amount(when.minutes_over, 'minutes')}"]
        book = self._book
        titled = (
            ("", when.position, titles(book.positions)),
            ("", when.touched, titles(book.touches)),
            ("started by ", when.started_by, titles(book.starters)),
            ("first start after: ", when.first_after, titles(book.events, book.repairs, book.openings)),
            ("monitor on the ", when.output, titles(book.outputs)),
            ("on the ", when.host, titles(book.hosts)),
        )
        said += [lead + _or([title[word] for word in words]) for lead, words, title in titled if words]
        said += [f"with {', '.join(map(self.slot, when.has))}"] if when.has else []
        said += [f"without {', '.join(map(self.slot, when.lacks))}"] if when.lacks else []
        return ", ".join(said)

    def slot(self, slot: str) -> str:
        """Return the title of a slot with its number."""
        return title_of_slot(slot, self._book)

    def place(self, at: str) -> str:
        """Return the title of a part or joint."""
        joints, kinds = self._book.joints, self._book.kinds
        return joints[at].title if at in joints else kinds[at].title

    def ending(self, ending: Ending) -> str:
        """Return what one ending shows, in words."""
        said: list[str] = []
        kind = _KINDS[ending.kind]
        if ending.not_reached:
            title = {rung.id: rung.title for rung in self._book.ladder.rungs}[ending.not_reached]
            said.append(f"{kind} before '{title}'")
        elif ending.seconds is not None:
            since = "after the start" if ending.from_start else "after log-in"
            said.append(f"{kind} about {length_in_words(ending.seconds)} {since}")
        said += [f"no picture ({word.replace('.', ', ').replace('_', ' ')})" for word in ending.dark]
        said += [self._book.signs[sign].said(was=True) for sign in ending.shows]
        said += [self._book.signs[sign].said(was=False) for sign in ending.hides]
        return ", ".join(said)

    def act(self, act: Act) -> str:
        """Return what a pattern does in runs of one kind."""
        said = [word for word in (self.when(act.when), f"with {self.place(act.of)} in" if act.of else "") if word]
        condition = f"{', '.join(said)}: " if said else ""
        if len(act.endings) == 1:
            return f"{condition}{self.strength(act.q)} {self.ending(act.endings[0])}"
        endings = "; ".join(f"{ending.share:.0%} {self.ending(ending)}" for ending in act.endings)
        return f"{condition}{self.strength(act.q)}, of which {endings}"

    def look(self, look: Looks) -> str:
        """Return what an inspection finds."""
        title = self._book.inspections[look.inspection].title
        return f"{title}: {look.word.replace('_', ' ')}, seen {self.strength(look.catch)}"

    def read(self, read: Reads) -> str:
        """Return where a measurement lies."""
        condition = self.when(read.when)
        title = self._book.measurements[read.measurement].title
        return f"{title}: {self.strength(read.q)} {read.state}{f' ({condition})' if condition else ''}"

    def cure(self, cure: Cure) -> str:
        """Return how surely a repair cures."""
        comes = f"; brings it in {self.strength(cure.comes)}" if cure.comes is not None and cure.comes.p > 0.0 else ""
        return f"{self._book.repairs[cure.repair].title}: {self.strength(cure.goes)}{comes}"


def titles(*maps: Mapping[str, Titled]) -> dict[str, str]:
    """Return id -> title of some maps of a book."""
    return {name: noun.title for each in maps for name, noun in each.items()}


MOST_IN = 20
"""A large chance is said as so many in no more than so many ..."""

_LARGE = 1.0 - 1.0 / MOST_IN
"""... up to here; what is larger still by how seldom it is not so."""


def chance(p: float) -> str:
    """Return a chance as people say it: so many in so many, however large it is.

    Example:
        >>> [chance(p) for p in (0.0, 0.011, 0.2, 0.6, 0.8, 0.97, 1.0)]
        ['never', '1 in 91', '1 in 5', '3 in 5', '4 in 5', '32 in 33', 'always']
    """
    if p <= 0.0:
        return "never"
    if p >= 1.0:
        return "always"
    if p <= 0.5:
        return f"1 in {round(1.0 / p)}"
    if p > _LARGE:
        many = round(1.0 / (1.0 - p))
        return f"{many - 1} in {many}"
    near = Fraction(p).limit_denominator(MOST_IN)
    return f"{near.numerator} in {near.denominator}"


def odds(p: float, p_other: float, least: float) -> str:
    """Return how far one result moves the odds between two faults.

    Args:
        p: its chance with the one, > ``p_other``.
        p_other: its chance with the other.
        least: nothing is believed more firmly than a misreading is rare.

    Example:
        >>> odds(0.8, 0.01, 0.005), odds(0.6, 0.0, 0.005), odds(0.6, 0.4, 0.005)
        ('80 to 1', 'more than 120 to 1', '1.5 to 1')
    """
    ratio = p / max(p_other, least)
    more = "more than " if p_other < least else ""
    return f"{more}{ratio:.2g} to 1" if ratio < 100.0 else f"{more}{ratio:.0f} to 1"


def _or(words: Iterable[str]) -> str:
    return " or ".join(words)


def _log_odds(p: float) -> float:
    return log(p / (1.0 - p))
