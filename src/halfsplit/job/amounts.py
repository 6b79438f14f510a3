"""Amounts for people: a number with its symbol, a length of time, and how many there are of something.

The symbols are those of the SI (the SI Brochure, 9th edition, tables 2, 4, 7 and 8), with a space between the number
and the symbol (its section 5.4.3); here it is one at which no line is broken.  "rpm" is the trade's.
"""

from collections.abc import Mapping
from types import MappingProxyType

NO_BREAK = "\u00a0"
"""A space at which no line is broken."""

SYMBOLS: Mapping[str, str] = MappingProxyType(
    {
        "volts": "V",
        "ohms": "Ω",
        "watts": "W",
        "celsius": "°C",
        "rpm": "rpm",
        "seconds": "s",
        "minutes": "min",
        "hours": "h",
    }
)
"""Word of a unit, as files have it -> what people read behind a number."""

_LARGE = ((1e9, "G"), (1e6, "M"), (1e3, "k"))
_LARGE_OHMS = 1_000.0
"""From here on a resistance is said in thousands, as a meter shows it."""

_SMALL_VOLTS = 0.1
"""Below this a voltage is said in thousandths, as a meter shows it."""

_WEEK, _DAY, _HOUR, _MINUTE = 604_800.0, 86_400.0, 3600.0, 60.0


def with_symbol(number: object, symbol: str) -> str:
    """Return a number that is written already with its symbol.

    Example:
        >>> with_symbol("11.4 to 12.6", "V")
        '11.4 to 12.6\\xa0V'
    """
    return f"{number}{NO_BREAK}{symbol}" if symbol else f"{number}"


def amount(value: float, unit: str) -> str:
    """Return a number with the symbol of its unit.

    Args:
        value: the number.
        unit: the word of its unit, one of ``SYMBOLS``, or "days"; "" = none.  Others stand as they are.

    Example:
        >>> [amount(11.42, "volts"), amount(0.05, "volts"), amount(4_700, "ohms"), amount(1, "days")]
        ['11.42\\xa0V', '50\\xa0mV', '4.7\\xa0kΩ', '1\\xa0day']
    """
    if unit == "days":
        return counted(value, "day")
    symbol = SYMBOLS.get(unit, unit)
    if unit == "ohms" and abs(value) >= _LARGE_OHMS:
        size, prefix = next((size, prefix) for size, prefix in _LARGE if abs(value) >= size)
        return with_symbol(f"{value / size:g}", f"{prefix}{symbol}")
    if unit == "volts" and 0.0 < abs(value) < _SMALL_VOLTS:
        return with_symbol(f"{value * 1000:g}", f"m{symbol}")
    return with_symbol(f"{value:g}", symbol)


def is_one(number: object) -> bool:
    """Return whether a number is said of one thing: then what it counts has no plural."""
    return f"{number:g}" == "1" if isinstance(number, int | float) else str(number) == "1"


def counted(many: float, one: str, several: str = "") -> str:
    """Return how many there are of something.

    Args:
        many: how many.
        one: what one of them is called.
        several: what more are called; "" = as one, with an s.

    Example:
        >>> counted(1, "day"), counted(2.5, "day"), counted(2, "boot loop")
        ('1\\xa0day', '2.5\\xa0days', '2\\xa0boot loops')
    """
    return f"{many:g}{NO_BREAK}{one if is_one(many) else several or f'{one}s'}"


def length_in_words(seconds: float) -> str:
    """Return a length of time in the largest unit that it fills, in two digits or whole.

    Example:
        >>> [length_in_words(seconds).replace(NO_BREAK, " ") for seconds in (0.5, 30, 360, 5400, 259_200, 1_209_600)]
        ['0.5 s', '30 s', '6 min', '1.5 h', '3 days', '2 weeks']
    """
    units = ((_WEEK, "week"), (_DAY, "day"), (_HOUR, "hours"), (_MINUTE, "minutes"), (1.0, "seconds"))
    size, unit = next(((size, unit) for size, unit in units if seconds >= size), (1.0, "seconds"))
    number = float(f"{seconds / size:.2g}") if seconds / size < 100 else round(seconds / size)
    return amount(number, unit) if unit in SYMBOLS else counted(number, unit)
