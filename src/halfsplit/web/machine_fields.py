"""Fields of what is known of a machine, and of the complaint: in the words of the fault book."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from types import MappingProxyType

from halfsplit.job.lines import numbered
from halfsplit.job.machine import AGE, TOLD_BY_FIELD
from halfsplit.job.setups import RIDES_ON
from halfsplit.job.units import kind_of
from halfsplit.model.book import Book
from halfsplit.model.job import Job, OwnedPart
from halfsplit.model.machine import Fact, PartKind
from halfsplit.web.entry_fields import (
    SELECT,
    TEXT,
    TILES,
    Field,
    Group,
    Option,
    finite,
    options_of,
    read_number,
)
from halfsplit.web.machine_words import plain
from halfsplit.web.texts import say, texts

KIND, CARD = "kind", "card"
"""A fact and a part that are asked for at the counter, and stand first here as well."""

MOST = 16
"""So many of one kind of part can be chosen."""

UNITS = {"watts": "W", "gb": "GB"}
"""What is written on a part -> its unit."""


def machine_groups(job: Job, book: Book) -> tuple[Group, ...]:
    """Return the form of what is known of a machine, and of the complaint.

    Args:
        job: what is known; its log is left alone.
        book: the fault book.
    """
    kinds = [kind for kind in book.kinds.values() if kind.id not in (CARD, *RIDES_ON)]
    facts = [fact for fact in book.facts.values() if fact.values and fact.id != KIND]
    groups = (
        Group("", tuple(_first(job, book))),
        Group(say("group.inside"), tuple(_how_many(kind, job) for kind in kinds if not kind.outside)),
        Group(say("group.written"), tuple(_written(job, book)), is_open=False),
        Group(say("group.facts"), tuple(_fact(fact, job) for fact in facts), is_open=False),
        Group(say("group.outside"), tuple(_how_many(kind, job) for kind in kinds if kind.outside), is_open=False),
    )
    return tuple(group for group in groups if group.fields)


def _first(job: Job, book: Book) -> Iterable[Field[Job]]:
    """Yield what is asked for at the counter."""
    complaints = options_of(book.complaints, unsaid=say("dont_know"))
    title = say("intake.complaint")
    yield Field("complaint", title, job.complaint, lambda now, said: replace(now, complaint=said), TILES, complaints)
    if KIND in book.facts:
        yield replace(_fact(book.facts[KIND], job, TILES), title=say("intake.machine"))
    if CARD in book.kinds:
        yield _how_many(book.kinds[CARD], job, TILES)
    if AGE in book.facts:
        yield _age(job)
    yield Field("name", say("intake.name"), job.name, lambda now, said: replace(now, name=said), TEXT)


def _age(job: Job) -> Field[Job]:
    title, age = say("intake.age"), job.machine.get(AGE)

    def put(now: Job, said: str) -> Job:
        return _with_fact(now, AGE, read_number(title, said, least=0.0) if said else None)

    value = f"{age:g}" if isinstance(age, int | float) else ""
    return Field(AGE, title, value, put, TEXT, unit=say("machine.age_unit"))


def _fact(fact: Fact, job: Job, shape: str = SELECT) -> Field[Job]:
    answers = (Option("", say("dont_know")), *(Option(word, plain(word)) for word in fact.values))

    def put(now: Job, said: str) -> Job:
        return _with_fact(now, fact.id, said or None)

    return Field(f"fact:{fact.id}", fact.title, str(job.machine.get(fact.id, "")), put, shape, answers)


def _with_fact(job: Job, name: str, value: object) -> Job:
    """Return a job with another value of a fact; None = it is not known."""
    machine = {**job.machine, name: value}
    return replace(job, machine=MappingProxyType({each: said for each, said in machine.items() if said is not None}))


def _how_many(kind: PartKind, job: Job, shape: str = SELECT) -> Field[Job]:
    """Return the field of how many of a kind of part there are, or whether there is one."""
    many = len(_parts_of(kind.id, job))
    value = "0" if kind.id in job.missing else str(many or "")
    counts = range(1, max(MOST, many) + 1) if kind.many else ()
    there = tuple(Option(f"{each}", f"{each}") for each in counts) or (Option("1", say("machine.there")),)
    answers = (Option("", say("dont_know")), Option("0", say("machine.none")), *there)
    return Field(f"part:{kind.id}", kind.title, value, _put_many(kind), shape, answers)


def _put_many(kind: PartKind) -> Callable[[Job, str], Job]:
    def put(job: Job, said: str) -> Job:
        """Return a job with another number of these parts: the first ones stay as they are known."""
        known = {part.slot: part for part in _parts_of(kind.id, job)}
        free = [f"{kind.id}.{number}" for number in range(1, MOST + 1)] if kind.many else [kind.id]
        slots = [*known, *(slot for slot in free if slot not in known)][: int(said or 0)]
        others = tuple(part for part in job.parts if kind_of(part.slot) != kind.id)
        missing = tuple(each for each in job.missing if each != kind.id)
        return replace(
            job,
            parts=(*others, *(known.get(slot, OwnedPart(slot)) for slot in slots)),
            missing=(*missing, kind.id) if said == "0" else missing,
        )

    return put


def _written(job: Job, book: Book) -> Iterable[Field[Job]]:
    """Yield what stands on the parts that may be there; what is a fact of the machine as well is asked for as that."""
    for kind in book.kinds.values():
        told = {part.slot: part for part in _parts_of(kind.id, job)}
        if not (told or kind.many or kind.id in job.missing):
            told = {kind.id: OwnedPart(kind.id)}
        for slot, part in told.items():
            for name, help_ in kind.fields.items():
                if kind.many or name in part.fields or (kind.id, name) not in TOLD_BY_FIELD:
                    yield _of_part(numbered(kind.title, slot), part, name, help_)


def _of_part(title: str, part: OwnedPart, name: str, help_: str) -> Field[Job]:
    value = part.fields.get(name, "")
    said = f"{value:g}" if isinstance(value, int | float) else str(value)
    words = TOLD_BY_FIELD.get((kind_of(part.slot), name), ("", {}))[1]
    answers = tuple(Option(word, plain(word)) for word in dict.fromkeys((*words, said)) if word) if words else ()
    if answers:
        answers = (Option("", say("dont_know")), *answers)
    shape, unit = SELECT if answers else TEXT, UNITS.get(name, "")
    asked = say(f"written.{name}") if f"written.{name}" in texts() else help_
    title = say("machine.on_part", part=title, what=asked)
    return Field(f"on:{part.slot}:{name}", title, said, _put_on(part.slot, name), shape, answers, unit)


def _put_on(slot: str, name: str) -> Callable[[Job, str], Job]:
    def put(job: Job, said: str) -> Job:
        """Return a job with what stands on a part; of a part that was not told of it says that it is there."""
        if kind_of(slot) in job.missing:
            return job
        known = {part.slot: part for part in job.parts}
        if slot not in known and slot != kind_of(slot):
            return job  # it is taken away by the same form
        part = known.get(slot, OwnedPart(slot))
        fields = {**part.fields, name: _as_value(said)}
        known[slot] = replace(part, fields=MappingProxyType({each: of for each, of in fields.items() if of != ""}))
        return replace(job, parts=tuple(known.values()))

    return put


def _as_value(said: str) -> object:
    """Return a number as a number, and everything else as the text that it is."""
    number = finite(said)
    return said if number is None else int(number) if number.is_integer() else number


def _parts_of(kind: str, job: Job) -> list[OwnedPart]:
    return [part for part in job.parts if kind_of(part.slot) == kind]
