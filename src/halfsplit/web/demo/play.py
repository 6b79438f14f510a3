"""One job played by itself, from intake to collection: the answers come from a drawn machine of the simulator."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from types import MappingProxyType

from halfsplit import actions
from halfsplit.actions.onfile import OnFile, read_on_file
from halfsplit.job.advise import advise
from halfsplit.job.advised import FIRST, PROVE, Advice
from halfsplit.job.amounts import amount
from halfsplit.job.kept import Kept
from halfsplit.job.lines import numbered_at
from halfsplit.job.machine import age_of
from halfsplit.jobfile import write_job
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Inspect, RepairDone, Run
from halfsplit.plan import HAND_BACK, REPLACE
from halfsplit.settings import Settings
from halfsplit.simulate.advised import do_card
from halfsplit.simulate.benches import PROVEN, Bench
from halfsplit.simulate.machines import Drawing, Drawn, draw_machine
from halfsplit.text import in_words, money_in_words, named
from halfsplit.web.collection_page import collection_page
from halfsplit.web.demo import PEOPLE, SHOP
from halfsplit.web.entry_text import entry_text
from halfsplit.web.log_rows import entry_in_words
from halfsplit.web.machine_words import machine_words
from halfsplit.web.texts import say

SEED = 7
COMPLAINT, WRONG, MOST_YEARS = "nothing_happens", "supply_no_standby", 4.0
"""The machine is the first drawn one of this class, no older, in which this fault and no other matters; it shows ..."""

TRIED = 3
"""... in so many counter runs, one after the other."""

MOST_DRAWN = 2_000
"""So many machines are drawn at most: that fault alone is there in some of a hundred."""

DRAWING = Drawing(is_book=True, slips=0.0, taps=0.0)
"""Its truth is the fault book, its owner does not err, and nobody taps wrongly."""

BEGUN = datetime(2030, 6, 14, 9, 0, tzinfo=UTC)
MOST_STEPS = 15
NAMED = 3
"""Suspicions that are told at each step."""

LEAST_NAMED = 0.02
CURRENCY = Settings().currency
FACTS = 8
"""Facts of the machine that are told at intake."""


def draw_demo(book: Book) -> Drawn:
    """Return the machine that is played; the same for the same book.

    Raises:
        LookupError: there is none among the first machines.
    """
    for number in range(MOST_DRAWN):
        drawn = draw_machine(book, COMPLAINT, (SEED, number), DRAWING)
        wrong = [fault.partition("@")[0] for fault in drawn.world().left()]
        if wrong == [WRONG] and age_of(drawn.whole.machine) <= MOST_YEARS and _shows_each_time(drawn):
            return drawn
    raise LookupError(WRONG)


def play_demo(bench: actions.Bench, *, most_steps: int = MOST_STEPS) -> Iterable[str]:
    """Yield line by line what happens, while a job is played on a bench.

    Args:
        bench: an empty bench.
        most_steps: so many steps are taken before the machine is handed back as it is.
    """
    return _Player(bench, draw_demo(bench.book)).lines(most_steps)


def _shows_each_time(drawn: Drawn) -> bool:
    tried = Bench(drawn)
    found = [tried.check(FIRST) for _ in range(TRIED)]
    return not any(each is None or each.is_fine for each in found)


class _Player:
    """Plays one drawn machine on a bench.

    Args:
        bench: where the job is kept.
        drawn: the machine.
    """

    def __init__(self, bench: actions.Bench, drawn: Drawn) -> None:
        self._bench = bench
        self._drawn = drawn
        self._played = Bench(drawn)
        self._now = BEGUN
        self._entered = 0
        self._kept = Kept(bench.book)
        self._number = 0

    def lines(self, most_steps: int) -> Iterable[str]:
        """Yield the whole story."""
        yield from self._take_in()
        for step in range(1, most_steps + 1):
            yield ""
            yield from self._step(step)
            if self._played.ended:
                break
        else:
            self._played.hand_back()
        yield ""
        yield from self._hand_over()

    def _take_in(self) -> Iterable[str]:
        job, book = self._drawn.job, self._bench.book
        head = write_job(replace(job, name=say("play.name"), told=(), log=()), book)
        self._number = actions.open_job(self._bench, head, by=PEOPLE[0], now=self._now)
        if job.told:
            self._record(job.told)
        yield say("play.in", number=self._number, complaint=book.complaints[job.complaint].title)
        yield say("play.machine", machine=", ".join(machine_words(job, book)[:FACTS]))
        for told in job.told:
            yield say("play.told", told=entry_in_words(told, book).removeprefix("told: "))

    def _step(self, step: int) -> Iterable[str]:
        on_file = self._on_file()
        advice = advise(on_file.job(), on_file.book, kept=self._kept)
        yield say("play.step", step=step, suspected=_suspected(advice, on_file.book))
        top = advice.proposal(advice.top)
        if top is None or top.id == HAND_BACK:
            yield say("play.hands_back")
            self._played.hand_back()
        elif top.id == REPLACE:
            yield say("play.replaces")
            self._played.replace_machine()
        elif PROVE in top.parts:
            yield say("play.proves")
            do_card(self._played, top)
        else:
            yield say(
                "play.advised",
                title=top.title,
                time=amount(round(top.minutes.hands_on), "minutes"),
                left=money_in_words(advice.to_go, CURRENCY),
            )
            for stop in top.stop_points:
                yield say("play.asks", line=stop.line, do=stop.do)
            do_card(self._played, top)
        yield from self._answers()

    def _answers(self) -> Iterable[str]:
        """Enter what the machine showed, and yield it in words."""
        new = self._played.job.log[self._entered :]
        self._entered = len(self._played.job.log)
        if not new:
            return
        self._record(new)
        fine = []
        for entry in new:
            said = _in_words(entry, self._bench.book)
            if isinstance(entry, RepairDone):
                yield say("play.done", what=said)
            elif isinstance(entry, Inspect) and said.endswith(": fine"):
                fine.append(said.removesuffix(": fine"))
            else:
                yield say("play.seen", what=said)
        if fine:
            yield say("play.fine", what="; ".join(fine))

    def _hand_over(self) -> Iterable[str]:
        number, by = self._number, PEOPLE[0]
        row = actions.sum_up(self._bench, number)
        if self._played.ended != PROVEN:
            yield say("play.unproven", suspicion=row.suspicion)
            return
        actions.set_state(self._bench, number, "ready", by=by, now=self._now)
        view, weighed = actions.job_view(self._bench, number), actions.weigh(self._bench, number)
        page = collection_page(view, weighed, SHOP, Settings().currency)
        actions.collect(self._bench, number, by=by, now=self._now, person_days=Settings().person_days)
        yield say("play.proven")
        for title, lines in (
            (say("collection.found"), page.found),
            (say("collection.done"), page.done),
            (say("collection.proved"), page.proved),
            (say("collection.left"), page.left),
        ):
            for line in lines:
                yield f"   {title}: {line}"
        bill = self._played.bill
        yield say(
            "play.bill",
            hands=amount(round(bill.hands), "minutes"),
            time=money_in_words(bill.time, CURRENCY),
            parts=money_in_words(bill.parts, CURRENCY),
        )
        wrong = self._drawn.world().left()
        yield say("play.truth", truth=", ".join(_fault(name, self._bench.book) for name in wrong))

    def _record(self, entries: Sequence[Entry]) -> None:
        self._now += timedelta(minutes=5)
        actions.record(self._bench, self._number, entry_text(entries, self._bench.book), by=PEOPLE[0], now=self._now)

    def _on_file(self) -> OnFile:
        with self._bench.store.reading() as connection:
            return read_on_file(self._bench, connection, self._number)


def _in_words(entry: Entry, book: Book) -> str:
    """Return an entry in a few words, of a run without what was put where for it."""
    if isinstance(entry, Run):
        entry = replace(entry, swaps=MappingProxyType({}))
    return entry_in_words(entry, book)


def _fault(name: str, book: Book) -> str:
    fault, _, at = name.partition("@")
    return numbered_at(book.faults[fault].title, at, book)


def _suspected(advice: Advice, book: Book) -> str:
    leads = [lead for lead in advice.leading if lead.p >= LEAST_NAMED][:NAMED]
    return "; ".join(f"{named(lead, book)}, {in_words(lead.p)}" for lead in leads) or say("play.nothing")
