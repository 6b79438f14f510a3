"""The canonical job file of a job parses back to that job, and is its own canonical file."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_book import RUNGS, SMALL_BOOK

from halfsplit.jobfile import parse_job, write_job
from halfsplit.jobfile.write import write_entries
from halfsplit.model.job import (
    ChangeSetup,
    Correct,
    Inspect,
    Job,
    Measure,
    OwnedPart,
    Remark,
    RepairDone,
    Run,
    Seen,
    StopSeen,
    Told,
)
from halfsplit.model.machine import Conditions, Standing


def read(text):
    job, mistakes = parse_job(text, SMALL_BOOK)
    assert mistakes == ()
    return job


def no_place(entry):
    entry = replace(entry, place="")
    if isinstance(entry, Correct) and entry.now is not None:
        return replace(entry, now=no_place(entry.now))
    return entry


def without_places(job):
    return replace(
        job,
        told=tuple(no_place(entry) for entry in job.told),
        log=tuple(no_place(entry) for entry in job.log),
    )


def some(*words):
    return st.just("") | st.sampled_from(words)


def maps(keys, values):
    return st.dictionaries(keys, values, max_size=3)


TEXT = st.text(max_size=30).map(str.strip) | st.sampled_from(
    ["null", "~", "12", "yes", "a: b", "- x", "#", "x #y", "'"]
)
TIMES = st.integers(0, 10_000).map(float) | st.floats(0, 1e6, allow_subnormal=False)
MINUTES = TIMES.map(lambda minutes: round(minutes, 9)).filter(lambda minutes: minutes <= 1e6)
FLAGS = st.none() | st.booleans()
SLOTS = st.sampled_from(["supply", "board", "card", "memory", "memory.1", "memory.2", "drive.1"])
STAGES = maps(st.sampled_from(["self_test", "system"]), st.booleans())
STOPS = st.builds(StopSeen, some("cuts_out", "resets", "freezes", "stays"), st.none() | TIMES)
STANDINGS = st.builds(Standing, st.none() | st.floats(0, 1), st.integers(0, 1000), st.integers(0, 1000))
CONDITIONS = st.builds(
    Conditions,
    cold=FLAGS,
    load=st.sampled_from(["idle", "games", "card"]),
    minutes=st.none() | TIMES.filter(lambda minutes: minutes <= 1e5),
    lead_out_minutes=st.none() | MINUTES,
    position=some("upright", "flat"),
    touched=some("memory"),
    started_by=some("pins"),
    first_after=some("storm", "side_panel", "reseat_memory"),
)


@st.composite
def seen(draw):
    reached = draw(st.integers(-1, 8))
    missed = draw(st.just(0) | st.integers(reached + 1, 9))
    stop = draw(st.none() | STOPS)
    not_reached = RUNGS[missed] if missed > max(reached, 0) else ""
    return Seen(
        reached=RUNGS[reached] if reached >= 0 else "",
        not_reached=not_reached,
        stop=stop,
        stayed=stop is None and not not_reached and draw(st.booleans()),
        picture=draw(maps(st.sampled_from(["card", "board", "used"]), STAGES)),
        signs=draw(maps(st.sampled_from(["beep", "fans_turn", "stripes"]), st.sampled_from(["yes", "no", "unsure"]))),
    )


@st.composite
def told(draw):
    said = Told(
        "",
        is_true=draw(st.booleans()),
        ago=draw(TEXT),
        always=draw(FLAGS),
        conditions=draw(CONDITIONS),
        sure=draw(st.sampled_from(["sure", "fairly", "guess"])),
        words=draw(TEXT),
    )
    if draw(st.booleans()):
        return replace(said, event=draw(st.sampled_from(["storm", "moved_house"])))
    shown = draw(seen())
    if shown == Seen():
        return replace(said, words="it just stopped")
    return replace(said, seen=shown)


@st.composite
def runs(draw):
    of = draw(st.integers(1, 20))
    return Run(
        "",
        on=draw(st.sampled_from(["owner", "bench"])),
        swaps=draw(maps(SLOTS, st.sampled_from(["out", "in", "owner", "new"]))),
        output=draw(some("card", "board")),
        case=draw(some("in", "out")),
        conditions=draw(CONDITIONS),
        seen=draw(seen()),
        failed=draw(st.integers(1, of)),
        of=of,
    )


LOOKS = st.sampled_from([("memory_seat.2", "dirty"), ("drive_health", "fine"), ("supply", "unsure")])
POINTS = st.sampled_from(["rail_12v", "wall_watts", "drive_temp.2"])
REPAIRS = st.sampled_from([("reseat_memory", "memory_seat.1", "new"), ("replace_supply", "supply", "shelf.supply_a")])
ENTRIES = st.one_of(
    told(),
    runs(),
    st.builds(lambda look, tool: Inspect("", what=look[0], tool=tool, seen=look[1]), LOOKS, some("glass")).map(
        lambda look: replace(look, tool=look.tool or "torch")
    ),
    st.builds(
        Measure,
        st.just(""),
        what=POINTS,
        value=st.floats(0, 400),
        load=st.sampled_from(["idle", "games"]),
        meter=TEXT,
        on=st.sampled_from(["owner", "bench"]),
    ),
    st.builds(
        ChangeSetup,
        st.just(""),
        swaps=maps(SLOTS, st.sampled_from(["out", "in", "owner"])),
        output=some("card"),
        case=some("out"),
    ),
    st.builds(lambda repair: RepairDone("", do=repair[0], to=repair[1], fitted=repair[2]), REPAIRS),
    st.builds(lambda text: Remark("", kind="note", text=text or "x"), TEXT),
    st.builds(lambda cents: Remark("", kind="spend", cents=cents), st.integers(0, 100_000)),
)


@st.composite
def jobs(draw):
    """A job as it may come out of a file, with corrections of some of its entries."""
    entries = draw(st.lists(ENTRIES, max_size=5))
    log = []
    counts = {}
    for entry in entries:
        kind = entry.kind if isinstance(entry, Remark) else type(entry).__name__
        counts[kind] = counts.get(kind, 0) + 1
        log.append(
            replace(entry, id=f"e-{len(log)}", by=draw(TEXT), at=draw(some("2030-01-31", "2030-01-31T09:15:00")))
        )
    for entry in list(log):
        other = draw(ENTRIES)
        is_same = type(other) is type(entry) and getattr(other, "kind", "") == getattr(entry, "kind", "")
        if is_same and replace(other, id=entry.id, by=entry.by, at=entry.at) != entry:
            now = replace(other, id=entry.id, by=entry.by, at=entry.at)
            log.append(Correct(f"c-{len(log)}", by=draw(TEXT), entry=entry.id, now=now))
        else:
            now = entry
        for stands in draw(st.lists(st.booleans(), max_size=3)):
            log.append(Correct(f"c-{len(log)}", entry=entry.id, now=now if stands else None))
    memory = draw(st.sampled_from([(), ("memory.1",), ("memory.1", "memory.2"), ("memory.2", "memory.4")]))
    field = (
        st.integers(0, 4000) | st.floats(-1e6, 1e6) | st.sampled_from(["yes", "no", "none", "12", "1.20", "é\u2028x"])
    )
    return Job(
        name=draw(TEXT),
        machine=draw(
            st.fixed_dictionaries(
                {}, optional={"kind": st.sampled_from(["built", "ready_made"]), "age_years": st.floats(0, 50)}
            )
        ),
        parts=(
            *draw(st.sampled_from([(), (OwnedPart("supply", {}),)])),
            *(OwnedPart(slot, draw(maps(st.just("gb"), field))) for slot in memory),
        ),
        missing=draw(st.sampled_from([(), ("card",), ("card", "fan")])),
        complaint=draw(some("nothing_happens")),
        told=tuple(replace(each, id=f"t-{n}") for n, each in enumerate(draw(st.lists(told(), max_size=3)))),
        log=tuple(log),
        shelf=draw(maps(st.sampled_from(["supply_a", "memory_a"]), STANDINGS)),
    )


@given(jobs())
def test_a_written_job_parses_back_to_the_same_job(job):
    text = write_job(job, SMALL_BOOK)
    again = read(text)
    assert without_places(again) == job
    assert write_job(again, SMALL_BOOK) == text
    for first in range(len(job.log) + 1):
        new = write_entries(job, SMALL_BOOK, first=first)
        assert len(new) == len(job.log) - first
        assert new == text.splitlines()[len(text.splitlines()) - len(new) :]


def test_what_was_not_said_is_not_written_and_automatic_ids_are_left_out():
    text = "log:\n  - run: {reached: log_in}\n  - run: {on: bench, id: second}\n"
    assert write_job(read(text), SMALL_BOOK) == text


def test_a_correction_is_written_as_the_fields_that_change():
    text = "log:\n  - run: {load: games, stop: {resets: 6 min}}\n  - correct: {entry: run_1, cold: yes, load: ~}\n"
    assert write_job(read(text), SMALL_BOOK) == text


def test_a_correction_of_several_slots_is_written_as_it_is_read_again():
    text = "log:\n  - setup: {supply: in}\n  - correct: {entry: setup_1, board: out, supply: out}\n"
    again = write_job(read(text), SMALL_BOOK)
    assert write_job(read(again), SMALL_BOOK) == again


def test_a_withdrawal_and_its_return_are_written_as_they_were():
    text = (
        "log:\n  - run: {load: games}\n  - correct: {entry: run_1, withdrawn: yes}\n"
        "  - correct: {entry: run_1, withdrawn: no}\n"
    )
    job = read(text)
    assert [each.now for each in job.log[1:]] == [None, job.log[0]]
    assert write_job(job, SMALL_BOOK) == text


def test_a_correction_that_changes_nothing_is_still_a_correction():
    text = "log:\n  - run: {cold: yes}\n  - correct: {entry: run_1, cold: yes}\n"
    job = read(text)
    assert read(write_job(job, SMALL_BOOK)).log[1].now == job.log[1].now


def test_slots_with_gaps_and_missing_parts_keep_their_numbers():
    text = "machine:\n  memory.2: {gb: 8}\n  memory.4: {}\n  card: none\n"
    assert write_job(read(text), SMALL_BOOK) == text


def test_a_job_of_which_nothing_is_known_is_an_empty_map():
    assert write_job(Job(), SMALL_BOOK) == "{}\n"


@pytest.mark.parametrize("text", ["a\nb", 'say "x"', "\\", "a\x85b", "日本 😀", "\ufeff", "\x00", "1e5", "- a", "a #b"])
def test_any_text_survives(text):
    job = Job(log=(Remark("note_1", text=text),))
    again = read(write_job(job, SMALL_BOOK))
    assert again.log[0].text == text


def test_a_zero_with_a_minus_is_written_as_zero():
    job = Job(parts=(OwnedPart(slot="memory.1", fields={"gb": -0.0}),))
    assert "-0" not in write_job(job, SMALL_BOOK)
