"""Strengths: a word, a bare number, or a number with a spread and a basis of its own."""

from halfsplit.book.desk import AT_LEAST_0, COIN, UNIT, Desk, Ground, Number
from halfsplit.book.words import write_one_of
from halfsplit.model.faults import Strength
from halfsplit.yamltext import Node

PLAIN_BASES = ("estimate", "common practice")
"""The bases that are no published source."""

FIELDS = ("p", "spread", "basis")
CERTAIN = (0.0, 1.0)


def read_grounds(desk: Desk) -> None:
    """Read the ``basis`` and the ``spread`` that each file begins with."""
    for file, tree in desk.pages.files.items():
        slots = tree.entries()
        basis = read_basis(desk, slots["basis"][1]) if "basis" in slots else None
        spread = None
        if "spread" in slots:
            spread = desk.number_of(slots["spread"][1], "the spread", AT_LEAST_0) or COIN.spread
        desk.set_ground(file, Ground(basis, spread))


def read_strength_words(desk: Desk) -> None:
    """Read the section ``strengths``: what each strength word means."""
    for word, (_, node) in desk.pages.sections["strengths"].items():
        desk.strengths[word] = _read_number(desk, node, word)


def read_strength(desk: Desk, node: Node) -> Strength:
    """Return the strength that is written here; ``COIN`` after a mistake.

    Mistakes: HS303 to HS305, HS307, HS309 to HS311.
    """
    if isinstance(node.value, str) and not node.text[:1].isdigit():
        return read_word(desk, node.place, node.value)
    return _read_number(desk, node, "")


def read_word(desk: Desk, place: str, word: str) -> Strength:
    """Return what a strength word means; an unknown one is HS307."""
    if word in desk.strengths:
        return desk.strengths[word]
    should = "it is a word of 'strengths', a number, or {p: ..., spread: ..., basis: ...}"
    desk.say(place, "HS307", f"'{word}' is not known here", should, write_one_of(word, desk.strengths))
    return COIN


def _read_number(desk: Desk, node: Node, word: str) -> Strength:
    """Return the strength of a bare number or of a map with ``p``."""
    slots = node.entries()
    for key, (key_node, _) in slots.items():
        if key not in FIELDS:
            so = f"there is no field '{key}' in a strength"
            desk.say(key_node.place, "HS303", so, "a strength has p, spread, basis", write_one_of(key, FIELDS))
    if node.is_map and "p" not in slots:
        so, should = "'p' is missing", "a strength has its probability in 'p'"
        desk.say(node.place, "HS305", so, should, "Write 'p: ...'")
        return COIN
    p_node = slots["p"][1] if node.is_map else node
    p = desk.number_of(p_node, "the probability", UNIT)
    if p is None:
        return COIN
    ground = Ground() if slots.keys() >= set(FIELDS) else desk.ground_at(p_node.place)
    spread = 0.0 if p in CERTAIN else ground.spread or COIN.spread
    if "spread" in slots:
        spread = _read_spread(desk, slots["spread"][1], p)
    basis = read_basis(desk, slots["basis"][1]) if "basis" in slots else ground.basis or ""
    desk.numbers.append(Number(p_node.place, p, "probability", spread, basis))
    return desk.keep(Strength(p, spread, word, basis))


def _read_spread(desk: Desk, node: Node, p: float) -> float:
    """Return a spread; it is 0 for what is certain and above 0 for all else (HS311)."""
    spread = desk.number_of(node, "the spread", AT_LEAST_0)
    if spread is not None and (p in CERTAIN) != (spread == 0.0):
        so, should = f"the spread of {p:g} is {spread:g}", "0 and 1 have the spread 0, and nothing else has"
        do = "Write 0" if p in CERTAIN else "Write a spread above 0; 0.7 is a factor of two either way"
        desk.say(node.place, "HS311", so, should, do)
    return spread or 0.0


def read_basis(desk: Desk, node: Node) -> str:
    """Return a basis: "estimate", "common practice" or "source: id"; another one is HS311 or HS307."""
    text = desk.text_of(node, "the basis")
    if text is None or text in PLAIN_BASES:
        return text or PLAIN_BASES[0]
    kind, colon, source = text.partition(":")
    if kind == "source" and colon:
        desk.id_at(node.place, source.strip(), ("sources",))
        return f"source: {source.strip()}"
    should = "a basis is 'estimate', 'common practice' or \"source: id\""
    sources = (f"source: {source}" for source in desk.pages.sections["sources"])
    do = write_one_of(text, (*PLAIN_BASES, *sources))
    desk.say(node.place, "HS311", f"the basis is '{text}'", should, do)
    return PLAIN_BASES[0]
