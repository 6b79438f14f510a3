"""The fault book: YAML files in, one frozen ``Book`` out, or every mistake with its place.

The files are read as text with places (``yamltext``), joined layer over layer (``layers``), read as nouns
field by field (``form`` and the sections), checked as a whole (``sense``, ``kin``, ``moves``), tried out
(``trial``) and kept (``cache``).  An entry is shown as a ``page``, in the words of ``speech``; an
owner's words find their ``offers``.  How to write a book is in ``docs/book.md``.
"""

from halfsplit.book.basis import Basis, bases, list_sources, write_bases
from halfsplit.book.field_words import field_in_words
from halfsplit.book.layers import Change
from halfsplit.book.load import check_book, list_changes, load_book, shipped_book, shipped_book_dir
from halfsplit.book.offers import Offer, find_offers
from halfsplit.book.page import Page, list_entries, near_ids, page_of, sections_of

__all__ = [
    "Basis",
    "Change",
    "Offer",
    "Page",
    "bases",
    "check_book",
    "field_in_words",
    "find_offers",
    "list_changes",
    "list_entries",
    "list_sources",
    "load_book",
    "near_ids",
    "page_of",
    "sections_of",
    "shipped_book",
    "shipped_book_dir",
    "write_bases",
]
