"""``halfsplit weigh``: read a job file, weigh it, and show what came out."""

import json
import sys
from collections.abc import Callable
from pathlib import Path

from halfsplit.book import shipped_book
from halfsplit.errors import JobFileError
from halfsplit.job.weighed import Weighed
from halfsplit.jobfile.parse import load_job
from halfsplit.model.book import Book
from halfsplit.model.job import Job


def show_weighed(path: Path, weigh_job: Callable[[Job, Book], Weighed], *, as_json: bool) -> None:
    """Weigh the job in a file and print the result.

    Args:
        path: the job file.
        weigh_job: what weighs a job by a fault book.
        as_json: as JSON, for programs; else for a person at a terminal.

    Raises:
        JobFileError: the job file has mistakes; with all of them.
        BookError: the shipped book has mistakes.
    """
    book = shipped_book()
    job, mistakes = load_job(path, book)
    if job is None:
        raise JobFileError(mistakes)
    weighed = weigh_job(job, book)
    if as_json:
        print(json.dumps(weighed.to_json(), indent=2, allow_nan=False))
        return
    from rich.console import Console  # noqa: PLC0415  JSON needs no screen

    from halfsplit.cli.sheet import print_sheet  # noqa: PLC0415  JSON needs no screen

    print_sheet(weighed, Console(file=sys.stdout, highlight=False))
