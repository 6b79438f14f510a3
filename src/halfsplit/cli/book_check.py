"""``halfsplit book check``: every mistake of a fault book, one a line."""

from pathlib import Path

from halfsplit.book import check_book, list_changes, shipped_book_dir

MISTAKES_EXIT = 1
"""The exit code when a book has mistakes."""


def show_mistakes(folder: Path | None, over: Path | None) -> int:
    """Check a book, print what a bench's own one changes in it, and every mistake.

    Args:
        folder: the book's folder; None = the book that comes with halfsplit.
        over: the folder of a book that is laid over it, or None.

    Returns:
        The exit code: 0, or 1 where there are mistakes.
    """
    dirs = [folder or shipped_book_dir(), *([over] if over is not None else [])]
    book, mistakes = check_book(*dirs)
    for change in list_changes(*dirs):
        fields = f": {', '.join(change.fields)}" if change.fields else ""
        print(f"{change.place} {change.kind} {change.section} {change.id}{fields}")
    for mistake in mistakes:
        print(mistake)
    if book is not None:
        counts = {"faults": book.faults, "checks": book.checks, "repairs": book.repairs, "signs": book.signs}
        print(f"{', '.join(f'{len(nouns)} {name}' for name, nouns in counts.items())}; {_count(len(mistakes))}.")
        return MISTAKES_EXIT if mistakes else 0
    print(f"{_count(len(mistakes))}.")
    return MISTAKES_EXIT


def _count(many: int) -> str:
    return "no mistake" if many == 0 else "1 mistake" if many == 1 else f"{many} mistakes"
