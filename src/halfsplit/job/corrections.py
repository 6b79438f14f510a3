"""The log with its corrections applied: a wrong entry is replaced at its old place or passed over, never erased."""

from collections.abc import Iterable
from dataclasses import replace

from halfsplit.errors import Mistake
from halfsplit.model.job import Correct, Entry, Job, Told


def apply_corrections(job: Job, mistakes: list[Mistake]) -> tuple[tuple[Told, ...], tuple[Entry, ...]]:
    """Return the statements and the log of a job as they should have been all along.

    Args:
        job: the job, with its corrections among the entries.
        mistakes: HS201 goes here, for each correction of an entry that does not come before it.

    Returns:
        All statements, those within the log after those told at intake; and the log without
        corrections and statements, each entry at its old place and with its own id; what is withdrawn
        is left out.
    """
    now: dict[str, Entry | None] = {}
    for entry in (*job.told, *job.log):
        if not isinstance(entry, Correct):
            now[entry.id] = entry
        elif entry.entry not in now:
            mistakes.append(
                Mistake(
                    entry.place or entry.id,
                    "HS201",
                    f"'{entry.entry}' is corrected, but no such entry comes before",
                    "a correction names an earlier entry by its id",
                    "Write the id of the entry that was wrong",
                )
            )
        else:
            now[entry.entry] = replace(entry.now, id=entry.entry) if entry.now is not None else None
    kept = tuple(entry for entry in now.values() if entry is not None)
    return tuple(_only_told(kept)), tuple(entry for entry in kept if not isinstance(entry, Told))


def _only_told(entries: Iterable[Entry]) -> list[Told]:
    return [entry for entry in entries if isinstance(entry, Told)]
