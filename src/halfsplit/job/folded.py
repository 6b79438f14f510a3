"""A folded job: the evidence, and what is needed to show what comes of it."""

from collections.abc import Mapping
from dataclasses import dataclass

from halfsplit.model.book import Book
from halfsplit.model.evidence import Evidence
from halfsplit.model.job import Run
from halfsplit.model.machine import Setup


@dataclass(frozen=True)
class RootNote:
    """What is known of a root besides its numbers.

    Args:
        fault: the fault's id, or "" for a part of the bench's own.
        title: as the trade says it.
        things: the ids of the parts and joints that it may have a foothold on.
        in_machine: whether it has one in the owner's machine as it stands now.
        is_unlisted: whether it stands for what the book does not know.
        matters: whether it must be mended before the machine is handed back.
    """

    fault: str
    title: str
    things: tuple[str, ...]
    in_machine: bool
    is_unlisted: bool
    matters: bool


@dataclass(frozen=True)
class Folded:
    """A job as evidence, and what is needed to show what comes of it.

    Args:
        evidence: for the engine.
        roots: root id -> what is known of it.
        lines: reading id -> one line for people.
        entries: reading id -> the entries that it is of.
        readings: entry id -> the readings that it is part of.
        things: part or joint -> its title.
        runs: the runs of the log as corrected.
        setups: host -> its setup now.
        facts: what is known of the machine.
        spoken: the fault book to speak of this machine with; see ``lines.book_of``.
    """

    evidence: Evidence
    roots: Mapping[str, RootNote]
    lines: Mapping[str, str]
    entries: Mapping[str, tuple[str, ...]]
    readings: Mapping[str, tuple[str, ...]]
    things: Mapping[str, str]
    runs: tuple[Run, ...]
    setups: Mapping[str, Setup]
    facts: Mapping[str, object]
    spoken: Book
