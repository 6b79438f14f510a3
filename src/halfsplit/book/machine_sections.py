"""The sections that say what a machine is made of and what a run can be: the ladder to the tellers."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType

from halfsplit.book.conditions import STRESSES, read_only
from halfsplit.book.desk import AT_LEAST_0, Desk
from halfsplit.book.form import Form, items_of, prose_of
from halfsplit.book.layers import Slot
from halfsplit.book.strength import read_basis, read_strength
from halfsplit.model.bench import Load, Word
from halfsplit.model.book import Complaint, StopKind, Teller
from halfsplit.model.ladder import KINDS, Ladder, Rung
from halfsplit.model.machine import Fact, Grade, Host, Joint, Output, PartKind, ShelfPart
from halfsplit.yamltext import Node

RUNGS = (
    "standby_power",
    "starts",
    "rails_good",
    "processor_runs",
    "memory_passes",
    "self_test",
    "boot_drive",
    "loader",
    "system_loads",
    "log_in",
)
"""The ten rungs, lowest first."""


def forms_of(desk: Desk, section: str, noun: str) -> Iterator[Form]:
    """Yield each entry of a section as a form; the reader closes it before it takes the next one."""
    for entry_id, slot in desk.pages.sections[section].items():
        before = len(desk.mistakes)
        yield Form(desk, slot, noun, entry_id)
        if len(desk.mistakes) > before:
            desk.marred.add((section, entry_id))


def pair_of(form: Form, key: str, unit: str) -> tuple[float, float]:
    """Return two numbers, 0 or more, written as a list of two."""
    node = form.node(key, needed=True)
    if node is None:
        return (0.0, 0.0)
    values = [form.desk.number_of(item, f"'{key}'", AT_LEAST_0) for item in items_of(node)]
    match values:
        case [float() as first, float() as second]:
            for value, item in zip((first, second), node.items(), strict=True):
                form.desk.note(item.place, value, unit)
            return (first, second)
        case [_, _]:
            return (0.0, 0.0)
    form.desk.say_wrong_kind(node, f"'{key}'", f"a list of two numbers in {unit}, as [1, 2]")
    return (0.0, 0.0)


def read_ladder(desk: Desk) -> Ladder:
    """Read ``ladder``: the ten rungs in their order (HS313), whatever is wrong with them."""
    rungs = {}
    for form in forms_of(desk, "ladder", "rung"):
        earliest, latest = pair_of(form, "seconds", "seconds")
        if latest < earliest:
            so = f"the earliest time {earliest:g} s is after the latest {latest:g} s"
            should = "'seconds' is [earliest, latest]"
            desk.say(form.place_of("seconds"), "HS309", so, should, "Swap or correct them")
        rungs[form.id] = Rung(form.id, form.prose("title"), (earliest, latest))
        form.close()
    written = tuple(rungs)
    if written != RUNGS:
        odd = next((rung for n, rung in enumerate(written) if RUNGS[n : n + 1] != (rung,)), None)
        place = desk.first_place() if odd is None else desk.place_in("ladder", odd)
        so = f"the rungs are {', '.join(written)}" if written else "there is no ladder"
        desk.say(place, "HS313", so, f"they are {', '.join(RUNGS)}", "Write these ten, lowest first")
    return Ladder(tuple(rungs.get(rung, Rung(rung, rung, (0.0, 0.0))) for rung in RUNGS))


def read_parts(desk: Desk, facts: Mapping[str, Fact]) -> Mapping[str, PartKind]:
    """Read ``parts``."""
    parts = {}
    for form in forms_of(desk, "parts", "part"):
        parts[form.id] = PartKind(
            form.id,
            form.prose("title"),
            many=form.is_yes("many"),
            outside=form.is_yes("outside"),
            default=form.count("default", 1),
            fields=form.prose_map("fields"),
            only=read_only(form, facts),
            worth_cents=form.cents("worth"),
            price_cents=form.cents("price"),
        )
        form.close()
    return MappingProxyType(parts)


def read_joints(desk: Desk) -> Mapping[str, Joint]:
    """Read ``joints``."""
    joints = {}
    for form in forms_of(desk, "joints", "joint"):
        joints[form.id] = Joint(form.id, form.prose("title"), form.refs("between", "parts", needed=True))
        form.close()
    return MappingProxyType(joints)


def read_facts(desk: Desk) -> Mapping[str, Fact]:
    """Read ``facts``; the values of a fact add up to 1, also those that it has given another one (HS312)."""
    facts: dict[str, Fact] = {}
    given: dict[str, list[tuple[str, Slot]]] = {}
    for form in forms_of(desk, "facts", "fact"):
        values = form.shares("values", f"the values of fact '{form.id}'")
        given[form.id] = list(form.entries("given"))
        facts[form.id] = Fact(form.id, form.prose("title"), values)
        form.close()
    for name, entries in given.items():
        facts[name] = replace(facts[name], given=_read_given(desk, facts, name, entries))
    return MappingProxyType(facts)


def _read_given(
    desk: Desk, facts: Mapping[str, Fact], name: str, entries: list[tuple[str, Slot]]
) -> Mapping[str, Mapping[str, Mapping[str, float]]]:
    """Read ``given``: another fact -> its value -> the values with their shares, which add up to 1 (HS312)."""
    found = {}
    for other, (key, node) in entries:
        if desk.id_at(key.place, other, ("facts",), drops=True) is None:
            continue
        by_value = {}
        for value, (value_key, shares) in words_in(desk, node, other, facts[other].values):
            read = words_in(desk, shares, value, facts[name].values)
            by_value[value] = MappingProxyType({word: read_strength(desk, share).p for word, (_, share) in read})
            desk.say_sum(value_key.place, by_value[value].values(), f"the values of fact '{name}' given {value}")
        found[other] = MappingProxyType(by_value)
    return MappingProxyType(found)


def words_in(desk: Desk, node: Node, what: str, words: Iterable[str]) -> Iterator[tuple[str, Slot]]:
    """Yield the entries of a map whose keys are some of these words; another one is HS308, no map is HS304."""
    if not node.is_map:
        desk.say_wrong_kind(node, f"'{what}'", "a map")
        return
    for word, slot in node.entries().items():
        if desk.is_word(slot[0].place, word, tuple(words)):
            yield word, slot


def read_hosts(desk: Desk) -> Mapping[str, Host]:
    """Read ``hosts``."""
    hosts = {}
    for form in forms_of(desk, "hosts", "host"):
        own = form.refs("own", "parts")
        p_good, harms = form.chance("p_good", 1.0), form.chance("harms", 0.0)
        hosts[form.id] = Host(form.id, form.prose("title"), own, p_good, harms)
        form.close()
    return MappingProxyType(hosts)


def read_grades(desk: Desk) -> Mapping[str, Grade]:
    """Read ``grades``; a basis of its own goes before the one of ``p_good``."""
    grades = {}
    for form in forms_of(desk, "grades", "grade"):
        p_good = form.strength("p_good")
        basis = form.node("basis")
        told = p_good.basis if basis is None else read_basis(desk, basis)
        grades[form.id] = Grade(form.id, form.prose("title"), p_good.p, told, form.chance("fades", 0.0))
        form.close()
    return MappingProxyType(grades)


def read_shelf(desk: Desk, facts: Mapping[str, Fact]) -> Mapping[str, ShelfPart]:
    """Read ``shelf``."""
    shelf = {}
    for form in forms_of(desk, "shelf", "shelf part"):
        kind, grade = form.ref("kind", "parts"), form.ref("grade", "grades")
        shelf[form.id] = ShelfPart(form.id, kind, grade, form.prose("title", ""), read_only(form, facts, "fits"))
        form.close()
    return MappingProxyType(shelf)


def read_outputs(desk: Desk) -> Mapping[str, Output]:
    """Read ``outputs``."""
    outputs = {}
    for form in forms_of(desk, "outputs", "output"):
        outputs[form.id] = Output(form.id, form.prose("title"), form.ref("part", "parts"))
        form.close()
    return MappingProxyType(outputs)


def read_loads(desk: Desk) -> Mapping[str, Load]:
    """Read ``loads``."""
    loads = {}
    for form in forms_of(desk, "loads", "load"):
        loads[form.id] = Load(
            form.id, form.prose("title"), form.choices("stresses", STRESSES), form.refs("rests", "parts")
        )
        form.close()
    return MappingProxyType(loads)


def read_words(desk: Desk, section: str) -> Mapping[str, Word]:
    """Read a section of words with one line each: conditions, positions, starters or touches."""
    slots = desk.pages.sections[section]
    return MappingProxyType({word: Word(word, prose_of(desk, node, f"'{word}'")) for word, (_, node) in slots.items()})


def read_complaints(desk: Desk) -> Mapping[str, Complaint]:
    """Read ``complaints``."""
    complaints = {}
    for form in forms_of(desk, "complaints", "complaint"):
        complaints[form.id] = Complaint(form.id, form.prose("title"), form.prose_list("words"))
        form.close()
    return MappingProxyType(complaints)


def read_stops(desk: Desk) -> Mapping[str, StopKind]:
    """Read ``stops``: how owners put it that a run ended; each is one of ``KINDS`` (HS308)."""
    stops = {}
    for form in forms_of(desk, "stops", "stop"):
        desk.is_word(form.place, form.id, KINDS)
        stops[form.id] = StopKind(form.id, form.prose("title"), form.prose_list("words"))
        form.close()
    return MappingProxyType(stops)


def read_tellers(desk: Desk) -> tuple[Teller, ...]:
    """Read ``tellers``; their shares add up to 1 (HS312)."""
    tellers = []
    for form in forms_of(desk, "tellers", "teller"):
        tellers.append(Teller(form.id, form.chance("share"), form.chance("slip")))
        form.close()
    if tellers:
        place = desk.place_in("tellers", tellers[0].id, "share")
        desk.say_sum(place, (teller.share for teller in tellers), "the shares of the tellers")
    return tuple(tellers)
