"""What a form that is sent twice is done once for: a double tap, or a page that is loaded again."""

import secrets
from collections.abc import Callable
from threading import Lock

MOST_MARKS = 256
"""Forms that are remembered, the last ones; a bench that is started anew remembers none."""


def new_mark() -> str:
    """Return a mark for one form that is shown."""
    return secrets.token_urlsafe(12)


class Once:
    """Remembers what came of forms, by their marks."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._came_of: dict[str, int] = {}

    def do(self, mark: str, act: Callable[[], int]) -> int:
        """Return what a form comes to: it is done the first time only; "" = it has no mark, and is done each time.

        What is refused is not remembered: the form may be sent again.
        """
        with self._lock:
            if mark in self._came_of:
                return self._came_of[mark]
            number = act()
            if mark:
                self._came_of[mark] = number
                if len(self._came_of) > MOST_MARKS:
                    del self._came_of[next(iter(self._came_of))]
            return number
