"""Words: which may be ids, and which was probably meant by one that is not known."""

import difflib
import re
from collections.abc import Iterable

_ID = re.compile(r"[a-z0-9_]*[a-z][a-z0-9_]*", re.ASCII)

_MOST_LISTED = 20
"""More words than these are not listed in a sentence."""


def is_id(text: str) -> bool:
    """Return whether a word may be an id: lower-case letters, digits and underscores, one letter at least.

    Example:
        >>> is_id("rail_5vsb"), is_id("Rail 5"), is_id("12")
        (True, False, False)
    """
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
    if len(known) > _MOST_LISTED:
        return "Write one that is there, or add it"
    return f"Write one of {', '.join(known)}"
