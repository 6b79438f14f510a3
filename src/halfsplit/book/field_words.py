"""Where a number of a book belongs, in words: what stands beside the path by which a file names it."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from halfsplit.book.speech import Titled, titles
from halfsplit.model.book import Book

_NAMED: Mapping[str, tuple[str, Callable[[Book], tuple[Mapping[str, Titled], ...]]]] = MappingProxyType(
    {
        "after": ("added after", lambda book: (book.events,)),
        "made_by": ("brought in by", lambda book: (book.openings, book.repairs)),
        "cures": ("repair", lambda book: (book.repairs,)),
        "likelier": ("times as likely with", lambda book: (book.facts,)),
        "given": ("by", lambda book: (book.facts,)),
        "looks": ("seen at", lambda book: (book.inspections,)),
        "disturbs": ("disturbs", lambda book: (book.joints,)),
        "faults": ("suspected", lambda book: (book.faults,)),
        "patterns": ("pattern", lambda _: ()),
    }
)
"""A step of a path that an id follows -> what is said before the title, and where the title is found."""

_STEPS: Mapping[str, str] = MappingProxyType(
    {
        "base": "how often, in a machine of five years",
        "wear": "wear with age (Weibull shape)",
        "goes": "how often it cures",
        "comes": "how often it brings the fault in",
        "share": "share",
        "acts": "effect",
        "ends": "ending",
        "cuts_out": "time until it cuts out",
        "freezes": "time until it freezes",
        "resets": "time until it resets",
        "minutes_over": "only after so long",
        "chance": "chance",
        "harm": "harm at a power-up",
        "catch": "how often it is seen",
        "p_true": "how often it is true when it is told",
        "eases": "times as likely by wear after it",
        "q": "how often",
        "p_good": "chance that it is good",
        "fades": "how fast that falls with time",
        "harms": "chance that it harms a part at a power-up",
        "p_proper": "chance that it is done properly",
        "told_anyway": "how often it is told when it is not so",
        "false_alarm": "how often it is seen when it is not so",
        "low": "lower limit",
        "high": "upper limit",
        "spread": "how far outside a bad value lies",
        "reach": "how much of it can be seen with it",
        "slip": "how often what is told is wrong",
        "hands_on": "of hands",
        "place": "of a place on the bench",
        "days": "days of waiting",
        "minutes": "time",
        "seconds": "seconds",
        "price": "price",
        "worth": "worth",
        "lead_out": "mains lead out before",
        "values": "how often",
        "raised": "raised when",
    }
)
"""A step of a path -> what it is in words."""

_PAIRS: Mapping[tuple[str, str, str], str] = MappingProxyType(
    {
        ("openings", "time", "1"): "time to open",
        ("openings", "time", "2"): "time to close",
        ("ladder", "seconds", "1"): "earliest, from the start",
        ("ladder", "seconds", "2"): "latest, from the start",
    }
)
"""Section, what is said of a pair of numbers, and which of them -> what it is in words."""

_SILENT = frozenset({"stop", "when", "conditions"})
"""Steps that only hold others."""


def field_in_words(field: str, book: Book) -> str:
    """Return where a number belongs within its entry, in words.

    Args:
        field: its path from the section on: ``faults.board_dead.after.smoke``; items of a list are counted from 1.
        book: the fault book, for the titles.

    Example:
        ``field_in_words("faults.board_dead.after.smoke", book)`` is "added after 'smoke seen'".
    """
    section, entry, *steps = field.split(".")
    if section == "strengths":
        return f"the word '{_plain(entry)}'"
    said: list[str] = []
    rest = iter(steps)
    for step in rest:
        pair = (section, said[-1] if said else "", step)
        if step in _NAMED:
            lead, nouns = _NAMED[step]
            name = next(rest)
            said.append(f"{lead} '{titles(*nouns(book)).get(name, _plain(name))}'")
        elif pair in _PAIRS:
            said[-1] = _PAIRS[pair]
        elif step.isdigit() and said:
            said[-1] = f"{said[-1]} {step}"
        elif step not in _SILENT:
            said.append(_STEPS.get(step, _plain(step)))
    return ", ".join(said)


def _plain(word: str) -> str:
    return word.replace("_", " ")
