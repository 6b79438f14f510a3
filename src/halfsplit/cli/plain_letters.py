"""What a terminal shows that lacks a sign: letters that say the same, and a "?" for what no letters say."""

import codecs

PLAIN_LETTERS = "halfsplit.plain_letters"
"""The name under which a stream knows it (``errors=PLAIN_LETTERS``)."""

_LETTERS = {
    "\u00a0": " ",
    "\u2018": "'",
    "\u2019": "'",
    "\u201c": '"',
    "\u201d": '"',
    "Ω": "ohm",
    "°": "deg ",
    "→": "->",
}


def _write_plainly(error: UnicodeError) -> tuple[str, int]:
    """Return letters for what cannot be encoded, and where to go on.

    Raises:
        UnicodeError: it is not encoded but read.
    """
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(_LETTERS.get(sign, "?") for sign in error.object[error.start : error.end]), error.end


codecs.register_error(PLAIN_LETTERS, _write_plainly)
