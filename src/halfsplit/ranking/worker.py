"""The process that ranks: it reads questions from its standard input, and writes answers to its standard output.

    python -m halfsplit.ranking.worker MOST_BYTES

The first thing that it reads is the fault book.  It ends by itself when nobody is at the other end any more, even in
the middle of a ranking; and after an answer, when it holds more memory than it may: what Python has given up in small
pieces is seldom given back to the system, but for the whole of it.
"""

import os
import signal
import sys
import traceback
from dataclasses import replace
from pathlib import Path
from queue import SimpleQueue
from threading import Thread
from typing import IO, Any

from halfsplit.errors import InputError
from halfsplit.ranking.parcel import Answer, Question, receive, send
from halfsplit.ranking.ranker import Ranker

POLITE = 5
"""So much more patient than the pages is this process, in steps of the system's own: a tap goes before a ranking."""


def answer(ranker: Ranker, question: Question) -> Answer:
    """Return what a question comes to; it never raises."""
    try:
        return Answer(getattr(ranker, question.does)(*question.given, **question.options))
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


def main() -> None:
    """Answer questions until nobody asks any more."""
    if hasattr(os, "nice"):
        os.nice(POLITE)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the bench, which then stops this process
    told = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # what is printed by mistake does not go among the answers
    questions: SimpleQueue[Any] = SimpleQueue()
    Thread(target=_listen, args=(sys.stdin.buffer, questions), daemon=True).start()
    most_bytes = int(sys.argv[1])
    ranker = Ranker(questions.get())
    is_last = False
    while not is_last:
        said = answer(ranker, questions.get())
        is_last = resident_bytes() > most_bytes
        send(replace(said, is_last=is_last), told)
    os._exit(0)  # at once: the thread that listens would hold up an end in order


def _listen(asked: IO[bytes], questions: "SimpleQueue[Any]") -> None:
    """Take in what is asked, and end the process at once when nobody is there any more to ask."""
    try:
        while True:
            questions.put(receive(asked))
    except (EOFError, OSError):
        os._exit(0)


if __name__ == "__main__":
    main()
