"""What somebody entered last in a log, with one tap, and what of it can still be taken back."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from halfsplit.actions.onfile import INTAKE
from halfsplit.model.job import Correct, Entry, unsigned
from halfsplit.store.log import LogLine

UNDO = timedelta(seconds=10)
"""How long what somebody entered can be taken back by one tap."""

Said = Entry | str | None
"""What an entry says, or what is known of the machine; None = it is not there, or withdrawn."""


def last_lines(lines: Sequence[LogLine], *, by: str, now: datetime) -> tuple[LogLine, ...]:
    """Return what somebody entered last in a log, with one tap; nothing where that is longer ago than ``UNDO``.

    Args:
        lines: the log.
        by: initials.
        now: the moment.

    Returns:
        Their lines with the mark of one tap, in order; of lines from before there were marks, those of one second.
        What is known of the machine is entered by itself, and the opening of the job is not taken back.
    """
    mine = [line for line in lines if line.initials == by]
    if not mine or now - datetime.fromisoformat(mine[-1].at) > UNDO:
        return ()
    last = mine[-1]
    if last.kind == INTAKE:
        return (last,) if last.seq > 1 else ()
    return tuple(line for line in mine if (line.tap, line.at) == (last.tap, last.at) and line.kind != INTAKE)


def last_tap(lines: Sequence[LogLine], log: Sequence[Entry], *, by: str, now: datetime) -> tuple[LogLine, ...]:
    """Return what somebody entered last that is not taken back; nothing where that is longer ago than ``UNDO``.

    Args:
        lines: the log.
        log: the entries that it tells.
        by: initials.
        now: the moment.
    """
    return last_lines(_not_taken_back(lines, {entry.id: entry for entry in log}), by=by, now=now)


def _not_taken_back(lines: Sequence[LogLine], entries: Mapping[str, Entry]) -> Sequence[LogLine]:
    """Return the lines of a log without those that were taken back at once, and without those that did it."""
    left: dict[str, list[LogLine]] = {}
    sayings: dict[str, list[Said]] = {}
    for line in lines:
        of, said = _said_by(line, entries.get(line.entry))
        held, known = left.setdefault(of, []), sayings.setdefault(of, [None])
        if held and known[-2] == said and _is_at_once(held[-1], line):
            held.pop()
            known.pop()
        else:
            held.append(line)
            known.append(said)
    kept = {line.seq for held in left.values() for line in held}
    return [line for line in lines if line.seq in kept]


def _said_by(line: LogLine, entry: Entry | None) -> tuple[str, Said]:
    """Return what a line is of, and what is so of that with it."""
    match entry:
        case None:
            return (INTAKE if line.kind == INTAKE else line.entry), line.text
        case Correct():
            return entry.entry, unsigned(entry.now) if entry.now is not None else None
        case _:
            return entry.id, unsigned(entry)


def _is_at_once(line: LogLine, after: LogLine) -> bool:
    """Return whether the same person entered a line so soon after another that it may have taken that back."""
    since = datetime.fromisoformat(after.at) - datetime.fromisoformat(line.at)
    return line.initials == after.initials and since <= UNDO
