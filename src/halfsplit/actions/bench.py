"""The bench: an open store, the fault book, and what was worked out lately."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from threading import Lock
from typing import Any, TypeVar, cast

from halfsplit.model.book import Book
from halfsplit.store import Store

_T = TypeVar("_T")

MOST_REMEMBERED = 64
"""Answers kept in memory; the ones used longest ago go first."""


class Memory:
    """Answers that need not be worked out again as long as their key is the same."""

    def __init__(self) -> None:
        self._answers: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Hashable, work_out: Callable[[], _T]) -> _T:
        """Return the answer kept under a key, or work it out and keep it."""
        with self._lock:
            if key in self._answers:
                self._answers.move_to_end(key)
                return cast(_T, self._answers[key])
        answer = work_out()
        self.keep(key, answer)
        return answer

    def keep(self, key: Hashable, answer: object) -> None:
        """Keep an answer under a key."""
        with self._lock:
            self._answers[key] = answer
            while len(self._answers) > MOST_REMEMBERED:
                self._answers.popitem(last=False)


@dataclass(frozen=True)
class Bench:
    """What every action needs.

    Args:
        store: where everything is kept.
        book: the fault book; the shelf in it is that of the store wherever the store has the part.
    """

    store: Store
    book: Book = field(repr=False)
    memory: Memory = field(default_factory=Memory, repr=False, compare=False)


def in_utc(now: datetime) -> str:
    """Return a moment as it is kept: ISO 8601 in UTC, to the second.

    Raises:
        ValueError: the moment does not say in which time zone it is.
    """
    if now.tzinfo is None:
        raise ValueError("a moment has a time zone")
    return now.astimezone(UTC).isoformat(timespec="seconds")


def in_days(now: datetime, days: int) -> str:
    """Return the day so many days after a moment as it is kept: ISO 8601."""
    return (now + timedelta(days=days)).date().isoformat()
