"""The form in which an entry of the log is corrected: the words and tiles by which it is entered, filled in."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from halfsplit.errors import Mistake, WebError
from halfsplit.job.units import OWNER, kind_of
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
from halfsplit.web.entry_fields import (
    TEXT,
    TILES,
    WORDS,
    Field,
    Group,
    Option,
    choice,
    options_of,
    read_number,
    read_whole,
    within,
)
from halfsplit.web.number_field import number_field, read_reading
from halfsplit.web.passing import is_passing
from halfsplit.web.place_fields import host_field, place_fields
from halfsplit.web.repair_fields import repair_fields
from halfsplit.web.run_fields import check_seen, condition_fields, ending_field, exact_fields, is_said, sign_fields
from halfsplit.web.setup_fields import setup_fields
from halfsplit.web.texts import say


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
                found = [Group("", tuple(setup_fields(entry, self._standing, self._book)))]
            case RepairDone():
                found = [Group("", tuple(repair_fields(entry, self._standing, self._book)))]
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
        yield Group(say("group.setup"), tuple(setup_fields(run, self._standing, book)), otherwise)
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
                    choice("event", told.event, options_of(book.events), lambda now, said: replace(now, event=said)),
                    choice(
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
                (choice("always", always, answers, lambda now, said: replace(now, always=_ALWAYS[said])),),
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
        yield Group("", (choice("sure", told.sure, sure, lambda now, said: replace(now, sure=said)), words))

    def _inspect(self, look: Inspect) -> Iterable[Group]:
        book, noun = self._book, self._book.inspections[kind_of(look.what)]
        tiles = [Option(word, word.replace("_", " ")) for word in noun.seen]
        tiles.append(Option(UNSURE, say("field.unsure")))
        yield Group(
            "",
            (
                Field("seen", noun.title, look.seen, lambda now, said: replace(now, seen=said), TILES, tuple(tiles)),
                *place_fields(look.what, [noun.id], lambda now, said: replace(now, what=said), self._standing, book),
                choice("tool", look.tool, options_of(book.tools), lambda now, said: replace(now, tool=said)),
                host_field(look.on, book),
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
                    lambda now, said: replace(now, value=read_reading(title, said, noun.unit)),
                    TEXT,
                    unit=asked.unit,
                    note=asked.limits,
                ),
                *place_fields(measure.what, alike, lambda now, said: replace(now, what=said), self._standing, book),
                choice("load", measure.load, options_of(book.loads), lambda now, said: replace(now, load=said)),
                choice("meter", measure.meter, meters, lambda now, said: replace(now, meter=said)),
                host_field(measure.on, book),
            ),
        )

    def _remark(self, remark: Remark) -> Iterable[Field[Remark]]:
        yield Field("text", say("field.text"), remark.text, lambda now, said: replace(now, text=said), WORDS)
        if remark.cents is not None or remark.kind in ("agree", "spend"):
            title, value = say("field.sum"), "" if remark.cents is None else f"{remark.cents / 100:.2f}"

            def put(now: Remark, said: str) -> Remark:
                return replace(now, cents=round(100 * read_number(title, said, least=0.0)) if said else None)

            yield Field("sum", title, value, put, TEXT, unit=self._currency)


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


def _counts(run: Run) -> Iterable[Field[Run]]:
    of, failed = say("field.of"), say("field.failed")

    def put_of(now: Run, said: str) -> Run:
        many = read_whole(of, said)
        return replace(now, of=many, failed=min(now.failed, many))

    yield Field("of", of, f"{run.of}", put_of, TEXT)
    yield Field(
        "failed", failed, f"{run.failed}", lambda now, said: replace(now, failed=read_whole(failed, said)), TEXT
    )


def _text(name: str, value: str, put: Any) -> Field[Any]:
    return Field(name, say(f"field.{name}"), value, put, TEXT)


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
