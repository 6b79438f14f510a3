"""Something more for a job that there is already: entries for its log, or what is now known of the machine.

The places of mistakes are those in the text that is put on; the job before it keeps its own.
"""

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

from halfsplit.errors import Mistake
from halfsplit.jobfile.entries import CORRECT, ITEM
from halfsplit.jobfile.parse import read_further, read_job
from halfsplit.jobfile.reading import is_empty
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.yamltext import Node, read_yaml

BEFORE = "job.yaml"
"""What the job before is called in places."""

MOST_LINES = 1024
"""Lines of logs that are kept as read; those used longest ago go first."""


def parse_entries(
    text: str, before: str, book: Book, name: str = "entry", *, known: Job | None = None
) -> tuple[Job | None, tuple[Mistake, ...]]:
    """Return a job with further entries at the end of its log, or None, and all mistakes.

    Args:
        text: one entry (``run: {reached: log_in}``), or a list of them.
        before: the job file that they are put on.
        book: the compiled fault book.
        name: what the text is called in places.
        known: the job that ``before`` tells, if that was read already; then it is read again for corrections only.
    """
    added, mistakes = read_yaml(text, name)
    if added is None or is_empty(added):
        return None, tuple(mistakes) or (_nothing(name),)
    items = added.items() if added.is_list else (added,)
    if known is not None and not any(CORRECT in item.entries() for item in items):
        return read_further(known, items, mistakes, book)
    tree, wrong = _tree(before)
    place = Node(added.place, "log", "log")
    log = tree.get("log", (place, Node(added.place, ())))
    entries = (*log[1].items(), *items)
    whole = {**tree, "log": (log[0], Node(log[1].place, entries))}
    return read_job(_node(whole), [*wrong, *mistakes], book, name)


def parse_machine(text: str, before: str, book: Book, name: str = "machine") -> tuple[Job | None, tuple[Mistake, ...]]:
    """Return a job of whose machine more is known, or None, and all mistakes.

    Args:
        text: a job file without a log; each of its fields, and each field within ``machine``, takes the place of the
            one before, ``~`` takes it away.
        before: the job file that it is put on.
        book: the compiled fault book.
        name: what the text is called in places.
    """
    added, mistakes = read_yaml(text, name)
    if added is None:
        return None, tuple(mistakes) or (_nothing(name),)
    tree, wrong = _tree(before)
    more = added.entries()
    for key in ("told", "log"):
        if key in more:
            so, should = f"'{key}' stands here", "this says what is known of the machine, and the complaint"
            mistakes.append(Mistake(more[key][0].place, "HS111", so, should, "Enter it in the log"))
    whole = {**tree, **more}
    if "machine" in tree and "machine" in more and more["machine"][1].is_map:
        machine, known = more["machine"], tree["machine"][1].entries()
        whole["machine"] = (machine[0], _node({**known, **machine[1].entries()}))
    return read_job(_node(whole) if added.is_map else added, [*wrong, *mistakes], book, name)


def _tree(before: str) -> tuple[Mapping[str, tuple[Node, Node]], list[Mistake]]:
    by_lines = _by_lines(before)
    if by_lines is not None:
        return by_lines, []
    tree, mistakes = read_yaml(before, BEFORE)
    return ({} if tree is None else tree.entries()), mistakes


def _by_lines(before: str) -> Mapping[str, tuple[Node, Node]] | None:
    """Return the tree of a job file whose log has a line for each entry: of a log that only grows each is read once.

    None where it is not written so, or has mistakes; then it is to be read as a whole.
    """
    head, is_found, log = f"\n{before}".partition("\nlog:\n")
    lines = log.splitlines()
    if not is_found or not lines or not all(line.startswith(ITEM) for line in lines):
        return None
    if before.splitlines() != before.removesuffix("\n").split("\n"):
        return None  # YAML counts other ends of lines as well
    tree, mistakes = read_yaml(f"{head[1:]}\n", BEFORE)
    top = {} if tree is None else tree.entries()
    if mistakes or "log" in top or (tree is not None and not tree.is_map):
        return None
    first = head.count("\n") + 2
    items = [_item(line, first + n) for n, line in enumerate(lines)]
    known = tuple(item for item in items if item is not None)
    if len(known) < len(items):
        return None
    key = Node(f"{BEFORE}:{first - 1}:1", "log", "log")
    return {**top, "log": (key, Node(f"{BEFORE}:{first}:{ITEM.index('-') + 1}", known))}


@lru_cache(maxsize=MOST_LINES)
def _item(line: str, number: int) -> Node | None:
    """Return the one entry that a line of a log is, at its place; None where it is not one, without a mistake."""
    tree, mistakes = read_yaml("\n" * (number - 1) + line, BEFORE)
    items = () if tree is None else tree.items()
    return items[0] if len(items) == 1 and not mistakes else None


def _node(entries: Mapping[str, tuple[Node, Node]]) -> Node:
    return Node(f"{BEFORE}:1:1", MappingProxyType(dict(entries)))


def _nothing(name: str) -> Mistake:
    return Mistake(f"{name}:1:1", "HS113", "nothing is written here", "it is a map", "Write what is to be entered")
