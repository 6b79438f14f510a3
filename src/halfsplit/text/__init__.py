"""Words for people: numbers as they are said, and the reasons of an advice."""

from halfsplit.text.advice import named, reasons_of, title_of
from halfsplit.text.numbers import in_words, length_in_words, money_in_words, range_in_words

__all__ = [
    "in_words",
    "length_in_words",
    "money_in_words",
    "named",
    "range_in_words",
    "reasons_of",
    "title_of",
]
