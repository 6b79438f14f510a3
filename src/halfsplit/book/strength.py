"""Strengths: a word, a bare number, or a number with its own spread and basis."""

from halfsplit.book.desk import COIN, Desk, Ground, Number
from halfsplit.book.tree import Items, Map, Node, Place, Slot, Text
from halfsplit.book.words import is_nothing, parse_number, write_one_of
from halfsplit.model.faults import Strength

PLAIN_BASES = ("estimate", "common practice")


def read_grounds(desk: Desk) -> None:
    """Read the ``basis`` and the ``spread`` that each file begins with."""
    for file, slots in desk.pages.file_slots.items():
        basis = read_basis(desk, slots["basis"].node) if "basis" in slots else None
        spread = None
        if "spread" in slots:
            node = slots["spread"].node
            spread = desk.bare_number_of(node, "the spread")
            if spread is None or not desk.is_within(node.place, spread, "the spread", 0.0, 10.0, 0.0):
                spread = 0.7
        desk.set_ground(file, Ground(basis, spread))


def read_strength_words(desk: Desk) -> None:
    """Read the section ``strengths``: what each strength word means."""
    for word, slot in desk.pages.sections["strengths"].items():
        if parse_number(word) is not None:
            continue
        meant = _read_number(desk, slot.node, word)
        desk.strengths[word] = desk.keep(meant)


def read_strength(desk: Desk, node: Node) -> Strength:
    """Return the strength that is written here; ``COIN`` after a mistake.

    Mistakes: HS304, HS307, HS309, HS310, HS311.
    """
    if isinstance(node, Text):
        if not is_nothing(node.text) and (not node.is_plain or parse_number(node.text) is None):
            return strength_word(desk, node.place, node.text)
    return desk.keep(_read_number(desk, node, ""))


def strength_word(desk: Desk, place: Place, word: str) -> Strength:
    """Return what a strength word means; an unknown one is HS307."""
    if word in desk.strengths:
        return desk.strengths[word]
    desk.say(
        place,
        "HS307",
        f"'{word}' is not in 'strengths'",
        "a strength is a word of 'strengths', a number, or {p: ..., spread: ..., basis: ...}",
        write_one_of(word, desk.strengths),
    )
    return COIN


def _read_number(desk: Desk, node: Node, word: str) -> Strength:
    if isinstance(node, Map):
        return _read_full(desk, node, word)
    if isinstance(node, Items):
        desk.say_wrong_kind(node, "the strength", "a strength word, a number, or a map with 'p'")
        return COIN
    p = desk.bare_number_of(node, "the strength")
    if p is None or not desk.is_within(node.place, p, "the probability", 0.0, 1.0):
        return COIN
    ground = desk.ground_of(node.place)
    return _strength(desk, node.place, p, _spread_of(p, ground), ground.basis or "", word)


def _spread_of(p: float, ground: Ground) -> float:
    return 0.0 if p in (0.0, 1.0) else ground.spread or COIN.spread


def _read_full(desk: Desk, node: Map, word: str) -> Strength:
    for key, slot in node.slots.items():
        if key not in ("p", "spread", "basis"):
            desk.say(
                slot.place,
                "HS303",
                f"there is no field '{key}' in a strength",
                "a strength has 'p', 'spread' and 'basis'",
                write_one_of(key, ("p", "spread", "basis")),
            )
    if "p" not in node.slots:
        desk.say(
            node.place, "HS305", "'p' is missing", "a strength has its probability in 'p'", "Write 'p: ...'"
        )
        return COIN
    p_node = node.slots["p"].node
    p = desk.bare_number_of(p_node, "the probability")
    if p is None or not desk.is_within(p_node.place, p, "the probability", 0.0, 1.0):
        return COIN
    has_both = "spread" in node.slots and "basis" in node.slots
    ground = Ground("", None) if has_both else desk.ground_of(p_node.place)
    spread = _spread_of(p, ground)
    if "spread" in node.slots:
        spread = _read_spread(desk, node.slots["spread"], p)
    basis = ground.basis or ""
    if "basis" in node.slots:
        basis = read_basis(desk, node.slots["basis"].node)
    return _strength(desk, p_node.place, p, spread, basis, word)


def _read_spread(desk: Desk, slot: Slot, p: float) -> float:
    is_certain = p in (0.0, 1.0)
    spread = desk.bare_number_of(slot.node, "the spread")
    if spread is None or not desk.is_within(slot.node.place, spread, "the spread", 0.0, 10.0):
        return _spread_of(p, Ground(None, None))
    if is_certain == (spread == 0.0):
        return spread
    desk.say(
        slot.node.place,
        "HS311",
        f"the spread of {p:g} is {spread:g}",
        "0 and 1 have the spread 0, and nothing else has",
        "Write 'spread: 0'" if is_certain else "Write a spread above 0 (0.7 is a factor of two either way)",
    )
    return _spread_of(p, Ground(None, None))


def _strength(desk: Desk, place: Place, p: float, spread: float, basis: str, word: str) -> Strength:
    desk.numbers.append(Number(place, p, "probability", spread, basis))
    return Strength(p, spread, word, basis or "estimate")


def read_basis(desk: Desk, node: Node) -> str:
    """Return a basis: "estimate", "common practice" or "source: id"; another one is HS311 or HS307."""
    text = desk.text_of(node, "the basis")
    if text is None:
        return PLAIN_BASES[0]
    plain = " ".join(text.split())
    if plain in PLAIN_BASES:
        return plain
    if plain.startswith("source:"):
        source = plain.removeprefix("source:").strip()
        desk.id_at(node.place, source, ("sources",))
        return f"source: {source}"
    desk.say(
        node.place,
        "HS311",
        f"the basis is '{text}'",
        "a basis is 'estimate', 'common practice' or 'source: id'",
        write_one_of(plain, (*PLAIN_BASES, *(f"source: {key}" for key in sorted(desk.ids(("sources",)))))),
    )
    return PLAIN_BASES[0]
