"""Entries as the text that puts them on a log: what an answer button carries."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from halfsplit.jobfile import write_job
from halfsplit.jobfile.entries import kind_of
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Job
from halfsplit.yamltext import NOT_YAML

_HEAD = "log:\n"


def entry_text(entries: Iterable[Entry], book: Book) -> str:
    """Return entries as a list in the job file's form, without ids: each gets the next of its kind.

    Args:
        entries: the entries, in order; at least one.
        book: the fault book, for the units.
    """
    counts: dict[str, int] = {}
    named = []
    for entry in entries:
        kind = kind_of(entry)
        counts[kind] = counts.get(kind, 0) + 1
        named.append(replace(entry, id=f"{kind}_{counts[kind]}", by="", at=""))
    lines = write_job(Job(log=tuple(named)), book).removeprefix(_HEAD).splitlines()
    return "\n".join(line.removeprefix("  ") for line in lines)


def quoted(words: str) -> str:
    """Return words as a quoted text of the job file; what it cannot hold, such as a control character, is a blank.

    Example:
        >>> quoted('it said "no"')
        '"it said \\\\"no\\\\""'
    """
    plain = " ".join(NOT_YAML.sub(" ", words).split())
    escaped = plain.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def fields_text(kind: str, fields: Mapping[str, str]) -> str:
    """Return one entry of fields that are written already; those that are "" are left out."""
    return f"- {kind}: {{{', '.join(f'{name}: {value}' for name, value in fields.items() if value)}}}"
