"""What raises a rule and what clears it again."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from halfsplit.book.conditions import read_only
from halfsplit.book.form import Form, items_of, words_of
from halfsplit.job.numbers import SIDES
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
        _read_words(part, "seen", "inspections", lambda name: inspections[name].seen),
        _read_words(part, "all_seen", "inspections", lambda name: inspections[name].seen),
        _read_words(part, "measured", "measurements", lambda _: SIDES),
        part.refs("repairs", "repairs"),
        read_only(part, facts, "facts"),
        MappingProxyType({name: chance.p for name, chance in part.strengths("faults", "faults").items()}),
    )
    part.close()
    return trigger


def read_mended(form: Form, raised: Trigger) -> Mapping[str, tuple[str, ...]]:
    """Return inspection -> the repairs there that clear what a look raised; no such look raises the rule: HS343."""
    desk = form.desk
    found = {}
    for name, (at, node) in form.entries("mended"):
        if desk.id_at(at.place, name, ("inspections",), drops=True) is None:
            continue
        if name not in raised.seen:
            so, should = f"no look at '{name}' raises hazard '{form.id}'", "what is mended is what was seen to be bad"
            desk.say(at.place, "HS343", so, should, f"Write '{name}' under 'raised: seen:' too, or take it out here")
        words = words_of(desk, items_of(node), f"'{name}'")
        ids = (desk.id_at(place, word, ("repairs",), drops=True) for place, word in words)
        found[name] = tuple(each for each in ids if each is not None)
    return MappingProxyType(found)


def _read_words(
    form: Form, key: str, section: str, options: Callable[[str], tuple[str, ...]]
) -> Mapping[str, tuple[str, ...]]:
    """Return id of a section -> the words under it that count, of those that it may have."""
    desk = form.desk
    found = {}
    for name, (at, node) in form.entries(key):
        if desk.id_at(at.place, name, (section,), drops=True) is None:
            continue
        words = words_of(desk, items_of(node), f"'{name}'")
        found[name] = tuple(word for place, word in words if desk.is_word(place, word, options(name)))
    return MappingProxyType(found)
