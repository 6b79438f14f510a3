"""The form in which an entry of the log is corrected: the words and tiles by which it is entered, filled in."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from halfsplit.errors import Mistake, WebError
from halfsplit.job.asked import numbers_at
from halfsplit.job.lines import held_in_words, numbered, title_of, title_of_point, title_of_slot
from halfsplit.job.units import OWNER, SHELF, kind_of, number_of
from halfsplit.jobfile import write_job
from halfsplit.measure.meter import Meter
from halfsplit.model.book import Book
from halfsplit.model.job import (
    UNSURE,
    ChangeSetup,
    Correct,
    Entry,
    Inspect,
    Job,
    Measure,
    Remark,
    RepairDone,
    Run,
    Seen,
    Told,
)
from halfsplit.model.machine import Conditions, Setup
from halfsplit.web.answers import REPLACES
from halfsplit.web.entry_fields import (
    TEXT,
    TILES,
    WORDS,
    Field,
    Group,
    Option,
    options_of,
    read_number,
    read_whole,
    within,
)
from halfsplit.web.number_field import number_field
from halfsplit.web.passing import is_passing
from halfsplit.web.run_fields import check_seen, condition_fields, ending_field, exact_fields, is_said, sign_fields
from halfsplit.web.texts import say

OUT = "out"


class EntryForm:
    """Makes the forms of one job.

    Args:
        standing: how the machine stands, for the places at which something can be looked at, measured or repaired.
        book: the fault book, with the parts of the bench's own shelf.
        currency: of every sum.
        meters: the bench's voltmeters, the usual one first.
    """

    def __init__(self, standing: Setup, book: Book, currency: str, meters: Sequence[Meter]) -> None:
        self._standing = standing
        self._book = book
        self._currency = currency
        self._meters = meters

    def groups(self, entry: Entry) -> tuple[Group, ...]:
        """Return the fields of an entry; none where it can only be taken back."""
        match entry:
            case Run():
                found = self._run(entry)
            case Told():
                found = self._told(entry)
            case Inspect():
                found = self._inspect(entry)
            case Measure():
                found = self._measure(entry)
            case ChangeSetup():
                found = [Group("", tuple(self._setup(entry)))]
            case RepairDone():
                found = [Group("", tuple(self._repair(entry)))]
            case Remark() if not is_passing(entry.text):
                found = [Group("", tuple(self._remark(entry)))]
            case _:
                found = []
        return tuple(group for group in found if group.fields)

    def _run(self, run: Run) -> Iterable[Group]:
        book = self._book
        ending = ending_field(run.seen)
        yield Group("", tuple(within([ending], _seen_of, _with_seen)))
        yield Group(say("group.signs"), tuple(within(sign_fields(run.seen, book), _seen_of, _with_seen)))
        conditions = tuple(within(condition_fields(run.conditions, book), _conditions_of, _with_conditions))
        yield Group(say("group.conditions"), conditions, is_said(run.conditions))
        otherwise = bool(run.swaps or run.output or run.case or run.on != OWNER)
        yield Group(say("group.setup"), tuple(self._setup(run)), otherwise)
        yield Group(
            say("group.exact"), tuple(within(exact_fields(run.seen, book), _seen_of, _with_seen)), not ending.value
        )
        yield Group(say("group.count"), tuple(_counts(run)), run.of > 1)

    def _told(self, told: Told) -> Iterable[Group]:
        book = self._book
        if told.event:
            happened = (Option("yes", say("field.happened")), Option("no", say("field.not_happened")))
            yield Group(
                "",
                (
                    _choice("event", told.event, options_of(book.events), lambda now, said: replace(now, event=said)),
                    _choice(
                        "is_true",
                        "yes" if told.is_true else "no",
                        happened,
                        lambda now, said: replace(now, is_true=said == "yes"),
                        TILES,
                    ),
                    _text("ago", told.ago, lambda now, said: replace(now, ago=said)),
                ),
            )
        if told.seen is not None:
            ending = ending_field(told.seen)
            always = {True: "yes", False: "no", None: ""}[told.always]
            answers = (
                Option("", say("field.unsaid")),
                Option("yes", say("always.yes")),
                Option("no", say("always.no")),
            )
            yield Group("", tuple(within([ending], _seen_of, _with_seen)))
            yield Group(
                "",
                (_choice("always", always, answers, lambda now, said: replace(now, always=_ALWAYS[said])),),
            )
            yield Group(say("group.signs"), tuple(within(sign_fields(told.seen, book), _seen_of, _with_seen)))
            conditions = tuple(within(condition_fields(told.conditions, book), _conditions_of, _with_conditions))
            yield Group(say("group.conditions"), conditions, is_said(told.conditions))
            exact = tuple(within(exact_fields(told.seen, book), _seen_of, _with_seen))
            yield Group(say("group.exact"), exact, not ending.value)
        sure = tuple(Option(word, say(f"sure.{word}")) for word in ("sure", "fairly", "guess"))
        words: Field[Told] = Field(
            "words", say("field.words"), told.words, lambda now, said: replace(now, words=said), WORDS
        )
        yield Group("", (_choice("sure", told.sure, sure, lambda now, said: replace(now, sure=said)), words))

    def _inspect(self, look: Inspect) -> Iterable[Group]:
        book, noun = self._book, self._book.inspections[kind_of(look.what)]
        tiles = [Option(word, word.replace("_", " ")) for word in noun.seen]
        tiles.append(Option(UNSURE, say("field.unsure")))
        yield Group(
            "",
            (
                Field("seen", noun.title, look.seen, lambda now, said: replace(now, seen=said), TILES, tuple(tiles)),
                *self._places(look.what, [noun.id], lambda now, said: replace(now, what=said)),
                _choice("tool", look.tool, options_of(book.tools), lambda now, said: replace(now, tool=said)),
                *self._host(look.on),
            ),
        )

    def _measure(self, measure: Measure) -> Iterable[Group]:
        book, noun = self._book, self._book.measurements[kind_of(measure.what)]
        asked = number_field(measure, book)
        title = say("field.value")
        alike = [point.id for point in book.measurements.values() if point.unit == noun.unit]
        meters = tuple(Option(meter.name, meter.name) for meter in self._meters)
        if measure.meter not in {meter.name for meter in self._meters}:
            meters = (Option(measure.meter, measure.meter or say("field.usual_meter")), *meters)
        yield Group(
            "",
            (
                Field(
                    "value",
                    title,
                    f"{measure.value:.12g}",
                    lambda now, said: replace(now, value=read_number(title, said)),
                    TEXT,
                    unit=asked.unit,
                    note=asked.limits,
                ),
                *self._places(measure.what, alike, lambda now, said: replace(now, what=said)),
                _choice("load", measure.load, options_of(book.loads), lambda now, said: replace(now, load=said)),
                _choice("meter", measure.meter, meters, lambda now, said: replace(now, meter=said)),
                *self._host(measure.on),
            ),
        )

    def _setup(self, entry: Run | ChangeSetup) -> Iterable[Field[Any]]:
        """Yield what was otherwise in the machine: each slot that was changed, and lists of what else may have been."""
        book = self._book
        yield from self._host(entry.on)
        for slot, held in entry.swaps.items():
            if slot != "case" or not entry.case:  # a word of the setup and a part: asked for below
                yield Field(
                    f"slot:{slot}",
                    title_of_slot(slot, book),
                    held,
                    _put_slot(slot),
                    options=self._held(slot, held, entry),
                )
        others = [slot for slot in self._standing.slots if slot not in entry.swaps]
        first = Option("", say("field.no_other"))
        out = tuple(Option(slot, title_of_slot(slot, book)) for slot in others)
        yield Field("also_out", say("field.also_out"), "", _put_out, options=(first, *out))
        ours = tuple(Option(part.id, part.title or part.id.replace("_", " ")) for part in book.shelf.values())
        yield Field("also_ours", say("field.also_ours"), "", self._put_ours, options=(first, *ours))
        unsaid = say("field.as_before")
        yield _choice(
            "output",
            entry.output,
            options_of(book.outputs, unsaid=unsaid),
            lambda now, said: replace(now, output=said),
        )
        cases = (Option("", unsaid), Option("in", say("log.case_in")), Option(OUT, say("log.case_out")))
        yield _choice("case", entry.case, cases, _put_case)

    def _held(self, slot: str, held: str, entry: Run | ChangeSetup) -> tuple[Option, ...]:
        """Return what a slot may hold."""
        book, words = self._book, {"": say("field.as_before"), "in": say("chip.in"), OUT: say("chip.out")}
        ours = [f"{SHELF}.{part.id}" for part in book.shelf.values() if part.kind == kind_of(slot)]
        known = [*words, *([OWNER] if entry.on != OWNER else []), *ours]
        return tuple(
            Option(each, words.get(each) or held_in_words(each, book)) for each in dict.fromkeys((*known, held))
        )

    def _put_ours(self, entry: Any, said: str) -> Any:
        """Return an entry with one more part of the shelf, in the first slot of its kind."""
        if said not in self._book.shelf:
            return entry
        kind = self._book.shelf[said].kind
        slot = next((each for each in self._standing.slots if kind_of(each) == kind), "")
        slot = slot or (f"{kind}.1" if self._book.kinds[kind].many else kind)
        return replace(entry, swaps=MappingProxyType({**entry.swaps, slot: f"{SHELF}.{said}"}))

    def _repair(self, done: RepairDone) -> Iterable[Field[RepairDone]]:
        book = self._book
        repairs = tuple(
            Option(each.id, each.title, title)
            for title, each in sorted(
                ((_title_at(each.at, book), each) for each in book.repairs.values()), key=lambda pair: pair[0]
            )
        )
        yield _choice("do", done.do, repairs, self._put_repair)
        yield from self._places(done.to, [kind_of(done.to)], lambda now, said: replace(now, to=said))
        if book.repairs[done.do].does == REPLACES:
            ours = [f"{SHELF}.{part.id}" for part in book.shelf.values() if part.kind == kind_of(done.to)]
            fitted = tuple(
                Option(each, say("field.new") if each == "new" else title_of(each, book))
                for each in dict.fromkeys(("new", *ours, done.fitted))
            )
            yield _choice("fitted", done.fitted, fitted, lambda now, said: replace(now, fitted=said))

    def _put_repair(self, done: RepairDone, said: str) -> RepairDone:
        """Return another repair, at the same number of its place where there is one."""
        if said not in self._book.repairs:
            return done
        at = self._book.repairs[said].at
        numbers = numbers_at(at, self._standing, self._book) or ("",)
        number = number_of(done.to) if number_of(done.to) in numbers else numbers[0]
        return replace(done, do=said, to=f"{at}{number}", fitted="new")

    def _remark(self, remark: Remark) -> Iterable[Field[Remark]]:
        yield Field("text", say("field.text"), remark.text, lambda now, said: replace(now, text=said), WORDS)
        if remark.cents is not None or remark.kind in ("agree", "spend"):
            title, value = say("field.sum"), "" if remark.cents is None else f"{remark.cents / 100:.2f}"

            def put(now: Remark, said: str) -> Remark:
                return replace(now, cents=round(100 * read_number(title, said, least=0.0)) if said else None)

            yield Field("sum", title, value, put, TEXT, unit=self._currency)

    def _places(self, what: str, nouns: Iterable[str], put: Any) -> Iterable[Field[Any]]:
        """Yield the places at which something may have been done, where there are several."""
        found = {what: _title_at(what, self._book)}
        for name in nouns:
            at = getattr(self._book.inspections.get(name) or self._book.measurements.get(name), "at", name)
            found |= {
                name + number: _title_at(name + number, self._book)
                for number in numbers_at(at, self._standing, self._book)
            }
        if len(found) > 1:
            yield _choice("place", what, tuple(Option(each, title) for each, title in sorted(found.items())), put)

    def _host(self, on: str) -> Iterable[Field[Any]]:
        yield _choice("on", on, options_of(self._book.hosts), lambda now, said: replace(now, on=said))


def check_entry(entry: Entry, book: Book) -> None:
    """Check that the answers of a form go together, in the words of the form.

    Raises:
        WebError: HS805, they do not.
    """
    if isinstance(entry, Run | Told) and entry.seen is not None:
        check_seen(entry.seen, book)
    if isinstance(entry, Run) and entry.failed > entry.of:
        so, should = say("field.more_failed", failed=entry.failed, of=entry.of), say("field.more_should")
        raise WebError([Mistake(say("group.count"), "HS805", so, should, say("field.more_do"))])


def correction_text(entry: Entry, now: Entry, book: Book) -> str:
    """Return the text that puts a correction on the log.

    Args:
        entry: the entry as it stands.
        now: as it should have been.
        book: the fault book.
    """
    change = Correct("correct_1", entry=entry.id, now=now)
    return write_job(Job(log=(entry, change)), book).splitlines()[-1].strip()


_ALWAYS: Mapping[str, bool | None] = {"yes": True, "no": False, "": None}


def _title_at(place: str, book: Book) -> str:
    """Return what a place is called: that of a look or a measurement, a part or a joint, with its number."""
    for nouns in (book.inspections, book.measurements, book.joints, book.kinds):
        noun: Any = nouns.get(kind_of(place))
        if noun is not None:
            return title_of_point(place, book) if nouns is book.measurements else numbered(noun.title, place)
    return place.replace("_", " ")


def _counts(run: Run) -> Iterable[Field[Run]]:
    of, failed = say("field.of"), say("field.failed")

    def put_of(now: Run, said: str) -> Run:
        many = read_whole(of, said)
        return replace(now, of=many, failed=min(now.failed, many))

    yield Field("of", of, f"{run.of}", put_of, TEXT)
    yield Field(
        "failed", failed, f"{run.failed}", lambda now, said: replace(now, failed=read_whole(failed, said)), TEXT
    )


def _choice(name: str, value: str, options: tuple[Option, ...], put: Any, shape: str = "select") -> Field[Any]:
    return Field(name, say(f"field.{name}"), value, put, shape, options)


def _text(name: str, value: str, put: Any) -> Field[Any]:
    return Field(name, say(f"field.{name}"), value, put, TEXT)


def _put_slot(slot: str) -> Any:
    def put(entry: Run | ChangeSetup, said: str) -> Run | ChangeSetup:
        kept = {name: held for name, held in entry.swaps.items() if name != slot or said}
        return replace(entry, swaps=MappingProxyType({**kept, slot: said} if said else kept))

    return put


def _put_case(entry: Run | ChangeSetup, said: str) -> Run | ChangeSetup:
    """Return an entry with the board in or out of the case: in a change of the setup it is a slot as well."""
    if isinstance(entry, Run):
        return replace(entry, case=said)
    kept = {slot: held for slot, held in entry.swaps.items() if slot != "case"}
    return replace(entry, case=said, swaps=MappingProxyType({**kept, "case": said} if said else kept))


def _put_out(entry: Run | ChangeSetup, said: str) -> Run | ChangeSetup:
    return replace(entry, swaps=MappingProxyType({**entry.swaps, said: OUT})) if said else entry


def _seen_of(entry: Any) -> Seen:
    """Return what was seen of a run, or told of one."""
    return entry.seen or Seen()


def _with_seen(entry: Any, seen: Seen) -> Any:
    return replace(entry, seen=seen)


def _conditions_of(entry: Any) -> Conditions:
    """Return the conditions of a run, or of one that was told."""
    conditions: Conditions = entry.conditions
    return conditions


def _with_conditions(entry: Any, conditions: Conditions) -> Any:
    return replace(entry, conditions=conditions)
