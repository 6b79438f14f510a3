"""The process that ranks: it reads questions from its standard input, and writes answers to its standard output.

    python -m halfsplit.ranking.worker MOST_BYTES

The first thing that it reads is the fault book.  It ends by itself when nobody is at the other end any more, even in
the middle of a ranking; and after an answer, when it holds more memory than it may: what Python has given up in small
pieces is seldom given back to the system, but for the whole of it.

What is done is left when the other end says so: a weighing where it is, for it touches nothing that is kept, an advice
between its parts.  At a signal it rests for a moment, wherever it is.
"""

import _thread
import contextlib
import ctypes
import gc
import os
import signal
import sys
import time
import traceback
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from queue import SimpleQueue
from threading import Thread
from typing import IO, Any

from halfsplit.errors import InputError
from halfsplit.ranking.parcel import REST_SECONDS, TO_REST, Answer, BreakOff, Question, receive, send
from halfsplit.ranking.ranker import Ranker

TO_BE_LEFT = "weigh"
"""What may be left in the middle of it."""


class _LeftError(BaseException):
    """What is being done is to be left where it is."""


class Leaving:
    """Says, in the midst of what is done, that it is to be left."""

    def __init__(self) -> None:
        self._is_on = False
        self._now = 0  # the number of the question that is worked on
        self._told = 0  # the number of the one that is to be left
        # Ctrl-C is for the bench, which then stops this process; here the signal is what reaches the main thread
        signal.signal(signal.SIGINT, self._leave)

    def tell(self, number: int) -> None:
        """Say of a question that it is to be left, from another thread: it may be the next one as well."""
        self._told = number
        _thread.interrupt_main(signal.SIGINT)

    def during(self, number: int, does: str, act: Callable[[], Any]) -> Any:
        """Return what is done for a question, unless it is left.

        Raises:
            _LeftError: it was.
        """
        self._now = number
        try:
            self._is_on = does == TO_BE_LEFT
            self.pause()  # it may have been told before this one was taken up
            return act()
        finally:
            self._is_on = False

    def pause(self) -> None:
        """Leave what is done, if it is to be left.

        Raises:
            _LeftError: it is.
        """
        if self._told == self._now:
            raise _LeftError

    def _leave(self, *_: object) -> None:
        if self._is_on and self._told == self._now:
            self._is_on = False
            raise _LeftError


class Resting:
    """Rests for a moment, in the midst of whatever is done; told once more meanwhile it rests from then on."""

    def __init__(self) -> None:
        self._until = 0.0
        self._is_on = False
        if TO_REST is not None:
            signal.signal(TO_REST, self._rest)

    def _rest(self, *_: object) -> None:
        self._until = time.monotonic() + REST_SECONDS
        if self._is_on:
            return
        self._is_on = True
        while (left := self._until - time.monotonic()) > 0.0:
            time.sleep(left)
        self._is_on = False


def answer(ranker: Ranker, question: Question, leaving: Leaving) -> Answer:
    """Return what a question comes to; it never raises."""
    try:
        act = partial(getattr(ranker, question.does), *question.given, **question.options)
        return Answer(leaving.during(question.number, question.does, act))
    except _LeftError:
        return Answer(is_broken_off=True)
    except InputError as error:
        return Answer(mistakes=error.mistakes)
    except Exception:  # an outer door: whoever asked is told, and goes on
        return Answer(broke=traceback.format_exc())


def resident_bytes() -> int:
    """Return how much memory this process holds; 0 where the system does not say it as Linux does."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    except (OSError, ValueError):
        return 0
    return pages * os.sysconf("SC_PAGE_SIZE")


def holds_more_than(most_bytes: int) -> bool:
    """Return whether this process holds more memory than that, after what is free was given back where it can be."""
    if resident_bytes() <= most_bytes:
        return False
    with contextlib.suppress(AttributeError):  # only glibc has it
        ctypes.CDLL(None).malloc_trim(0)
    return resident_bytes() > most_bytes


def main() -> None:
    """Answer questions until nobody asks any more."""
    leaving = Leaving()
    Resting()
    told = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # what is printed by mistake does not go among the answers
    questions: SimpleQueue[Any] = SimpleQueue()
    Thread(target=_listen, args=(sys.stdin.buffer, questions, leaving), daemon=True).start()
    most_bytes = int(sys.argv[1])
    ranker = Ranker(questions.get(), leaving.pause)
    gc.disable()  # nothing here holds itself, and looking for what does takes up to a third of a second
    is_last = False
    while not is_last:
        said = answer(ranker, questions.get(), leaving)
        is_last = holds_more_than(most_bytes)
        send(replace(said, is_last=is_last), told)
    os._exit(0)  # at once: the thread that listens would hold up an end in order


def _listen(asked: IO[bytes], questions: "SimpleQueue[Any]", leaving: Leaving) -> None:
    """Take in what is asked, and end the process at once when nobody is there any more to ask."""
    try:
        while True:
            noun = receive(asked)
            if isinstance(noun, BreakOff):
                leaving.tell(noun.number)
            else:
                questions.put(noun)
    except (EOFError, OSError):
        os._exit(0)


if __name__ == "__main__":
    main()
