"""What acts in a run: the condition, the chance, and the ways in which it ends."""

from halfsplit.book.bench_sections import CONDITION_WORDS, slot_kind
from halfsplit.book.desk import Desk
from halfsplit.book.form import Form, items_of, seconds_of, yes_no_of
from halfsplit.book.machine_sections import STRESSES
from halfsplit.book.tree import Map, Node, Place
from halfsplit.model.bench import Forced
from halfsplit.model.faults import ALWAYS, Act, Ending, Strength, When
from halfsplit.model.ladder import KINDS

STAYS = "stays"
DARK = ("used", "all")
"""What may be dark besides an output by its id."""

STAGES = ("self_test", "system")


def read_forced(desk: Desk) -> tuple[Forced, ...]:
    """Read ``forced``: what the setup itself does."""
    forced = []
    for node in desk.pages.forced:
        form = Form(desk, node.place, node, "forced act")
        when = read_when_field(form)
        q, endings = _read_draw(form)
        forced.append(Forced(when, q, endings))
        form.close()
    return tuple(forced)


def read_act(desk: Desk, node: Node, footholds: tuple[str, ...]) -> Act:
    """Return one act of a pattern; ``of`` is one of its footholds (HS333)."""
    form = Form(desk, node.place, node, "act")
    when = read_when_field(form)
    of = form.prose("of", "")
    if of and of not in footholds:
        desk.say(
            form.place_of("of"),
            "HS333",
            f"'{of}' is no foothold of this pattern",
            f"its footholds are {', '.join(footholds)}",
            "Write one of these, or add it to 'at'",
        )
    q, endings = _read_draw(form)
    form.close()
    return Act(q, endings, when, of)


def _read_draw(form: Form) -> tuple[Strength, tuple[Ending, ...]]:
    """Read the chance of an act and its endings."""
    desk = form.desk
    q = form.strength("q")
    many = form.node("ends")
    single = _read_ending(form, 1.0)
    if many is None:
        if _shows_nothing(single) and q.p > 0.0 and not form.is_blank:
            _say_nothing(desk, form.place)
        return q, (single,)
    if not _shows_nothing(single):
        desk.say(
            form.place_of("ends"),
            "HS314",
            "the act has an ending of its own and a list of endings",
            "it has one or the other",
            "Move the ending into 'ends'",
        )
    endings = tuple(_read_listed_ending(desk, item) for item in items_of(many))
    desk.say_sum(
        form.place_of("ends"), {str(n): end.share for n, end in enumerate(endings)}, "the shares of 'ends'"
    )
    return q, endings


def _read_listed_ending(desk: Desk, node: Node) -> Ending:
    form = Form(desk, node.place, node, "ending")
    ending = _read_ending(form, form.chance("share"))
    if _shows_nothing(ending) and not form.is_blank:
        _say_nothing(desk, form.place)
    form.close()
    return ending


def _shows_nothing(ending: Ending) -> bool:
    return not (
        ending.not_reached or ending.seconds is not None or ending.dark or ending.shows or ending.hides
    )


def _say_nothing(desk: Desk, place: Place) -> None:
    desk.say(
        place,
        "HS314",
        "this ending shows nothing",
        "it has 'not', 'stop', 'dark', 'shows' or 'hides'",
        "Say what is seen, or lower the chance to act",
    )


def _read_ending(form: Form, share: float) -> Ending:
    desk = form.desk
    not_reached = form.ref("not", "ladder", default="")
    kind, seconds, from_start = _read_stop(form, has_rung="not" in form.slots)
    dark = tuple(word for place, word in form.placed_words("dark") if _is_dark(desk, place, word))
    shows = form.refs("shows", "signs")
    hides = form.refs("hides", "signs")
    for sign in set(shows) & set(hides):
        desk.say(
            form.place_of("hides"),
            "HS314",
            f"'{sign}' is shown and hidden",
            "it is one or the other",
            "Take one out",
        )
    return Ending(share, not_reached, kind, seconds, from_start, dark, shows, hides)


def _is_dark(desk: Desk, place: Place, word: str) -> bool:
    output, dot, stage = word.partition(".")
    is_output = desk.id_at(place, output, ("outputs",), also=DARK) is not None
    return is_output and (not dot or desk.word_at(place, stage, STAGES))


def _read_stop(form: Form, *, has_rung: bool) -> tuple[str, float | None, bool]:
    """Return the kind of a stop, its time in seconds, and whether that counts from the start."""
    desk = form.desk
    node = form.node("stop")
    if node is None:
        return STAYS, None, False
    kind, seconds, from_start = STAYS, None, False
    if isinstance(node, Map):
        for key, slot in node.slots.items():
            if key == "from":
                said = desk.text_of(slot.node, "'from'")
                from_start = said is not None and desk.word_at(slot.node.place, said, ("start",))
            elif desk.word_at(slot.place, key, (*KINDS, "from")):
                kind, seconds = key, seconds_of(desk, slot.node, f"the time of '{key}'") or 0.0
    else:
        text = desk.text_of(node, "'stop'")
        if text is None or not desk.word_at(node.place, text, KINDS):
            return STAYS, None, False
        kind = text
    if has_rung or (seconds is not None and kind != STAYS):
        return kind, seconds, from_start
    desk.say(
        form.place_of("stop"),
        "HS314",
        "this stop has no place",
        "a stop is at a rung ('not: ...') or at a time ('stop: {resets: 10 min}')",
        "Write the rung that is not reached, or the time after log-in",
    )
    return kind, 0.0, from_start


def read_when_field(form: Form) -> When:
    """Return the condition under ``when``."""
    node = form.node("when")
    return ALWAYS if node is None else read_when(form.desk, form.place_of("when"), node)


def read_when(desk: Desk, place: Place, node: Node) -> When:
    """Return one condition on a run."""
    form = Form(desk, place, node, "when")
    when = When(
        load=tuple(word for at, word in form.placed_words("load") if desk.word_at(at, word, STRESSES)),
        cold=_maybe(form, "cold"),
        minutes_over=form.limit("minutes_over", unit="minutes"),
        lead_out=_maybe(form, "lead_out"),
        position=form.refs("position", *CONDITION_WORDS["position"]),
        touched=form.refs("touched", *CONDITION_WORDS["touched"]),
        started_by=form.refs("started_by", *CONDITION_WORDS["started_by"]),
        first_after=form.refs("first_after", *CONDITION_WORDS["first_after"]),
        output=form.refs("output", "outputs"),
        in_case=_maybe(form, "in_case"),
        has=_read_slots(form, "has"),
        lacks=_read_slots(form, "lacks"),
        host=form.refs("host", "hosts"),
    )
    form.close()
    return when


def _maybe(form: Form, key: str) -> bool | None:
    node = form.node(key)
    return None if node is None else yes_no_of(form.desk, node, f"'{key}'")


def _read_slots(form: Form, key: str) -> tuple[str, ...]:
    found = []
    for place, word in form.placed_words(key):
        kind = slot_kind(form.desk, word)
        if form.desk.id_at(place, word if kind is None else kind, ("parts",), drops=True) is not None:
            found.append(word)
    return tuple(found)
