"""What raises a rule and what clears it again."""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.book.conditions import read_only
from halfsplit.book.form import Form, items_of, words_of
from halfsplit.model.bench import NEVER, Inspection, Trigger
from halfsplit.model.machine import Fact


def read_trigger(form: Form, key: str, facts: Mapping[str, Fact], inspections: Mapping[str, Inspection]) -> Trigger:
    """Return the trigger under a key, or ``NEVER`` when it is not there."""
    part = form.form(key, "trigger")
    if part is None:
        return NEVER
    trigger = Trigger(
        part.refs("told", "events"),
        part.refs("shows", "signs"),
        _read_seen(part, inspections),
        part.refs("measured", "measurements"),
        part.refs("repairs", "repairs"),
        read_only(part, facts, "facts"),
        MappingProxyType({name: chance.p for name, chance in part.strengths("faults", "faults").items()}),
    )
    part.close()
    return trigger


def _read_seen(form: Form, inspections: Mapping[str, Inspection]) -> Mapping[str, tuple[str, ...]]:
    """Return inspection -> the words that count."""
    desk = form.desk
    found = {}
    for name, (key, node) in form.entries("seen"):
        if desk.id_at(key.place, name, ("inspections",), drops=True) is None:
            continue
        options = inspections[name].seen
        words = words_of(desk, items_of(node), f"'{name}'")
        found[name] = tuple(word for place, word in words if desk.is_word(place, word, options))
    return MappingProxyType(found)
