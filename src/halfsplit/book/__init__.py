"""The fault book: YAML files in, one frozen ``Book`` out, or every mistake with its place.

The files are read as text with places (``yamltext``), joined layer over layer (``layers``), read as nouns
field by field (``form`` and the sections), checked as a whole (``sense``, ``kin``, ``moves``), tried out
(``trial``) and kept (``cache``).  How to write a book is in ``docs/book.md``.
"""

from halfsplit.book.basis import Basis, bases, write_bases
from halfsplit.book.layers import Change
from halfsplit.book.load import check_book, list_changes, load_book, shipped_book, shipped_book_dir

__all__ = [
    "Basis",
    "Change",
    "bases",
    "check_book",
    "list_changes",
    "load_book",
    "shipped_book",
    "shipped_book_dir",
    "write_bases",
]
