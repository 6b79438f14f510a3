"""Check a book from a shell: ``python -m halfsplit.book [DIR...]`` prints every mistake, one a line."""

import sys

from halfsplit.book.load import load_book, shipped_book_dir

_, mistakes = load_book(*sys.argv[1:]) if sys.argv[1:] else load_book(shipped_book_dir())
for mistake in mistakes:
    print(mistake)
sys.exit(1 if mistakes else 0)
