"""What goes between the process that asks and the one that ranks: questions and answers, as bytes on their way.

The nouns hold read-only views of dictionaries, which Python does not pack by itself; here they are packed as what they
are views of.  Only what halfsplit itself has packed is ever unpacked: both ends of the pipe are its own.
"""

import copyreg
import pickle
import signal
from dataclasses import dataclass
from io import BytesIO
from types import MappingProxyType
from typing import IO, Any

from halfsplit.errors import Mistake

TO_REST = getattr(signal, "SIGUSR1", None)
"""The signal to rest; None where the system has none, and then nothing rests."""

REST_SECONDS = 0.12
"""So long what is worked out rests when somebody taps: until what was tapped is on the page."""


@dataclass(frozen=True)
class Question:
    """What is asked of the process: the name of what a ``Ranker`` does, and what it is to be done with.

    Args:
        number: of the question, from 1.
        does: what is done.
        given, options: with what.
    """

    number: int
    does: str
    given: tuple[Any, ...]
    options: dict[str, Any]


@dataclass(frozen=True)
class BreakOff:
    """What is asked is not waited for any more: something else is wanted first.

    Args:
        number: of the question; one that is answered already is left as it is.
    """

    number: int


@dataclass(frozen=True)
class Answer:
    """What a question came to.

    Args:
        found: what was found, or None.
        mistakes: why nothing was.
        broke: where the fault is ours, what Python said of it.
        is_broken_off: whether it was left where it was, as it was told to.
        is_last: whether the process ends now, because it holds too much; another one begins afresh.
    """

    found: Any = None
    mistakes: tuple[Mistake, ...] = ()
    broke: str = ""
    is_broken_off: bool = False
    is_last: bool = False


def pack(noun: object) -> memoryview:
    """Return a noun as it is sent."""
    packed = BytesIO()
    _Packer(packed, pickle.HIGHEST_PROTOCOL).dump(noun)
    return packed.getbuffer()


def send(noun: object, pipe: IO[bytes]) -> None:
    """Send a noun.

    Raises:
        OSError: nobody is at the other end.
    """
    send_packed(pack(noun), pipe)


def send_packed(packed: memoryview, pipe: IO[bytes]) -> None:
    """Send a noun that is packed already.

    Raises:
        OSError: nobody is at the other end.
    """
    pipe.write(packed)
    pipe.flush()


def receive(pipe: IO[bytes]) -> Any:
    """Return the next noun that was sent; waits for it.

    Raises:
        EOFError: nobody is at the other end.
    """
    try:
        return pickle.load(pipe)
    except pickle.UnpicklingError as error:  # broken off in the middle
        raise EOFError from error


def _read_only(items: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(items)


def _packed(view: MappingProxyType[Any, Any]) -> tuple[Any, ...]:
    return _read_only, (dict(view),)


class _Packer(pickle.Pickler):
    dispatch_table = {**copyreg.dispatch_table, MappingProxyType: _packed}  # noqa: RUF012 - pickle's own way
