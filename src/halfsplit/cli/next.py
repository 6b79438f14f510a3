"""``halfsplit next`` and ``halfsplit plan``: what to do next on a job, and the way ahead as a tree."""

import json
import sys
from collections.abc import Callable
from pathlib import Path

from halfsplit.book import shipped_book
from halfsplit.errors import JobFileError
from halfsplit.job.advised import Advice
from halfsplit.job.ahead import Step
from halfsplit.job.lines import book_of
from halfsplit.job.trail import walk_job
from halfsplit.job.weigh import weigh_job
from halfsplit.jobfile.parse import load_job
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.settings import Settings

_CURRENCY = Settings().currency
"""Of every sum: a job in a file is of no bench that has set its own."""


def show_next(path: Path, advise: Callable[..., Advice], *, as_json: bool) -> None:
    """Print what to do next on the job in a file.

    Args:
        path: the job file.
        advise: what gives advice on a job by a fault book, with the job weighed as ``weighed``.
        as_json: as JSON, for programs; else for a person at a terminal.

    Raises:
        JobFileError: the job file has mistakes; with all of them.
        BookError: the shipped book has mistakes.
    """
    book, job = _load(path)
    advice = advise(job, book, weighed=weigh_job(job, book))
    if as_json:
        print(json.dumps(advice.to_json(), indent=2, allow_nan=False))
        return
    from rich.console import Console  # noqa: PLC0415  JSON needs no screen

    from halfsplit.cli.card import print_advice  # noqa: PLC0415  JSON needs no screen

    spoken = book_of(walk_job(job, book), book)
    print_advice(advice, spoken, Console(file=sys.stdout, highlight=False), _CURRENCY)


def show_plan(path: Path, plan_ahead: Callable[[Job, Book], Step]) -> None:
    """Print the way ahead of the job in a file, as a tree.

    Args:
        path: the job file.
        plan_ahead: what plans a job by a fault book.

    Raises:
        JobFileError: the job file has mistakes; with all of them.
        BookError: the shipped book has mistakes.
    """
    book, job = _load(path)
    top = plan_ahead(job, book)
    from rich.console import Console  # noqa: PLC0415  only this command needs it

    from halfsplit.cli.card import print_steps  # noqa: PLC0415  only this command needs it

    print_steps(top, Console(file=sys.stdout, highlight=False), _CURRENCY)


def _load(path: Path) -> tuple[Book, Job]:
    book = shipped_book()
    job, mistakes = load_job(path, book)
    if job is None:
        raise JobFileError(mistakes)
    return book, job
