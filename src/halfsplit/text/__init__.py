"""Words for people: numbers as they are said, entries by their names, and the reasons of an advice."""

from halfsplit.job.amounts import length_in_words
from halfsplit.text.advice import named, reasons_of, title_of
from halfsplit.text.entries import entry_name
from halfsplit.text.numbers import in_words, money_in_words, range_in_words

__all__ = [
    "entry_name",
    "in_words",
    "length_in_words",
    "money_in_words",
    "named",
    "range_in_words",
    "reasons_of",
    "title_of",
]
