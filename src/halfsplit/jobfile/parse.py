"""From the text of a job file to a job, or to everything that is wrong with it."""

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from halfsplit.errors import Mistake, by_place
from halfsplit.jobfile.entries import (
    COMMON_FIELDS,
    CORRECT,
    KINDS_OF_ENTRY,
    Written,
    as_map,
    kind_of,
    read_entry,
    read_head,
    read_id,
)
from halfsplit.jobfile.machine import MachineReader
from halfsplit.jobfile.reading import Form, Reader, closest, is_nothing, listed
from halfsplit.jobfile.shelf import read_standings
from halfsplit.jobfile.vocabulary import titles
from halfsplit.model.book import Book
from halfsplit.model.job import Correct, Entry, Job, Told
from halfsplit.yamltext import Node, load_yaml, read_yaml

WITHDRAWN = "withdrawn"
"""The field of a correction that says whether its entry is to be passed over."""

_TOP_FIELDS = {
    "name": "what the job is called",
    "machine": "what is known of the machine",
    "complaint": "the complaint class",
    "shelf": "how parts of the bench's shelf stand",
    "told": "what the owner told",
    "log": "what was done and seen",
}


def load_job(path: Path, book: Book) -> tuple[Job | None, tuple[Mistake, ...]]:
    """Return the job of a file, or None, and all its mistakes; see ``parse_job``."""
    tree, mistakes = load_yaml(path)
    return read_job(tree, mistakes, book, path.name)


def parse_job(text: str, book: Book, name: str = "job.yaml") -> tuple[Job | None, tuple[Mistake, ...]]:
    """Return the job that a text tells, or None, and all its mistakes.

    Args:
        text: YAML; the grammar is in ``docs/jobfile.md``.
        book: the compiled fault book, whose words the job file uses.
        name: the file's name, for the places.

    Returns:
        The job and no mistake; or None and every mistake (HS101 to HS153), in the order of the file.
    """
    tree, mistakes = read_yaml(text, name)
    return read_job(tree, mistakes, book, name)


def read_job(
    tree: Node | None, mistakes: list[Mistake], book: Book, name: str
) -> tuple[Job | None, tuple[Mistake, ...]]:
    """Return the job of a tree, or None, and all its mistakes, those that the tree came with too."""
    reader = Reader(book, list(mistakes))
    job = None
    if tree is not None:
        job = _job(reader, tree)
    elif not mistakes:
        so, do = "the file is empty", "Write 'machine:', 'told:' and 'log:'"
        reader.say(f"{name}:1:1", "HS113", so, "a job file is a map", do)
    if reader.mistakes:
        return None, tuple(sorted(reader.mistakes, key=by_place))
    return job, ()


def read_further(
    known: Job, nodes: Iterable[Node], mistakes: Iterable[Mistake], book: Book
) -> tuple[Job | None, tuple[Mistake, ...]]:
    """Return a job with further entries at the end of its log, or None, and all mistakes in these.

    Args:
        known: the job.
        nodes: the entries; no corrections, which need what stands in the file of those before.
        mistakes: those that the nodes came with.
        book: the compiled fault book.
    """
    reader = Reader(book, list(mistakes))
    log = _LogReader(reader)
    log.know((*known.told, *known.log))
    log.name([entry for node in nodes if (entry := _kind_and_fields(reader, node)) is not None])
    new = log.read(log.written)
    if reader.mistakes:
        return None, tuple(sorted(reader.mistakes, key=by_place))
    return replace(known, log=(*known.log, *new)), ()


def _job(reader: Reader, tree: Node) -> Job:
    form = reader.form(tree, _TOP_FIELDS, "a job file")
    machine = MachineReader(reader)
    if form.has("machine"):
        machine.read(form.fields["machine"])
    told = [("told", node) for node in _statements(form)]
    logged = [entry for node in _items(form, "log") if (entry := _kind_and_fields(reader, node)) is not None]
    log = _LogReader(reader)
    log.name([*told, *logged])
    return Job(
        name=form.text("name"),
        machine=MappingProxyType(machine.facts),
        parts=machine.owned(),
        missing=machine.missing(),
        complaint=form.word("complaint", titles(reader.book.complaints)),
        told=tuple(entry for entry in log.read(log.written[: len(told)]) if isinstance(entry, Told)),
        log=tuple(log.read(log.written[len(told) :])),
        shelf=read_standings(reader, form.fields["shelf"]) if form.has("shelf") else MappingProxyType({}),
    )


def _statements(form: Form) -> tuple[Node, ...]:
    """Return the statements of ``told:``, which may be one map alone."""
    if form.has("told") and not form.fields["told"].is_list:
        return (form.fields["told"],)
    return _items(form, "told")


def _items(form: Form, name: str) -> tuple[Node, ...]:
    if not form.has(name):
        return ()
    node = form.fields[name]
    if not node.is_list:
        do = f"Begin each {'entry' if name == 'log' else 'statement'} with '- '"
        form.reader.say(node.place, "HS113", f"'{name}' is no list", f"'{name}' is a list", do)
    return node.items()


def _kind_and_fields(reader: Reader, node: Node) -> tuple[str, Node] | None:
    """Return an entry's kind and its fields, or None with a mistake."""
    entries = node.entries()
    if len(entries) != 1:
        so = f"this entry has {len(entries)} keys: {', '.join(entries)}" if entries else "this entry is no map"
        should = f"an entry has one key, its kind: {', '.join(KINDS_OF_ENTRY)}"
        do = "Put the other fields inside the kind's own map, as in {run: {reached: log_in, by: AB}}"
        reader.say(node.place, "HS121", so, should, do)
        return None
    kind, (key, fields) = next(iter(entries.items()))
    if kind not in KINDS_OF_ENTRY:
        reader.say_word(key, "HS111", f"'{kind}' is no kind of entry", KINDS_OF_ENTRY)
        return None
    return kind, fields


class _LogReader:
    """Reads entries in their order, and knows the earlier ones so that they can be corrected."""

    def __init__(self, reader: Reader) -> None:
        self.reader = reader
        self.written: list[Written] = []
        self.done: dict[str, Written] = {}
        self._counts: dict[str, int] = {}  # by kind
        self._places: dict[str, str] = {}  # by id

    def know(self, entries: Iterable[Entry]) -> None:
        """Know entries that were read before, so that no other one gets their ids."""
        for entry in entries:
            self._count(kind_of(entry))
            self._places.setdefault(entry.id, entry.place)

    def _count(self, kind: str) -> int:
        self._counts[kind] = self._counts.get(kind, 0) + 1
        return self._counts[kind]

    def name(self, entries: Iterable[tuple[str, Node]]) -> None:
        """Give each entry its id: the one that it has, or its kind and its number among its kind."""
        for kind, node in entries:
            fields = as_map(kind, node)
            entry_id, place = f"{kind}_{self._count(kind)}", node.place
            if "id" in fields.entries() and not is_nothing(fields.entries()["id"][1]):
                id_node = fields.entries()["id"][1]
                entry_id, place = read_id(self.reader, id_node) or entry_id, id_node.place
            if entry_id in self._places:
                so = f"the id '{entry_id}' is taken by the entry at {self._places[entry_id]}"
                should = "an id names one entry; one without is named by its kind and number"
                self.reader.say(place, "HS122", so, should, "Write another id")
            self._places.setdefault(entry_id, node.place)
            self.written.append(Written(kind, entry_id, fields))

    def read(self, entries: Iterable[Written]) -> list[Entry]:
        """Return the entries."""
        return [self.entry(written) for written in entries]

    def entry(self, written: Written) -> Entry:
        """Return one entry; it can be corrected from now on."""
        if written.kind == CORRECT:
            return self.correction(written)
        self.done[written.id] = written
        return read_entry(self.reader, written)

    def correction(self, written: Written) -> Correct:
        """Return a correction: fields that it names replace the entry's own, or take them away (``~``).

        An entry that is withdrawn is kept: a later correction brings it back.
        """
        fields = written.node.entries()
        form = self.reader.form(written.node, list(fields), "an entry 'correct'")
        head = read_head(form, written.id)
        if not form.need("entry", "Write the id of the entry to correct, as in {entry: run_2, cold: yes}"):
            return Correct(head.id, head.place, head.by, head.at)
        node = form.fields["entry"]
        if node.text not in self.done:
            near = closest(node.text, list(self.done))
            do = f"Did you mean '{near[0]}'? Write it so" if near else "Write the id of an entry further up"
            should = listed(self.done, near) if self.done else "there is no entry before this one"
            so = f"no entry '{node.text}' comes before this one"
            self.reader.say(node.place, "HS123", so, should, do)
            return Correct(head.id, head.place, head.by, head.at)
        before = self.done[node.text]
        is_withdrawn = form.yes_no(WITHDRAWN)
        changes = {name: pair for name, pair in fields.items() if name not in ("entry", WITHDRAWN, *COMMON_FIELDS)}
        if is_withdrawn and changes:
            so, do = f"this correction withdraws the entry and changes its {', '.join(changes)}", "Do one of the two"
            self.reader.say(form.place, "HS124", so, "an entry that is withdrawn needs no change", do)
        if is_withdrawn:
            return Correct(head.id, head.place, head.by, head.at, entry=before.id)
        if not changes and is_withdrawn is None:
            do = "Write the fields that change, as in {entry: run_2, cold: yes}"
            self.reader.say(form.place, "HS117", "this correction changes nothing", "it names a field", do)
        merged = Node(before.node.place, MappingProxyType({**before.node.entries(), **changes}))
        after = Written(before.kind, before.id, merged)
        self.done[before.id] = after
        now = read_entry(self.reader, after)
        return Correct(head.id, head.place, head.by, head.at, entry=before.id, now=now)
