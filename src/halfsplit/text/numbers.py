"""Numbers in words: round, honest, and the same everywhere.

Nobody at a bench can use 41.73 %.  A probability becomes the nearest of a few fractions that people
say, near in odds, because from 1 in 100 to 1 in 50 is as far as from 1 in 2 to 2 in 3.
"""

import math

from halfsplit.job.amounts import with_symbol


def _log_odds(p: float) -> float:
    return math.log(p / (1.0 - p))


_FRACTIONS = (
    (1, 100),
    (1, 50),
    (1, 20),
    (1, 10),
    (1, 5),
    (1, 4),
    (1, 3),
    (1, 2),
    (2, 3),
    (3, 4),
    (4, 5),
    (9, 10),
    (19, 20),
)
_PLACES = tuple((_log_odds(of / many), of, many) for of, many in _FRACTIONS)
"""The fractions, each with its place in log odds."""

_ALMOST_CERTAIN = 0.98
_HARDLY = 0.01


def in_words(p: float) -> str:
    """Return a probability as people say it.

    Args:
        p: a probability in [0, 1].

    Returns:
        "ruled out" and "certain" only for 0 and 1 themselves; "less than 1 in 100" below 0.01, "almost
        certain" from 0.98; else the fraction nearest in log odds.

    Example:
        >>> [in_words(p) for p in (0.0, 0.004, 0.06, 0.63, 0.99, 1.0)]
        ['ruled out', 'less than 1 in 100', 'about 1 in 20', 'about 2 in 3', 'almost certain', 'certain']
    """
    if p <= 0.0:
        return "ruled out"
    if p >= 1.0:
        return "certain"
    if p < _HARDLY:
        return "less than 1 in 100"
    if p >= _ALMOST_CERTAIN:
        return "almost certain"
    at = _log_odds(p)
    _, of, many = min(_PLACES, key=lambda place: abs(at - place[0]))
    return f"about {of} in {many}"


def range_in_words(low: float, high: float) -> str:
    """Return a range of a probability in words; one word when both ends are the same.

    Example:
        >>> range_in_words(0.3, 0.88), range_in_words(0.32, 0.35)
        ('1 in 3 to 9 in 10', 'about 1 in 3')
    """
    first, last = in_words(low), in_words(high)
    return first if first == last else f"{first.removeprefix('about ')} to {last.removeprefix('about ')}"


def money_in_words(cents: float, currency: str = "") -> str:
    """Return a sum of money in round numbers: small ones to half a unit, the smallest to a tenth.

    Args:
        cents: the sum.
        currency: as in ISO 4217, "" where the bench's own is not known.

    Example:
        >>> [money_in_words(cents) for cents in (0, 130, 4_310, 31_250)], money_in_words(4_310, "EUR")
        (['0', '1.50', '43', '310'], '43\\xa0EUR')
    """
    whole = cents / 100.0
    if whole >= 100:
        said = f"{round(whole, -1):.0f}"
    elif whole >= 10:
        said = f"{whole:.0f}"
    else:
        near = round(2.0 * whole) / 2.0 if whole >= 1 else round(whole, 1)
        said = f"{near:.2f}" if near else "0"
    return with_symbol(said, currency)
