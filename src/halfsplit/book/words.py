"""What a scalar may be: a number, yes or no, a time; and the word that was probably meant."""

import difflib
import math
import re
from collections.abc import Iterable

_NUMBER = re.compile(r"[-+]?(?:(?:0|[1-9]\d*)(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?", re.ASCII)
_TIME = re.compile(rf"({_NUMBER.pattern})\s*(s|min|h)", re.ASCII)
_ID = re.compile(r"[a-z0-9_]*[a-z][a-z0-9_]*", re.ASCII)
_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}
_YES = frozenset({"yes", "true"})
_NO = frozenset({"no", "false"})
_NOTHING = frozenset({"", "~", "null", "Null", "NULL"})

_LISTED = 12  # more words than these are not listed in a sentence


def parse_number(text: str) -> float | None:
    """Return the finite number that a plain scalar is, or None.

    A number is written as in JSON, a sign and a bare point allowed too; ``012`` and ``1_000`` are words.

    Example:
        >>> parse_number("1e-3"), parse_number("-12"), parse_number("012"), parse_number("12:30")
        (0.001, -12.0, None, None)
    """
    if _NUMBER.fullmatch(text) is None:
        return None
    number = float(text)
    return number if math.isfinite(number) else None


def parse_seconds(text: str) -> float | None:
    """Return a time in seconds, or None.

    Example:
        >>> parse_seconds("6 min"), parse_seconds("1h"), parse_seconds("6 minutes")
        (360.0, 3600.0, None)
    """
    match = _TIME.fullmatch(text)
    if match is None:
        return None
    seconds = float(match[1]) * _SECONDS[match[2]]
    return seconds if math.isfinite(seconds) and seconds >= 0 else None


def parse_yes_no(text: str) -> bool | None:
    """Return what ``yes``, ``no``, ``true`` or ``false`` says, or None.

    Example:
        >>> parse_yes_no("yes"), parse_yes_no("off")
        (True, None)
    """
    if text in _YES:
        return True
    return False if text in _NO else None


def is_nothing(text: str) -> bool:
    """Return whether a plain scalar says that nothing is there."""
    return text in _NOTHING


def is_typed(text: str) -> bool:
    """Return whether YAML 1.2 reads a plain scalar as a number, a truth value or nothing, and not as text."""
    return text in _NOTHING or text in {"true", "false"} or parse_number(text) is not None


def is_id(text: str) -> bool:
    """Return whether a word may be an id: lower-case letters, digits and underscores, one letter at least."""
    return _ID.fullmatch(text) is not None


def write_one_of(word: str, options: Iterable[str]) -> str:
    """Return what to do about a word that is not among the options: the likeliest one, or all of them.

    Example:
        >>> write_one_of("memroy", ["memory", "supply"])
        "Did you mean 'memory'? Write it so"
        >>> write_one_of("zzz", ["memory", "supply"])
        'Write one of memory, supply'
    """
    known = list(options)
    close = difflib.get_close_matches(word.lower(), known, n=1)
    if close:
        return f"Did you mean '{close[0]}'? Write it so"
    if not known:
        return "Leave it out: there is none yet"
    if len(known) > _LISTED:
        return "Write one that is there, or add it"
    return f"Write one of {', '.join(known)}"
