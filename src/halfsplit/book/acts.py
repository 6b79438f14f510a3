"""What acts in a run: the chance, and the ways in which it ends."""

from halfsplit.book.conditions import read_when
from halfsplit.book.desk import Desk
from halfsplit.book.form import Form, seconds_of
from halfsplit.model.bench import Forced
from halfsplit.model.faults import Act, Ending, Strength
from halfsplit.model.ladder import KINDS
from halfsplit.yamltext import Node

STAYS = "stays"
"""The kind of a stop that is not said: it stays on and gets no further."""

DARK = ("used", "all")
"""What may be dark besides an output by its id."""

SHOWING = ("not", "stop", "dark", "shows", "hides")
"""The fields by which an ending shows."""

STAGES = ("self_test", "system")
"""When an output may be dark; without a stage in both."""


def read_forced(desk: Desk) -> tuple[Forced, ...]:
    """Read ``forced``: what the setup itself does."""
    forced = []
    for node in desk.pages.forced:
        form = Form(desk, (node, node), "forced act")
        q, endings = _read_draw(form)
        forced.append(Forced(read_when(form), q, endings))
        form.close()
    return tuple(forced)


def read_act(desk: Desk, node: Node, footholds: tuple[str, ...]) -> Act:
    """Return one act of a pattern; ``of`` is one of its footholds (HS333)."""
    form = Form(desk, (node, node), "act")
    of = form.prose("of", "")
    if of and of not in footholds:
        so, should = f"'{of}' is no foothold of this pattern", f"its footholds are {', '.join(footholds)}"
        desk.say(form.place_of("of"), "HS333", so, should, "Write one of these, or add it to 'at'")
    q, endings = _read_draw(form)
    when = read_when(form)
    form.close()
    return Act(q, endings, when, of)


def _read_draw(form: Form) -> tuple[Strength, tuple[Ending, ...]]:
    """Return the chance of an act and its endings: its own one, or those of the list ``ends``."""
    desk = form.desk
    q = form.strength("q")
    items = form.items("ends")
    own = _read_ending(form, 1.0)
    if not items:
        if q.p > 0.0:
            _check_ending(form, own)
        return q, (own,)
    if not _shows_nothing(own):
        so = "the act has an ending of its own and a list of endings"
        do = "Move the ending into 'ends'"
        desk.say(form.place_of("ends"), "HS314", so, "it has one or the other", do)
    endings = tuple(_read_listed(desk, item) for item in items)
    desk.say_sum(form.place_of("ends"), (ending.share for ending in endings), "the shares of 'ends'")
    return q, endings


def _read_listed(desk: Desk, node: Node) -> Ending:
    form = Form(desk, (node, node), "ending")
    ending = _read_ending(form, form.chance("share"))
    _check_ending(form, ending)
    form.close()
    return ending


def _shows_nothing(ending: Ending) -> bool:
    return ending == Ending(ending.share, kind=ending.kind)


def _check_ending(form: Form, ending: Ending) -> None:
    if _shows_nothing(ending) and not form.is_blank and form.slots.keys().isdisjoint(SHOWING):
        so, should = "this ending shows nothing", "it has 'not', 'stop', 'dark', 'shows' or 'hides'"
        form.desk.say(form.place, "HS314", so, should, "Say what is seen, or lower the chance to act")


def _read_ending(form: Form, share: float) -> Ending:
    not_reached = form.ref("not", "ladder", default="")
    kind, seconds, from_start = _read_stop(form)
    dark = tuple(word for place, word in form.words("dark") if _is_dark(form.desk, place, word))
    shows, hides = form.refs("shows", "signs"), form.refs("hides", "signs")
    for sign in sorted(set(shows) & set(hides)):
        so = f"'{sign}' is shown and hidden"
        form.desk.say(form.place_of("hides"), "HS314", so, "it is one or the other", "Take one out")
    return Ending(share, not_reached, kind, seconds, from_start, dark, shows, hides)


def _is_dark(desk: Desk, place: str, word: str) -> bool:
    output, dot, stage = word.partition(".")
    is_output = desk.id_at(place, output, ("outputs",), also=DARK) is not None
    return is_output and (not dot or desk.is_word(place, stage, STAGES))


def _read_stop(form: Form) -> tuple[str, float | None, bool]:
    """Return the kind of a stop, its time in seconds, and whether that counts from the start."""
    desk = form.desk
    node = form.node("stop")
    if node is None:
        return STAYS, None, False
    before = len(desk.mistakes)
    kind, seconds, from_start = STAYS, None, False
    if not node.is_map:
        text = desk.text_of(node, "'stop'")
        kind = text if text is not None and desk.is_word(node.place, text, KINDS) else STAYS
    for word, (key, value) in node.entries().items():
        if word == "from":
            from_start = desk.is_word(value.place, value.text, ("start",))
        elif desk.is_word(key.place, word, (*KINDS, "from")):
            kind, seconds = word, seconds_of(desk, value, f"the time of '{word}'")
    is_understood = len(desk.mistakes) == before
    if is_understood and "not" not in form.slots and (kind == STAYS or not node.is_map):
        so = "this stop has no place"
        should = "a stop is at a rung, as 'not: loader', or at a time, as 'stop: {resets: 10 min}'"
        do = "Add the rung that is not reached, or the time after log-in"
        desk.say(form.place_of("stop"), "HS314", so, should, do)
    return kind, seconds, from_start
