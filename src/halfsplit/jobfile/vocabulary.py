"""The words that a job file may use, each with its line, as the fault book has them."""

from collections.abc import Iterable, Mapping
from typing import Protocol

from halfsplit.model.book import Book

Words = Mapping[str, str]
"""Word -> one line of help."""

CONDITIONS = ("cold", "load", "minutes", "lead_out", "position", "touched", "started_by", "first_after")
"""The conditions that a run may tell; the book has a line for each."""

STOPS: Words = {
    "cuts_out": "power goes off by itself",
    "resets": "starts again from the beginning by itself",
    "freezes": "stands still where it is, with power on",
    "stays": "stays on and never gets further",
    "none": "watched to the end, and it did not stop",
}

SURE: Words = {
    "sure": "saw it and is certain",
    "fairly": "thinks so; the usual way to tell",
    "guess": "may well be wrong",
}
"""How sure a teller is."""

HELD: Words = {
    "out": "nothing in the slot",
    "in": "what was there at intake",
    "owner": "the owner's own part",
    "new": "a new part",
}
"""What may be in a slot, beside the shelf's parts and the parts of a host."""


class Titled(Protocol):
    """Anything of the book with a title."""

    @property
    def title(self) -> str:
        """As the trade says it."""


def titles(nouns: Mapping[str, Titled]) -> Words:
    """Return id -> title of a map of the book."""
    return {name: noun.title for name, noun in nouns.items()}


def plural(kind: str) -> str:
    """Return the plural of a kind of part: ``drives``, ``supplies``, ``switches``."""
    if kind.endswith("y") and kind[-2:-1] not in "aeiou":
        return f"{kind[:-1]}ies"
    return f"{kind}es" if kind.endswith(("s", "x", "ch", "sh")) else f"{kind}s"


def kinds_by_name(book: Book) -> dict[str, str]:
    """Return every name of a kind of part, singular or plural -> the kind."""
    return {**{plural(kind): kind for kind in book.kinds}, **{kind: kind for kind in book.kinds}}


def split_number(name: str) -> tuple[str, int | None]:
    """Return a name and its number: ``memory.2`` -> ("memory", 2); without a number (name, None)."""
    base, dot, number = name.rpartition(".")
    if dot and number.isascii() and number.isdecimal() and len(number) < 4:
        return base, int(number)
    return name, None


def is_many(at: str, book: Book) -> bool:
    """Return whether a part or joint may occur several times in one machine."""
    kinds = book.joints[at].between if at in book.joints else (at,)
    return any(kind in book.kinds and book.kinds[kind].many for kind in kinds)


def after_words(book: Book) -> Words:
    """Return what a run may be the first one after: an event, an opening or a repair."""
    return {**titles(book.events), **titles(book.openings), **titles(book.repairs)}


def verbs(book: Book) -> dict[str, list[str]]:
    """Return what repairs do -> the ids of the repairs that do it."""
    found: dict[str, list[str]] = {}
    for repair in book.repairs.values():
        found.setdefault(repair.does, []).append(repair.id)
    return found


def vocabulary(book: Book) -> dict[str, dict[str, str]]:
    """Return every word of the fault book that a job file may use, sorted into maps.

    Args:
        book: the compiled fault book.

    Returns:
        Map -> word -> one line: the maps ``machine``, ``slots``, ``joints``, ``hosts``, ``outputs``,
        ``conditions``, ``loads``, ``events``, ``signs``, ``rungs``, ``stops``, ``inspections``, ``tools``,
        ``seen``, ``measurements``, ``checks``, ``repairs``, ``parts``, ``faults``.
    """
    seen: dict[str, list[str]] = {}
    for inspection in book.inspections.values():
        for word in inspection.seen:
            seen.setdefault(word, []).append(inspection.id)
    maps: dict[str, Words] = {
        "machine": _machine_words(book),
        "slots": _slot_words(book),
        "joints": {
            joint.id: f"{joint.title} ({_and(book.kinds[kind].title for kind in joint.between)})"
            for joint in book.joints.values()
        },
        "hosts": titles(book.hosts),
        "outputs": titles(book.outputs),
        "conditions": _condition_words(book),
        "loads": {
            load.id: f"{load.title} (stresses {_and(load.stresses) or 'nothing'})" for load in book.loads.values()
        },
        "events": titles(book.events),
        "signs": titles(book.signs),
        "rungs": {rung.id: rung.title for rung in book.ladder.rungs},
        "stops": STOPS,
        "inspections": {look.id: f"{look.title}: {', '.join(look.seen)}" for look in book.inspections.values()},
        "tools": titles(book.tools),
        "seen": {word: f"seen at {', '.join(places)}" for word, places in seen.items()},
        "measurements": {point.id: f"{point.title}, in {point.unit}" for point in book.measurements.values()},
        "checks": titles(book.checks),
        "repairs": {
            **{
                verb: f"at {', '.join(dict.fromkeys(book.repairs[name].at for name in names))}"
                for verb, names in verbs(book).items()
            },
            **{repair.id: f"{repair.title} ({repair.does} at {repair.at})" for repair in book.repairs.values()},
        },
        "parts": _part_words(book),
        "faults": {fault.id: f"{fault.title} (at {_and(fault.at)})" for fault in book.faults.values()},
    }
    return {name: dict(words) for name, words in maps.items()}


def _and(words: Iterable[str]) -> str:
    return " and ".join(words)


def _machine_words(book: Book) -> Words:
    facts = {fact.id: f"{fact.title}: {', '.join(fact.values) or 'a number'}" for fact in book.facts.values()}
    return {
        **facts,
        "complaint": f"beside machine, what the owner complains of: {', '.join(book.complaints)}",
    }


def _slot_words(book: Book) -> Words:
    words: dict[str, str] = {}
    for kind in book.kinds.values():
        words[kind.id] = f"{kind.title}, all of them" if kind.many else kind.title
        if kind.many:
            words |= {f"{kind.id}.{n}": f"{kind.title} {n}" for n in range(1, max(kind.default, 2) + 1)}
    return words


def _condition_words(book: Book) -> Words:
    words = dict(titles(book.conditions))
    for condition, allowed in (
        ("position", titles(book.positions)),
        ("touched", titles(book.touches)),
        ("started_by", titles(book.starters)),
        ("sure", SURE),
    ):
        for word, title in allowed.items():
            line = f"{condition}: {title}"
            words[word] = f"{words[word]}; {line}" if word in words else line
    return words


def _part_words(book: Book) -> Words:
    words: dict[str, str] = {}
    for kind in book.kinds.values():
        fields = "; ".join(f"{name}: {line}" for name, line in kind.fields.items())
        words[kind.id] = f"{kind.title} ({fields})" if fields else kind.title
    for part in book.shelf.values():
        words[f"shelf.{part.id}"] = f"{part.title or part.id}, {book.grades[part.grade].title}"
    return {**words, **HELD}
