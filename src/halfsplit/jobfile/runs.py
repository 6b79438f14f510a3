"""Entries about whole machines: what the owner told, runs, and changes of the setup."""

from types import MappingProxyType

from halfsplit.jobfile.reading import Form, is_empty
from halfsplit.jobfile.seen import SEEN_FIELDS, read_conditions, read_seen
from halfsplit.jobfile.slots import read_swaps, slot_keys
from halfsplit.jobfile.vocabulary import SURE, titles
from halfsplit.model.job import ChangeSetup, Entry, Run, Seen, Told
from halfsplit.yamltext import Node

_MOST_RUNS = 10_000
_CASE = {"in": "the board is in the case", "out": "the board is out of the case"}


def read_told(entry: Entry, form: Form) -> Told:
    """Return one statement of the owner."""
    reader = form.reader
    has_seen = any(form.has(name) and not is_empty(form.fields[name]) for name in SEEN_FIELDS)
    if form.has("event") and has_seen:
        so, do = "this tells an event and what a run showed", "Make two statements of it"
        reader.say(form.place, "HS144", so, "a statement tells one thing", do)
    if not (form.has("event") or has_seen or form.has("words")):
        do = "Write an event, or what was seen, or the owner's words"
        reader.say(form.place, "HS144", "this tells nothing", "a statement tells one thing", do)
    happened = form.yes_no("happened")
    return Told(
        entry.id,
        entry.place,
        entry.by,
        entry.at,
        event=form.word("event", titles(reader.book.events)),
        is_true=True if happened is None else happened,
        ago=form.text("ago"),
        seen=read_seen(form) if has_seen else None,
        always=form.yes_no("always"),
        conditions=read_conditions(form),
        sure=form.word("sure", SURE, "fairly"),
        words=form.text("words"),
    )


def read_run(entry: Entry, form: Form) -> Run:
    """Return one run, or several equal ones."""
    reader = form.reader
    swaps: dict[str, str] = {}
    if form.has("with"):
        node = form.fields["with"]
        reader.form(node, titles(reader.book.kinds), "'with'", slot_keys(reader.book, node))
        swaps = read_swaps(reader, node)
    output = form.word("output", titles(reader.book.outputs))
    seen = read_seen(form, output)
    failed, of = _count(form)
    if failed == 0:
        if seen.stop is not None or seen.not_reached:
            so, do = "no run failed, but this tells of a stop", "Leave out 'failed: 0', or the stop and 'not'"
            reader.say(form.fields["failed"].place, "HS145", so, "a run that stops has failed", do)
        seen = Seen(reader.book.ladder.rungs[-1].id, stayed=True, picture=seen.picture, signs=seen.signs)
        failed = of
    return Run(
        entry.id,
        entry.place,
        entry.by,
        entry.at,
        on=form.word("on", titles(reader.book.hosts), "owner"),
        swaps=MappingProxyType(swaps),
        output=output,
        case=form.word("case", _CASE),
        conditions=read_conditions(form),
        seen=seen,
        failed=failed,
        of=of,
    )


def _count(form: Form) -> tuple[int, int]:
    """Return how many runs showed this, of how many."""
    reader = form.reader
    of = reader.whole(form.fields["of"], (1, _MOST_RUNS), "of") if form.has("of") else 1
    if not form.has("failed"):
        return of, of
    failed = reader.whole(form.fields["failed"], (0, _MOST_RUNS), "failed")
    if form.need("of", "Write of how many runs, as in {failed: 3, of: 5}") and failed > of:
        so = f"{failed} runs of {of} failed"
        should = "not more can fail than there were"
        reader.say(form.fields["failed"].place, "HS145", so, should, "Count again")
    return failed, of


def read_setup(entry: Entry, form: Form, node: Node) -> ChangeSetup:
    """Return a change of the setup; ``node`` is the map that has its slots as keys."""
    return ChangeSetup(
        entry.id,
        entry.place,
        entry.by,
        entry.at,
        on=form.word("on", titles(form.reader.book.hosts), "owner"),
        swaps=MappingProxyType(read_swaps(form.reader, node)),
        output=form.word("output", titles(form.reader.book.outputs)),
        case=form.word("case", _CASE),
    )
