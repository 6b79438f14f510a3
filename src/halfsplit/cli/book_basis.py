"""``halfsplit book basis``: what every number of the fault book rests on, as a page."""

from halfsplit.book import bases, list_sources, shipped_book_dir, write_bases


def show_bases() -> None:
    """Print the page; ``docs/basis.md`` is what this prints."""
    dirs = [shipped_book_dir()]
    print(write_bases(bases(dirs), list_sources(dirs)), end="")
