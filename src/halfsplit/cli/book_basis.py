"""``halfsplit book basis``: what every number of the fault book rests on, as a page."""

from halfsplit.book import bases, shipped_book_dir, write_bases


def show_bases() -> None:
    """Print the page; ``docs/basis.md`` is what this prints."""
    print(write_bases(bases([shipped_book_dir()])), end="")
