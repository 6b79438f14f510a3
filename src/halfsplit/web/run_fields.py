"""What a run showed, and under which conditions, as fields of a form: in the words in which it is entered."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from halfsplit.errors import Mistake, WebError
from halfsplit.jobfile.seen import IN_USE, SELF_TEST, SYSTEM
from halfsplit.model.book import Book
from halfsplit.model.job import NO, UNSURE, YES, Seen, StopSeen
from halfsplit.model.machine import Conditions
from halfsplit.web.entry_fields import TEXT, TILES, Field, Option, length_text, options_of, read_length
from halfsplit.web.seen_page import ENDINGS
from halfsplit.web.texts import say

STAYED, STOPPED = "stayed", "stopped"
"""Ways in which a run ended that are no kind of stop: it did not, and it is not said how."""


def ending_field(seen: Seen) -> Field[Seen]:
    """Return how a run went, as the tiles by which it is entered."""
    value = next((name for name, ending in ENDINGS.items() if _is_like(seen, ending)), "")
    tiles = [Option(name, say(f"ending.{name}")) for name in ENDINGS]
    other = [] if value else [Option("", say("field.ending_other"))]
    return Field("ending", say("seen.run"), value, _put_ending, TILES, (*other, *tiles))


def sign_fields(seen: Seen, book: Book) -> Iterable[Field[Seen]]:
    """Yield each sign that was said, and two lists of those that were not."""
    answers = {YES: "field.there", NO: "field.missing", UNSURE: "field.unsure", "": "field.not_looked"}
    options = tuple(Option(word, say(key)) for word, key in answers.items())
    for name, said in seen.signs.items():
        yield Field(f"sign:{name}", book.signs[name].title, said, _put_sign(name), options=options)
    rungs = {rung.id: rung.title for rung in book.ladder.rungs}
    others = tuple(
        Option(sign.id, sign.title, rungs[rung])
        for rung in rungs
        for sign in book.signs.values()
        if sign.needs == rung and sign.id not in seen.signs
    )
    for word, key in ((YES, "field.sign_there"), (NO, "field.sign_missing")):
        first = Option("", say("field.no_other"))
        yield Field(f"more:{word}", say(key), "", _put_more(word), options=(first, *others))


def exact_fields(seen: Seen, book: Book) -> Iterable[Field[Seen]]:
    """Yield how far a run came, how it ended, and where there was a picture."""
    rungs = {rung.id: rung for rung in book.ladder.rungs}
    unsaid = say("field.unsaid")
    yield Field(
        "reached",
        say("field.reached"),
        seen.reached,
        lambda now, said: replace(now, reached=said),
        options=options_of(rungs, unsaid=unsaid),
    )
    yield Field(
        "missed",
        say("field.missed"),
        seen.not_reached,
        lambda now, said: replace(now, not_reached=said),
        options=options_of(rungs, unsaid=unsaid),
    )
    ended = STAYED if seen.stayed else "" if seen.stop is None else seen.stop.kind or STOPPED
    ways = (Option(STAYED, say("field.stayed")), Option(STOPPED, say("field.stopped")))
    yield Field(
        "stop", say("field.stop"), ended, _put_stop, options=(Option("", unsaid), *ways, *options_of(book.stops))
    )
    after = seen.stop.seconds if seen.stop is not None else None
    title = say("field.after")
    yield Field(
        "after",
        title,
        length_text(after),
        lambda now, said: _put_after(now, read_length(title, said)),
        TEXT,
        note=say("field.length"),
    )
    for output in seen.picture or (IN_USE,):
        for stage in (SELF_TEST, SYSTEM):
            yield _picture_field(seen, output, stage, book)


def condition_fields(conditions: Conditions, book: Book) -> Iterable[Field[Conditions]]:
    """Yield the conditions of a run."""
    unsaid = say("field.unsaid")
    yield Field(
        "load",
        say("field.load"),
        conditions.load,
        lambda now, said: replace(now, load=said),
        options=options_of(book.loads),
    )
    warmth = (Option("", unsaid), Option("yes", say("field.cold")), Option("no", say("field.warm")))
    cold = "" if conditions.cold is None else "yes" if conditions.cold else "no"
    yield Field("cold", say("field.warmth"), cold, lambda now, said: replace(now, cold=_yes_no(said)), options=warmth)
    yield Field(
        "touched",
        say("field.touched"),
        conditions.touched,
        lambda now, said: replace(now, touched=said),
        options=options_of(book.touches, unsaid=say("field.nothing")),
    )
    yield Field(
        "position",
        say("field.position"),
        conditions.position,
        lambda now, said: replace(now, position=said),
        options=options_of(book.positions, unsaid=unsaid),
    )
    yield Field(
        "started_by",
        say("field.started_by"),
        conditions.started_by,
        lambda now, said: replace(now, started_by=said),
        options=options_of(book.starters, unsaid=unsaid),
    )
    yield Field(
        "first_after",
        say("field.first_after"),
        conditions.first_after,
        lambda now, said: replace(now, first_after=said),
        options=(
            *options_of(book.openings, unsaid=say("field.nothing"), group=say("book.section_openings")),
            *options_of(book.repairs, group=say("book.section_repairs")),
            *options_of(book.events, group=say("book.section_events")),
        ),
    )
    out, lasted = say("field.lead_out"), say("field.minutes")
    yield Field(
        "lead_out",
        out,
        length_text(_seconds(conditions.lead_out_minutes)),
        lambda now, said: replace(now, lead_out_minutes=_minutes(read_length(out, said))),
        TEXT,
        note=say("field.length"),
    )
    yield Field(
        "minutes",
        lasted,
        length_text(_seconds(conditions.minutes)),
        lambda now, said: replace(now, minutes=_minutes(read_length(lasted, said))),
        TEXT,
        note=say("field.length"),
    )


def check_seen(seen: Seen, book: Book) -> None:
    """Check that what a run showed goes together.

    Raises:
        WebError: HS805, it came at least as far as to a rung that it did not come to, or stayed up without.
    """
    rungs = {rung.id: rung.title for rung in book.ladder.rungs}
    reached, missed = seen.reached, seen.not_reached
    if reached and missed and book.ladder.place(reached) >= book.ladder.place(missed):
        so = say("field.both_rungs", reached=rungs[reached], missed=rungs[missed])
        raise WebError([Mistake(say("group.exact"), "HS805", so, say("field.rungs_should"), say("field.rungs_do"))])
    if seen.stayed and missed:
        so = say("field.stayed_short", missed=rungs[missed])
        raise WebError([Mistake(say("group.exact"), "HS805", so, say("field.stayed_should"), say("field.rungs_do"))])


def is_said(conditions: Conditions) -> bool:
    """Return whether anything is said of the conditions of a run."""
    return conditions != Conditions()


def _is_like(seen: Seen, ending: Seen) -> bool:
    """Return whether a run went as a tile says it; what the tile does not say may be anything."""
    rungs = (ending.reached or seen.reached, ending.not_reached or seen.not_reached)
    is_same = (seen.reached, seen.not_reached, seen.stayed) == (*rungs, ending.stayed)
    kinds = [each.stop.kind if each.stop is not None else None for each in (seen, ending)]
    return is_same and kinds[0] == kinds[1] and (not ending.picture or _lit(seen) == _lit(ending))


def _lit(seen: Seen) -> set[bool]:
    return {is_lit for stages in seen.picture.values() for is_lit in stages.values()}


def _put_ending(seen: Seen, said: str) -> Seen:
    return replace(ENDINGS[said], signs=seen.signs) if said in ENDINGS else seen


def _put_sign(name: str) -> Callable[[Seen, str], Seen]:
    def put(seen: Seen, said: str) -> Seen:
        signs = {**seen.signs, name: said} if said else {sign: was for sign, was in seen.signs.items() if sign != name}
        return replace(seen, signs=MappingProxyType(signs))

    return put


def _put_more(word: str) -> Callable[[Seen, str], Seen]:
    return lambda seen, said: replace(seen, signs=MappingProxyType({**seen.signs, said: word})) if said else seen


def _put_stop(seen: Seen, said: str) -> Seen:
    if said in ("", STAYED):
        return replace(seen, stop=None, stayed=said == STAYED)
    after = seen.stop.seconds if seen.stop is not None else None
    return replace(seen, stop=StopSeen("" if said == STOPPED else said, after), stayed=False)


def _put_after(seen: Seen, after: float | None) -> Seen:
    if seen.stop is None and after is None:
        return seen
    return replace(seen, stop=replace(seen.stop or StopSeen(), seconds=after), stayed=False)


def _picture_field(seen: Seen, output: str, stage: str, book: Book) -> Field[Seen]:
    lit = seen.picture.get(output, {}).get(stage)
    where = book.outputs[output].title if output in book.outputs else say("field.in_use")
    options = (
        Option("", say("field.unsaid")),
        Option("yes", say("field.picture_there")),
        Option("no", say("field.picture_missing")),
    )

    def put(now: Seen, said: str) -> Seen:
        is_lit = _yes_no(said)
        before = now.picture.get(output, {})
        stages = {name: was for name, was in before.items() if name != stage}
        stages |= {} if is_lit is None else {stage: is_lit}
        picture: dict[str, Mapping[str, bool]] = {name: each for name, each in now.picture.items() if name != output}
        picture |= {output: MappingProxyType(stages)} if stages else {}
        return replace(now, picture=MappingProxyType(picture))

    value = "" if lit is None else "yes" if lit else "no"
    return Field(f"picture:{output}:{stage}", say(f"field.picture_{stage}", where=where), value, put, options=options)


def _yes_no(said: str) -> bool | None:
    return None if not said else said == "yes"


def _seconds(minutes: float | None) -> float | None:
    return None if minutes is None else 60.0 * minutes


def _minutes(length: float | None) -> float | None:
    return None if length is None else length / 60.0
