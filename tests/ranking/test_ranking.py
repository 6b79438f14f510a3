"""The ranking in a process of its own says what the one here says; it dies, is started anew, and leaves no orphan."""

import contextlib
import io
import os
import platform
import signal
import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest
from folding import BOOK, job_of

from halfsplit.errors import InputError
from halfsplit.model.job import Correct
from halfsplit.model.rates import Rates
from halfsplit.ranking import BrokenOffError, RankerDiedError, RankerProcess, ranker
from halfsplit.ranking.parcel import TO_REST, BreakOff, Question, receive, send
from halfsplit.ranking.process import MODEST
from halfsplit.ranking.ranker import Ranker

JOB = job_of(
    "run: {cold: yes, not: starts, signs: {fans_turn: no}}",
    machine="{kind: built, age_years: 6, card: none, memory: [8, 8]}",
    complaint="nothing_happens",
    told="[{event: storm, ago: 1 day}]",
)
IMPOSSIBLE = job_of("run: {not: standby_power, signs: {fans_turn: yes, draws_standby: yes}}")
CORRECTS_NOTHING = replace(JOB, log=(*JOB.log, Correct("correct_1", entry="run_9")))
MOST_SECONDS = 60.0


@pytest.fixture
def other():
    """A ranker in another process."""
    process = RankerProcess(BOOK)
    yield process
    process.close()


@pytest.fixture(scope="module")
def here():
    """What a ranker in this process makes of the job."""
    one = Ranker(BOOK)
    weighed = one.weigh(JOB, BOOK.shelf)
    return one, weighed, one.advise(JOB, BOOK.shelf, Rates(), shown="")


def is_there(pid):
    """Whether a process runs; one that ended and that nobody has asked about yet does not."""
    try:
        os.kill(pid, 0)
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except ProcessLookupError:
        return False
    except FileNotFoundError:  # it went meanwhile, or this is no Linux
        return not Path("/proc/self").exists()


@contextlib.contextmanager
def until_stopped(act):
    """Do something again and again, in a thread, until the block ends."""
    is_over = threading.Event()

    def go():
        while not is_over.wait(0.02):
            act()

    thread = threading.Thread(target=go)
    thread.start()
    try:
        yield
    finally:
        is_over.set()
        thread.join()


def test_nouns_come_out_of_a_pipe_as_they_went_in(here):
    _, weighed, advice = here
    pipe = io.BytesIO()
    nouns = (BOOK, JOB, Rates(), weighed, advice)
    for noun in nouns:
        send(noun, pipe)
    pipe.seek(0)
    assert tuple(receive(pipe) for _ in nouns) == nouns
    with pytest.raises(EOFError):
        receive(pipe)


def test_what_is_broken_off_in_the_middle_is_no_noun(here):
    pipe = io.BytesIO()
    send(here[2], pipe)
    with pytest.raises(EOFError):
        receive(io.BytesIO(pipe.getvalue()[:-100]))


def test_what_comes_out_cannot_be_changed_either():
    pipe = io.BytesIO()
    send(JOB, pipe)
    pipe.seek(0)
    with pytest.raises(TypeError):
        receive(pipe).machine["kind"] = "ready_made"


def test_another_process_says_the_same_and_says_no_with_the_same_mistakes(here, other):
    one, weighed, advice = here
    told = other.weigh(JOB, BOOK.shelf)
    assert (told.runs, told.impossible) == (weighed.runs, weighed.impossible)
    assert {fault.id: fault.p for fault in told.faults} == pytest.approx(
        {fault.id: fault.p for fault in weighed.faults}
    )
    said = other.advise(JOB, BOOK.shelf, Rates(), shown="")
    # Another process may round its sums otherwise in their last digit.
    assert (said.top, said.stop_points) == (advice.top, advice.stop_points)
    totals = {each.id: each.total for each in advice.proposals}
    assert {each.id: each.total for each in said.proposals} == pytest.approx(totals)
    results = [{o.line: o.entries for o in each.proposal(each.top).outcomes} for each in (said, advice)]
    assert results[0] == results[1]
    assert results[0]
    assert one.weigh(IMPOSSIBLE, BOOK.shelf).impossible == other.weigh(IMPOSSIBLE, BOOK.shelf).impossible == ("run_1",)
    refusals = []
    for each in (one, other):
        with pytest.raises(InputError) as refused:
            each.advise(CORRECTS_NOTHING, BOOK.shelf, Rates(), shown="")
        refusals.append(refused.value.mistakes)
    assert refusals[0] == refusals[1]
    assert [mistake.code for mistake in refusals[1]] == ["HS201"]


def test_a_mistake_of_ours_is_told_and_the_process_goes_on(other):
    assert other.pid is None  # nobody has asked it anything
    other.weigh(IMPOSSIBLE, BOOK.shelf)
    pid = other.pid
    with pytest.raises(RuntimeError, match="AttributeError"):
        other.weigh("no job", BOOK.shelf)
    assert other.weigh(JOB, BOOK.shelf).faults
    assert other.pid == pid


def test_a_process_that_dies_is_told_of_and_the_next_question_starts_another_one(other):
    other.weigh(IMPOSSIBLE, BOOK.shelf)
    first = other.pid
    os.kill(first, signal.SIGKILL)
    with pytest.raises(RankerDiedError):
        other.weigh(JOB, BOOK.shelf)
    assert not is_there(first)
    assert other.weigh(JOB, BOOK.shelf).faults
    assert other.pid != first


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="what a process holds is read as Linux shows it")
def test_a_process_that_holds_too_much_gives_its_answer_and_makes_way_for_another_one():
    other = RankerProcess(BOOK, most_bytes=1)
    try:
        pids = []
        for _ in range(3):
            assert other.weigh(IMPOSSIBLE, BOOK.shelf).impossible
            pids.append(other.pid)
        assert len(set(pids)) == 3
        assert not any(is_there(pid) for pid in pids[:2])
    finally:
        other.close()


HOLDS = """
from halfsplit.ranking.worker import holds_more_than, resident_bytes
before = resident_bytes()
tables, between = [], []
for _ in range(100):
    tables.append(bytearray(b"1" * 1_000_000))
    between.append(bytearray(100_000))
print(holds_more_than(before + 50_000_000), end=" ")
del tables
print(resident_bytes() > before + 50_000_000, holds_more_than(before + 50_000_000))
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc gives back what is free when it is told to")
def test_memory_is_kept_for_the_next_table_and_given_back_before_a_process_ends_for_it():
    said = subprocess.run([sys.executable, "-c", HOLDS], env={**os.environ, **MODEST}, capture_output=True, check=True)
    assert said.stdout.split() == [b"True", b"True", b"False"]


def test_what_is_asked_is_left_when_it_is_told_to_and_what_is_kept_is_sound(here, other):
    with until_stopped(other.break_off):
        with pytest.raises(BrokenOffError):
            other.weigh(JOB, BOOK.shelf)
        for _ in range(3):  # each goes a little further: what was worked out stays
            with pytest.raises(BrokenOffError):
                other.advise(JOB, BOOK.shelf, Rates(), shown="")
    pid = other.pid
    said = other.advise(JOB, BOOK.shelf, Rates(), shown="")
    totals = {each.id: each.total for each in here[2].proposals}
    assert {each.id: each.total for each in said.proposals} == pytest.approx(totals)
    assert other.weigh(JOB, BOOK.shelf).faults
    assert other.pid == pid


def followed_by_a_break_off(monkeypatch, of):
    """Let each question be followed at once by a break-off of a question."""

    def send_both(noun, pipe):
        send(noun, pipe)
        if isinstance(noun, Question):
            send(BreakOff(of(noun.number)), pipe)

    monkeypatch.setattr("halfsplit.ranking.process.send", send_both)


def test_a_break_off_right_behind_its_question_is_never_lost(other, monkeypatch):
    other.weigh(JOB, BOOK.shelf)
    followed_by_a_break_off(monkeypatch, lambda number: number)
    for _ in range(40):
        with pytest.raises(BrokenOffError):
            other.weigh(JOB, BOOK.shelf)
        with pytest.raises(BrokenOffError):
            other.advise(JOB, BOOK.shelf, Rates(), shown="")


def test_a_break_off_that_comes_after_its_answer_leaves_the_next_question_alone(here, other, monkeypatch):
    other.weigh(JOB, BOOK.shelf)
    pid = other.pid
    followed_by_a_break_off(monkeypatch, lambda number: number - 1)
    for _ in range(5):
        assert other.advise(JOB, BOOK.shelf, Rates(), shown="").top == here[2].top
    assert other.pid == pid


@pytest.mark.skipif(TO_REST is None, reason="there is no such signal on this system")
def test_what_is_asked_rests_where_it_is_and_goes_on(here, other):
    other.rest()  # before it is up that would end it
    assert other.weigh(JOB, BOOK.shelf).faults
    pid, turns = other.pid, iter(range(20))
    with until_stopped(lambda: next(turns, None) is not None and other.rest()):
        assert other.weigh(JOB, BOOK.shelf).faults
        assert other.advise(JOB, BOOK.shelf, Rates(), shown="").top == here[2].top
    assert other.pid == pid


def test_at_each_pause_what_is_kept_is_sound(here):
    """Whatever pauses it is left at, the next advice is the same."""

    class LeftError(Exception):
        pass

    pauses, left_at = 0, {0}

    def pause():
        nonlocal pauses
        pauses += 1
        if pauses in left_at:
            raise LeftError

    Ranker(BOOK, pause).advise(JOB, BOOK.shelf, Rates(), shown="")
    many = pauses
    assert many > 50
    left = Ranker(BOOK, pause)
    for each in [1, *range(2, many, many // 12), many]:
        pauses, left_at = 0, {each}
        with pytest.raises(LeftError):
            left.advise(JOB, BOOK.shelf, Rates(), shown="")
    left_at = {0}
    assert left.advise(JOB, BOOK.shelf, Rates(), shown="") == here[2]


def test_closed_it_is_gone_and_is_not_started_again(other):
    other.weigh(IMPOSSIBLE, BOOK.shelf)
    pid = other.pid
    assert is_there(pid)
    other.close()
    assert not is_there(pid)
    with pytest.raises(RankerDiedError):
        other.weigh(JOB, BOOK.shelf)
    assert other.pid is None


def test_it_ends_by_itself_when_whoever_asked_is_killed():
    asker = (
        "import time\nfrom halfsplit.book import shipped_book\nfrom halfsplit.model.job import Job\n"
        "from halfsplit.ranking import RankerProcess\nranker = RankerProcess(shipped_book())\n"
        "ranker.weigh(Job(), {})\nprint(ranker.pid, flush=True)\ntime.sleep(600)\n"
    )
    with subprocess.Popen([sys.executable, "-c", asker], stdout=subprocess.PIPE, text=True) as parent:
        pid = int(parent.stdout.readline())
        assert is_there(pid)
        parent.kill()
    until = time.monotonic() + MOST_SECONDS
    while is_there(pid) and time.monotonic() < until:
        time.sleep(0.05)
    assert not is_there(pid)


def test_what_is_kept_changes_no_advice_and_has_room(here, monkeypatch):
    one, _, advice = here
    assert one.advise(JOB, BOOK.shelf, Rates(), shown="") == advice
    monkeypatch.setattr(ranker, "MOST_RUNS", 5)
    assert one.advise(JOB, BOOK.shelf, Rates(), shown="") == advice
    assert len(one._kept.asks.runs) == 5
    monkeypatch.setattr(ranker, "MOST_SCALES", 5)
    assert one.advise(JOB, BOOK.shelf, Rates(), shown="") == advice
    assert len(one._kept.asks.scales) == 0


def test_another_shelf_is_another_book(here):
    part = next(iter(BOOK.shelf.values()))
    shelf = {**BOOK.shelf, part.id: replace(part, title="the one with the blue cable")}
    one = Ranker(BOOK)
    one.weigh(JOB, BOOK.shelf)
    kept = one._kept
    one.weigh(JOB, dict(BOOK.shelf))
    assert one._kept is kept
    one.weigh(JOB, shelf)
    assert one._kept.book.shelf[part.id].title == "the one with the blue cable"
    assert one._kept.book.faults == BOOK.faults
