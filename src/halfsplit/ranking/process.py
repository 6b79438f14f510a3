"""A ranker in a process of its own: asked like one that is here, started when it is needed, stopped when told."""

import contextlib
import os
import subprocess
import sys
from collections.abc import Mapping
from functools import cached_property
from threading import Lock
from types import MappingProxyType
from typing import IO, cast

from halfsplit.errors import InputError
from halfsplit.job.advised import Advice
from halfsplit.job.weighed import Weighed
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.model.rates import Rates
from halfsplit.ranking.parcel import TO_REST, Answer, BreakOff, Question, pack, receive, send, send_packed
from halfsplit.ranking.ranks import Shelf

WORKER = "halfsplit.ranking.worker"

MODEST: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1"),
        "MALLOC_MMAP_THRESHOLD_": f"{1 << 20}",
        "MALLOC_TRIM_THRESHOLD_": f"{16 << 20}",
        "MALLOC_ARENA_MAX": "1",
    }
)
"""What keeps numpy to one core, so that one is left for the pages, and keeps the memory of a table for the next one:
a ranking makes thousands, and to fetch each from the system takes half as long as the ranking itself.  With another C
library than glibc the last three do nothing."""


POLITE, MOST_POLITE = 10, 19
"""So much more patient than the pages is the process, in steps of the system's own, and the most that there is: a tap
goes before a ranking, and before the start of what ranks."""

MOST_BYTES = 240_000_000
"""What the process may hold after an answer: with some 140 MB of the pages it stays below 400 MB."""


class RankerDiedError(Exception):
    """The process that ranks ended before it had answered; the next question starts another one."""


class BrokenOffError(Exception):
    """What was asked was left where it was, because something else is wanted first."""


class RankerProcess:
    """Weighs jobs and advises on them in another process; asked by one thread at a time, closed by any.

    The process is started with the first question, and the book is sent to it.

    Args:
        book: the fault book.
        most_bytes: a process that holds more after an answer ends, and another one begins afresh.
    """

    def __init__(self, book: Book, *, most_bytes: int = MOST_BYTES) -> None:
        self._book = book
        self._most_bytes = most_bytes
        self._lock = Lock()
        self._sending = Lock()
        self._is_closed = False
        self._has_book = False
        self._number = 0  # of the question that was asked last
        self._is_up = False  # whether it has answered: before that it heeds no signal
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def pid(self) -> int | None:
        """The number that the system knows the process by, or None where there is none."""
        process = self._process
        return None if process is None else process.pid

    def weigh(self, job: Job, shelf: Shelf) -> Weighed:
        """Return what ``Ranks.weigh`` says.

        Raises:
            InputError: as there.
            BrokenOffError: it was told to leave it.
            RankerDiedError: the process ended meanwhile.
        """
        return cast(Weighed, self._ask("weigh", job, shelf))

    def advise(self, job: Job, shelf: Shelf, rates: Rates, *, shown: str) -> Advice:
        """Return what ``Ranks.advise`` says.

        Raises:
            InputError: as there.
            BrokenOffError: it was told to leave it.
            RankerDiedError: the process ended meanwhile.
        """
        return cast(Advice, self._ask("advise", job, shelf, rates, shown=shown))

    def break_off(self) -> None:
        """Leave what is asked now; may be called by any thread, and waits for nothing."""
        with self._lock:
            process = self._process
        if process is not None and self._sending.acquire(blocking=False):  # else a question is only on its way
            try:
                with contextlib.suppress(OSError, ValueError):  # one that died is told of by its answer
                    send(BreakOff(self._number), _pipes(process)[0])
            finally:
                self._sending.release()

    def rest(self) -> None:
        """Let what is asked now rest for ``REST_SECONDS``; may be called by any thread, and waits for nothing.

        By a signal: who reads the pipe over there has to wait until what is worked out lets it.
        """
        with self._lock:
            process, is_up = self._process, self._is_up
        if process is not None and is_up and TO_REST is not None:
            process.send_signal(TO_REST)

    def close(self) -> None:
        """End the process, whatever it is doing; whoever waits for it is told that it died."""
        with self._lock:
            self._is_closed = True
        self._drop()

    def _ask(self, does: str, *given: object, **options: object) -> object:
        try:
            asked, told = _pipes(self._running())
            with self._sending:
                self._number += 1
                send(Question(self._number, does, given, options), asked)
            answer: Answer = receive(told)
            self._is_up = True
        except (OSError, EOFError, ValueError) as error:  # ValueError: closed by another thread
            self._drop()
            raise RankerDiedError from error
        if answer.is_last:
            self._drop()
            with contextlib.suppress(OSError):  # then the next question tries again
                self._begin()
        if answer.is_broken_off:
            raise BrokenOffError
        if answer.mistakes:
            raise InputError(answer.mistakes)
        if answer.broke:
            raise RuntimeError(answer.broke)
        return answer.found

    def _running(self) -> "subprocess.Popen[bytes]":
        """Return the process, started anew where it died, with the book sent to it."""
        with self._lock:
            process = self._process
        if process is None:
            process = self._begin()
        if process is None:
            raise EOFError
        if not self._has_book:
            with self._sending:
                send_packed(self._packed, _pipes(process)[0])
            self._has_book = True
        return process

    @cached_property
    def _packed(self) -> memoryview:
        """The book, packed once: every thread of the bench waits meanwhile, and a ranker ends now and then."""
        return pack(self._book)

    def _begin(self) -> "subprocess.Popen[bytes] | None":
        """Start another process, unless all is over."""
        with self._lock:
            if not self._is_closed:
                self._process, self._has_book, self._is_up = self._start(), False, False
            return self._process

    def _start(self) -> "subprocess.Popen[bytes]":
        # -P: nothing is imported from the folder that the bench happens to be started in
        command, pipe = [sys.executable, "-P", "-m", WORKER, str(self._most_bytes)], subprocess.PIPE
        process = subprocess.Popen(command, stdin=pipe, stdout=pipe, env={**os.environ, **MODEST})
        if hasattr(os, "setpriority"):
            patience = min(os.getpriority(os.PRIO_PROCESS, 0) + POLITE, MOST_POLITE)
            with contextlib.suppress(OSError):  # it has ended already: the first question finds that out
                os.setpriority(os.PRIO_PROCESS, process.pid, patience)
        return process

    def _drop(self) -> None:
        with self._lock:
            process, self._process = self._process, None
        if process is not None:
            _end(process)


def _pipes(process: "subprocess.Popen[bytes]") -> tuple[IO[bytes], IO[bytes]]:
    """Return what a process reads from and what it writes to."""
    assert process.stdin is not None
    assert process.stdout is not None
    return process.stdin, process.stdout


def _end(process: "subprocess.Popen[bytes]") -> None:
    """End a process, and wait until it is gone."""
    process.kill()
    process.wait()
    for pipe in _pipes(process):
        with contextlib.suppress(OSError):  # what was still to be sent has nowhere to go
            pipe.close()
