"""The desk: what every page is made from, an open bench and what weighs its jobs."""

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import cached_property, lru_cache, partial
from pathlib import Path
from types import MappingProxyType

from halfsplit.actions import Bench, erase_due
from halfsplit.book import Basis, bases, list_sources, shipped_book, shipped_book_dir
from halfsplit.errors import StoreError
from halfsplit.ranking import RankerProcess
from halfsplit.settings import Settings, load_settings
from halfsplit.store import open_store
from halfsplit.web.once import Once
from halfsplit.web.weigher import Weigher


def _now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True)
class Desk:
    """What every page is made from.

    Args:
        bench: the bench, its store open.
        weigher: what weighs its jobs.
        clock: what says which moment it is.
        once: what forms have come to that were sent already.
    """

    bench: Bench
    weigher: Weigher = field(repr=False)
    clock: Callable[[], datetime] = field(default=_now, repr=False)
    once: Once = field(default_factory=Once, repr=False)

    def settings(self) -> Settings:
        """Return what the bench has set."""
        return load_settings(self.bench.store)

    def today(self) -> date:
        """Return the day at the bench, by the clock of its computer."""
        return self.clock().astimezone().date()

    @cached_property
    def numbers(self) -> tuple[Basis, ...]:
        """Every number of the fault book with what it rests on; read once, when a page of the book is asked for."""
        return tuple(bases([shipped_book_dir()]))

    @cached_property
    def sources(self) -> Mapping[str, str]:
        """Every published source that the fault book names, id -> citation; read once, as the numbers are."""
        return MappingProxyType(list_sources([shipped_book_dir()]))

    def erase_due(self) -> None:
        """Erase the persons whose day has come, where that was not done today."""
        self._erase_due_on(self.today())

    @cached_property
    def _erase_due_on(self) -> Callable[[date], None]:
        return lru_cache(maxsize=1)(partial(_erase_due, self.bench))

    def close(self) -> None:
        """Stop weighing, and close the store."""
        self.weigher.close()
        self.bench.store.close()


def open_desk(folder: Path, *, url: str = "", key_path: Path | None = None) -> Desk:
    """Open a bench, its store made or brought up to date; persons whose day has come are erased.

    Args:
        folder: see ``open_store``.
        url: see ``open_store``.
        key_path: see ``open_store``.

    Raises:
        StoreError: the folder, the database or the key cannot be used.
        BookError: the shipped book has mistakes.
    """
    bench = Bench(open_store(folder, url=url, key_path=key_path), shipped_book())
    desk = Desk(bench, Weigher(bench, lambda: load_settings(bench.store).rates, RankerProcess(bench.book)))
    desk.erase_due()
    return desk


def _erase_due(bench: Bench, today: date) -> None:
    """Erase the persons whose day has come; what is left to do is said where the bench was started, and on no page."""
    try:
        erase_due(bench, today, person_days=load_settings(bench.store).person_days)
    except StoreError as error:
        print(error, file=sys.stderr, flush=True)
