"""Under what something holds: conditions of a run, the setup that a check asks for, facts of the machine."""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.book.desk import AT_LEAST_0, Desk
from halfsplit.book.form import Form, items_of, seconds_of, words_of
from halfsplit.model.faults import ALWAYS, When
from halfsplit.model.machine import Fact
from halfsplit.yamltext import Node, yes_or_no

STRESSES = ("card", "processor", "memory", "drive", "supply")
"""What a load may stress."""

CONDITION_WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "position": ("positions",),
        "touched": ("touches",),
        "started_by": ("starters",),
        "first_after": ("events", "repairs", "openings"),
    }
)
"""The conditions that are words, and the sections that they are from."""

PUT = ("out", "in", "owner", "new", "shelf")
"""What a check may put in a slot besides one part of the shelf; "shelf" is any that fits."""


def read_when(form: Form) -> When:
    """Return the condition on a run under ``when``."""
    when = form.form("when", "when")
    if when is None:
        return ALWAYS
    words = {key: when.refs(key, *sections) for key, sections in CONDITION_WORDS.items()}
    read = When(
        load=when.choices("load", STRESSES),
        cold=when.yes_no("cold"),
        minutes_over=when.maybe_number("minutes_over", unit="minutes", within=AT_LEAST_0),
        lead_out=when.yes_no("lead_out"),
        position=words["position"],
        touched=words["touched"],
        started_by=words["started_by"],
        first_after=words["first_after"],
        output=when.refs("output", "outputs"),
        in_case=when.yes_no("in_case"),
        has=_read_slots(when, "has"),
        lacks=_read_slots(when, "lacks"),
        host=when.refs("host", "hosts"),
    )
    when.close()
    return read


def _read_slots(form: Form, key: str) -> tuple[str, ...]:
    return tuple(
        word
        for place, word in form.words(key)
        if form.desk.id_at(place, _kind_of(form.desk, word), ("parts",), drops=True) is not None
    )


def _kind_of(desk: Desk, slot_name: str) -> str:
    """Return the kind of part of a slot (``memory.2``), or the word itself when it is no slot."""
    kind, dot, number = slot_name.partition(".")
    is_slot = kind in desk.ids("parts") and (not dot or (number.isdecimal() and int(number) > 0))
    return kind if is_slot else slot_name


def read_only(form: Form, facts: Mapping[str, Fact], under: str = "only") -> Mapping[str, tuple[str, ...]]:
    """Return the facts of the machine under ``only`` or another key, each with the values that are meant."""
    desk = form.desk
    found = {}
    for fact_id, (key, node) in form.entries(under):
        if desk.id_at(key.place, fact_id, ("facts",)) is None:
            continue
        values = facts[fact_id].values
        if not values:
            so = f"fact '{fact_id}' is a plain number"
            desk.say(key.place, "HS308", so, f"'{under}' asks for values", "Leave it out")
        words = words_of(desk, items_of(node), f"'{fact_id}'") if values else ()
        found[fact_id] = tuple(word for place, word in words if desk.is_word(place, word, values))
    return MappingProxyType(found)


def read_setup(form: Form) -> Mapping[str, str]:
    """Return the setup that a check asks for: slot -> what is in it, ``output``, ``case``."""
    found = {}
    for slot_name, (key, node) in form.entries("setup"):
        put = form.desk.text_of(node, f"'{slot_name}'")
        if put is not None and _may_put(form.desk, key, node.place, put):
            found[slot_name] = put
    return MappingProxyType(found)


def _may_put(desk: Desk, key: Node, place: str, put: str) -> bool:
    if key.text == "case":
        return desk.is_word(place, put, ("in", "out"))
    if key.text == "output":
        return desk.id_at(place, put, ("outputs",)) is not None
    kind = desk.id_at(key.place, _kind_of(desk, key.text), ("parts",), also=("case", "output"))
    part = desk.id_at(place, put.removeprefix("shelf."), ("shelf",), also=PUT)
    return kind is not None and part is not None


def read_conditions(form: Form) -> Mapping[str, str]:
    """Return the conditions of a check's run, as text by the names of a job file."""
    conditions = form.form("conditions", "conditions")
    if conditions is None:
        return MappingProxyType({})
    desk = form.desk
    load = conditions.ref("load", "loads", default="")
    words = {key: conditions.ref(key, *names, default="") for key, names in CONDITION_WORDS.items()}
    cold = conditions.yes_no("cold")
    minutes = conditions.maybe_number("minutes", unit="minutes", within=AT_LEAST_0)
    lead_out = conditions.node("lead_out")
    if lead_out is not None and yes_or_no(lead_out) is None:
        seconds_of(desk, lead_out, "'lead_out'")
    conditions.close()
    found = {
        "load": load,
        "cold": "" if cold is None else "yes" if cold else "no",
        "minutes": "" if minutes is None else f"{minutes:g}",
        "lead_out": "" if lead_out is None else lead_out.text,
        **words,
    }
    return MappingProxyType({key: text for key, text in found.items() if text})
