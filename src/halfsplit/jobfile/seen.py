"""What a run showed, and under which conditions: the fields that a run and an owner's statement share."""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.jobfile.reading import Form, Reader
from halfsplit.jobfile.slots import NOT_THERE
from halfsplit.jobfile.vocabulary import CONDITIONS, STOPS, after_words, titles
from halfsplit.model.job import NO, UNSURE, YES, Seen, StopSeen
from halfsplit.model.ladder import KINDS
from halfsplit.model.machine import Conditions
from halfsplit.yamltext import Node, seconds, yes_or_no

SEEN_FIELDS = ("reached", "not", "stop", "picture", "signs")
CONDITION_FIELDS = CONDITIONS

IN_USE = "used"
"""Where a picture is told without its output: the output that the monitor is on."""

SELF_TEST, SYSTEM = "self_test", "system"
_SYSTEM_RUNGS = ("system_loads", "log_in")
_MOST_MINUTES = 100_000.0


def read_conditions(form: Form) -> Conditions:
    """Return the conditions of a run; the load may also stand inside ``stop``."""
    reader = form.reader
    book = reader.book
    load = form.word("load", titles(book.loads))
    stop = form.fields.get("stop")
    inner = stop.entries().get("load") if stop is not None else None
    if inner is not None:
        stop_load = reader.word(inner[1], titles(book.loads), "load")
        if load and stop_load and load != stop_load:
            so = f"the stop came under '{stop_load}', but the run has the load '{load}'"
            do = "Leave one of the two out, or make two entries"
            reader.say(inner[1].place, "HS141", so, "a run has one load", do)
        load = load or stop_load
    return Conditions(
        cold=form.yes_no("cold"),
        load=load or "idle",
        minutes=_minutes(reader, form.fields.get("minutes")),
        lead_out_minutes=_lead_out(reader, form.fields.get("lead_out")),
        position=form.word("position", titles(book.positions)),
        touched=form.word("touched", titles(book.touches)),
        started_by=form.word("started_by", titles(book.starters)),
        first_after=form.word("first_after", after_words(book)),
    )


def read_seen(form: Form, output: str = "") -> Seen:
    """Return what a run showed.

    Args:
        form: the fields of the run.
        output: the output that the monitor was on in this run, if it says so.
    """
    reader = form.reader
    rungs = {rung.id: rung.title for rung in reader.book.ladder.rungs}
    reached, missed = form.word("reached", rungs), form.word("not", rungs)
    if reached and missed and reader.book.ladder.place(reached) >= reader.book.ladder.place(missed):
        so = f"it reached '{reached}', but not '{missed}' which comes no later"
        do = "Look again which of the two was seen"
        reader.say(form.fields["not"].place, "HS142", so, "the rungs are reached in their order", do)
    stop, stayed = _stop(reader, form.fields["stop"]) if form.has("stop") else (None, False)
    if stayed and missed:
        so = f"it did not stop, but '{missed}' was not reached"
        do = "Write 'stop: stays' where it stays on and gets no further, or leave one of the two out"
        reader.say(form.fields["stop"].place, "HS142", so, "a run that does not stop reaches every rung", do)
    return Seen(
        reached=reached,
        not_reached=missed,
        stop=stop,
        stayed=stayed,
        picture=_picture(reader, form.fields["picture"], output, reached) if form.has("picture") else {},
        signs=_signs(reader, form.fields["signs"]) if form.has("signs") else {},
    )


def _minutes(reader: Reader, node: Node | None) -> float | None:
    if node is None:
        return None
    if seconds(node) is not None:
        return round(reader.seconds(node, "minutes") / 60, 9)
    return reader.number(node, (0.0, _MOST_MINUTES), "minutes")


def _lead_out(reader: Reader, node: Node | None) -> float | None:
    if node is None:
        return None
    if yes_or_no(node) is False:
        return 0.0
    return round(reader.seconds(node, "lead_out") / 60, 9)


def _stop(reader: Reader, node: Node) -> tuple[StopSeen | None, bool]:
    """Return how a run ended, and whether it was watched to the end and did not stop."""
    if node.text == NOT_THERE or yes_or_no(node) is False:
        return None, True
    if node.is_map:
        return _timed_stop(reader, node), False
    if yes_or_no(node):
        return StopSeen(), False
    if seconds(node) is not None:
        return StopSeen("", reader.seconds(node, "stop")), False
    return StopSeen(reader.word(node, STOPS, "stop")), False


def _timed_stop(reader: Reader, node: Node) -> StopSeen | None:
    form = reader.form(node, [*KINDS, "load"], "a stop").without(["load"])
    if len(form.fields) != 1:
        so = f"this stop has {len(form.fields)} kinds" if form.fields else "this stop has no kind"
        should = "a run stops once, in one way"
        do = "Write one of them with its time, as in {resets: 6 min}"
        reader.say(node.place, "HS143", so, should, do)
        return None
    kind, when = next(iter(form.fields.items()))
    if yes_or_no(when):
        return StopSeen(kind)
    return StopSeen(kind, reader.seconds(when, kind))


def _picture(reader: Reader, node: Node, output: str, reached: str) -> Mapping[str, Mapping[str, bool]]:
    """Return output -> stage -> whether there was a picture."""
    stages = {SELF_TEST: "", SYSTEM: ""}
    outputs = titles(reader.book.outputs)
    if not node.is_map or set(node.entries()) & set(stages):
        return MappingProxyType({output or IN_USE: _stages(reader, node, reached)})
    form = reader.form(node, {**outputs, IN_USE: "the output that the monitor is on"}, "the picture")
    return MappingProxyType({name: _stages(reader, inner, reached) for name, inner in form.fields.items()})


def _stages(reader: Reader, node: Node, reached: str) -> Mapping[str, bool]:
    """Return stage -> picture; a bare no is none at any stage, a bare yes one at the last stage reached."""
    if node.is_map:
        form = reader.form(node, [SELF_TEST, SYSTEM], "the picture of an output")
        return MappingProxyType({stage: reader.yes_no(inner, stage) for stage, inner in form.fields.items()})
    if node.text == NOT_THERE or yes_or_no(node) is False:
        return MappingProxyType({SELF_TEST: False, SYSTEM: False})
    reader.yes_no(node, "the picture")
    return MappingProxyType({SYSTEM if reached in _SYSTEM_RUNGS else SELF_TEST: True})


def _signs(reader: Reader, node: Node) -> Mapping[str, str]:
    """Return sign -> yes, no or unsure, of a map, of a list of signs that were there, or of one."""
    known = titles(reader.book.signs)
    if not node.is_map:
        items = node.items() if node.is_list else (node,)
        words = [reader.word(item, known, "a sign") for item in items]
        return MappingProxyType({word: YES for word in words if word})
    signs: dict[str, str] = {}
    for name, said in reader.form(node, known, "the signs").fields.items():
        if said.text == UNSURE:
            signs[name] = UNSURE
        elif yes_or_no(said) is not None:
            signs[name] = YES if yes_or_no(said) else NO
        else:
            reader.say_word(said, "HS112", f"'{name}' is '{said.text}'", [YES, NO, UNSURE])
    return MappingProxyType(signs)
