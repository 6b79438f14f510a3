"""The section ``faults``: patterns with what they show and harm, what brings them in, what cures them."""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.book.acts import read_act
from halfsplit.book.conditions import read_only, read_when
from halfsplit.book.desk import ABOVE_0, Desk
from halfsplit.book.form import Form, items_of
from halfsplit.book.machine_sections import forms_of, words_in
from halfsplit.book.seen_sections import FINE
from halfsplit.book.strength import read_strength, read_word
from halfsplit.model.bench import Inspection
from halfsplit.model.faults import Cure, Fault, Harm, Looks, Pattern, Reads
from halfsplit.model.machine import Fact
from halfsplit.yamltext import Node

CATCH = "usually"
"""How surely one look sees what is there, where the book does not say."""

STATES = ("low", "high", "absent")
"""Where a measurement may lie."""


def read_faults(desk: Desk, facts: Mapping[str, Fact], inspections: Mapping[str, Inspection]) -> Mapping[str, Fault]:
    """Read ``faults``."""
    faults = {}
    for form in forms_of(desk, "faults", "fault"):
        at = form.refs("at", "parts", "joints", needed=True)
        faults[form.id] = Fault(
            form.id,
            form.prose("title"),
            at,
            form.strength("base"),
            _read_patterns(form, at, inspections),
            together=form.is_yes("together"),
            wear=form.number("wear", 1.0, unit="", within=ABOVE_0),
            only=read_only(form, facts),
            likelier=_read_likelier(form, facts),
            after=form.strengths("after", "events"),
            made_by=form.strengths("made_by", "openings", "repairs"),
            cures=_read_cures(form),
            matters=form.is_yes("matters", default=True),
            is_normal=form.is_yes("normal"),
            is_unlisted=form.is_yes("unlisted"),
            kin=form.prose("kin", ""),
            owner_says=form.prose("owner_says", ""),
            words=form.prose_list("words"),
            told_by=form.refs("told_by", "checks"),
            cause=form.prose("cause", ""),
        )
        form.close()
    return MappingProxyType(faults)


def _read_likelier(form: Form, facts: Mapping[str, Fact]) -> Mapping[str, Mapping[str, float]]:
    """Return how much likelier a fault is by the facts of the machine: fact -> value -> weight."""
    found = {}
    for fact, (key, node) in form.entries("likelier"):
        if form.desk.id_at(key.place, fact, ("facts",), drops=True) is None:
            continue
        weights = {}
        for value, (_, weight) in words_in(form.desk, node, fact, facts[fact].values):
            number = form.desk.number_of(weight, f"'{value}'", ABOVE_0)
            if number is not None:
                form.desk.note(weight.place, number, "times")
                weights[value] = number
        found[fact] = MappingProxyType(weights)
    return MappingProxyType(found)


def _read_cures(form: Form) -> tuple[Cure, ...]:
    """Return what each repair does: one strength, or ``goes`` and ``comes``."""
    desk = form.desk
    cures = []
    for repair, (key, node) in form.entries("cures"):
        if desk.id_at(key.place, repair, ("repairs",), drops=True) is None:
            continue
        if not node.is_map or "p" in node.entries():
            cures.append(Cure(repair, read_strength(desk, node)))
            continue
        cure = Form(desk, (key, node), "cure", repair)
        cures.append(Cure(repair, cure.strength("goes"), cure.maybe_strength("comes")))
        cure.close()
    return tuple(cures)


def _read_patterns(fault: Form, at: tuple[str, ...], inspections: Mapping[str, Inspection]) -> tuple[Pattern, ...]:
    """Return the patterns; one alone needs no share."""
    desk = fault.desk
    entries = tuple(fault.entries("patterns", needed=True))
    patterns = []
    for name, slot in entries:
        form = Form(desk, slot, "pattern", name)
        own = form.words("at")
        for place, word in own:
            if word not in at:
                so = f"'{word}' is no foothold of fault '{fault.id}'"
                do = "Write one of these, or add it to the fault's 'at'"
                desk.say(place, "HS333", so, f"its footholds are {', '.join(at)}", do)
        footholds = tuple(word for _, word in own)
        patterns.append(
            Pattern(
                name,
                form.chance("share", 1.0 if len(entries) == 1 else None),
                tuple(read_act(desk, item, footholds or at) for item in form.items("acts")),
                _read_looks(form, inspections),
                _read_reads(form),
                _read_harm(form),
                footholds,
            )
        )
        form.close()
    what = f"the patterns of fault '{fault.id}'"
    desk.say_sum(fault.place_of("patterns"), (pattern.share for pattern in patterns), what)
    return tuple(patterns)


def _read_looks(form: Form, inspections: Mapping[str, Inspection]) -> tuple[Looks, ...]:
    """Return the looks: inspection -> word, or ``see`` and ``catch``."""
    desk = form.desk
    looks = []
    for inspection, (key, node) in form.entries("looks"):
        if desk.id_at(key.place, inspection, ("inspections",), drops=True) is None:
            continue
        see: Node | None = node
        catch = None
        if node.is_map:
            look = Form(desk, (key, node), "look", inspection)
            see, catch = look.node("see", needed=True), look.maybe_strength("catch")
            look.close()
        word = None if see is None else desk.text_of(see, "the word seen")
        words = [seen for seen in inspections[inspection].seen if seen != FINE]
        if see is not None and word is not None and desk.is_word(see.place, word, words):
            looks.append(Looks(inspection, word, catch or read_word(desk, see.place, CATCH)))
    return tuple(looks)


def _read_reads(form: Form) -> tuple[Reads, ...]:
    """Return the reads: measurement -> state -> strength, with ``when``; several in a list."""
    desk = form.desk
    reads = []
    for measurement, (key, node) in form.entries("reads"):
        if desk.id_at(key.place, measurement, ("measurements",), drops=True) is None:
            continue
        for item in items_of(node):
            read = Form(desk, (key, item), "read", measurement)
            when = read_when(read)
            strengths = {state: read.maybe_strength(state) for state in STATES}
            found = [Reads(measurement, state, q, when) for state, q in strengths.items() if q is not None]
            if not found and not read.is_blank:
                so = f"where '{measurement}' lies is missing"
                should = f"it is {', '.join(STATES)}, each with a strength"
                desk.say(read.place, "HS305", so, should, "Write 'low: always' or the like")
            reads += found
            read.close()
    return tuple(reads)


def _read_harm(form: Form) -> Harm | None:
    harm = form.form("harm", "harm")
    if harm is None:
        return None
    read = Harm(harm.ref("part", "parts"), harm.strength("chance"), harm.ref("as", "faults"))
    harm.close()
    return read
