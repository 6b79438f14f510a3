"""The section ``faults``: patterns with what they do, look like, read and harm; what brings and what cures them."""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.book.acts import read_act, read_when_field
from halfsplit.book.bench_sections import FINE, read_only
from halfsplit.book.desk import Desk
from halfsplit.book.form import Form, items_of
from halfsplit.book.machine_sections import forms_of
from halfsplit.book.strength import read_strength, strength_word
from halfsplit.book.tree import Map, Node, Slot, Text
from halfsplit.model.bench import Inspection
from halfsplit.model.faults import Cure, Fault, Harm, Looks, Pattern, Reads, Strength
from halfsplit.model.machine import Fact

CATCH = "usually"
"""How surely one look sees what is there, where the book does not say."""

STATES = ("low", "high", "absent")


def read_faults(
    desk: Desk, facts: Mapping[str, Fact], inspections: Mapping[str, Inspection]
) -> Mapping[str, Fault]:
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
            together=form.yes_no("together", default=False),
            wear=form.number("wear", 1.0, above=0.0),
            only=read_only(form, facts),
            after=form.strengths_by("after", "events"),
            made_by=form.strengths_by("made_by", "openings", "repairs"),
            cures=_read_cures(form),
            matters=form.yes_no("matters", default=True),
            is_normal=form.yes_no("normal", default=False),
            is_unlisted=form.yes_no("unlisted", default=False),
            kin=form.prose("kin", ""),
            owner_says=form.prose("owner_says", ""),
            words=form.prose_list("words"),
            told_by=form.refs("told_by", "checks"),
            cause=form.prose("cause", ""),
        )
        form.close()
    return MappingProxyType(faults)


def _read_cures(form: Form) -> tuple[Cure, ...]:
    desk = form.desk
    cures = []
    for repair, slot in form.entries("cures"):
        if desk.id_at(slot.place, repair, ("repairs",), drops=True) is None:
            continue
        if isinstance(slot.node, Map) and "p" not in slot.node.slots:
            cure = Form(desk, slot.place, slot.node, "cure")
            goes = cure.strength("goes")
            comes = cure.strength("comes") if cure.slot("comes") else None
            cures.append(Cure(repair, goes, comes))
            cure.close()
        else:
            cures.append(Cure(repair, read_strength(desk, slot.node)))
    return tuple(cures)


def _read_patterns(
    fault: Form, at: tuple[str, ...], inspections: Mapping[str, Inspection]
) -> tuple[Pattern, ...]:
    desk = fault.desk
    patterns = []
    for name, slot in fault.entries("patterns", needed=True):
        form = Form(desk, slot.place, slot.node, "pattern", name)
        share = form.chance("share", 1.0 if _stands_alone(fault) else None)
        own = form.word_list("at")
        for place, word in form.placed_words("at"):
            if word not in at:
                desk.say(
                    place,
                    "HS333",
                    f"'{word}' is no foothold of fault '{fault.id}'",
                    f"its footholds are {', '.join(at)}",
                    "Write one of these, or add it to the fault's 'at'",
                )
        acts = form.node("acts")
        patterns.append(
            Pattern(
                name,
                share,
                tuple(read_act(desk, node, own or at) for node in items_of(acts)) if acts else (),
                _read_looks(form, inspections),
                _read_reads(form),
                _read_harm(form),
                own,
            )
        )
        form.close()
    shares = {pattern.id: pattern.share for pattern in patterns}
    desk.say_sum(fault.place_of("patterns"), shares, f"the patterns of fault '{fault.id}'")
    return tuple(patterns)


def _stands_alone(fault: Form) -> bool:
    node = fault.node("patterns")
    return isinstance(node, Map) and len(node.slots) == 1


def _read_looks(form: Form, inspections: Mapping[str, Inspection]) -> tuple[Looks, ...]:
    desk = form.desk
    looks = []
    for inspection, slot in form.entries("looks"):
        if desk.id_at(slot.place, inspection, ("inspections",), drops=True) is None:
            continue
        word_node, catch = _read_look(desk, slot)
        word = None if word_node is None else desk.text_of(word_node, "the word seen")
        if word is None or word_node is None:
            continue
        seen = [known for known in inspections[inspection].seen if known != FINE]
        if desk.word_at(word_node.place, word, seen):
            looks.append(Looks(inspection, word, catch))
    return tuple(looks)


def _read_look(desk: Desk, slot: Slot) -> tuple[Node | None, Strength]:
    if isinstance(slot.node, Text):
        return slot.node, strength_word(desk, slot.node.place, CATCH)
    look = Form(desk, slot.place, slot.node, "look")
    see = look.node("see", needed=True)
    catch = look.strength("catch") if look.slot("catch") else strength_word(desk, slot.place, CATCH)
    look.close()
    return see, catch


def _read_reads(form: Form) -> tuple[Reads, ...]:
    desk = form.desk
    reads = []
    for measurement, slot in form.entries("reads"):
        if desk.id_at(slot.place, measurement, ("measurements",), drops=True) is None:
            continue
        for node in items_of(slot.node):
            read = Form(desk, node.place, node, "read")
            when = read_when_field(read)
            found = [
                Reads(measurement, state, read.strength(state), when) for state in STATES if read.slot(state)
            ]
            if not found and not read.is_blank:
                desk.say(
                    read.place,
                    "HS305",
                    f"what '{measurement}' reads is missing",
                    f"a read has {', '.join(STATES)} with a strength",
                    "Write 'low: always' or the like",
                )
            reads.extend(found)
            read.close()
    return tuple(reads)


def _read_harm(form: Form) -> Harm | None:
    node = form.node("harm")
    if node is None:
        return None
    harm = Form(form.desk, form.place_of("harm"), node, "harm")
    read = Harm(harm.ref("part", "parts"), harm.strength("chance"), harm.ref("as", "faults"))
    harm.close()
    return None if harm.is_blank else read
