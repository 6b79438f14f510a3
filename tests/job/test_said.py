"""What a run was seen to show, in words: each answer of a check says all that it enters."""

from functools import cache
from itertools import permutations, product

import pytest
from folding import BOOK, job_of

from halfsplit.job.advise import fold_and_weigh
from halfsplit.job.effects import Effects
from halfsplit.job.eyes import Eyes
from halfsplit.job.findings import Ending, RunSeen
from halfsplit.job.kept import Kept
from halfsplit.job.lines import result_line
from halfsplit.job.outlook import look_out
from halfsplit.job.pictures import is_picture, picture
from halfsplit.job.reports import read_report
from halfsplit.model.bench import Sign
from halfsplit.model.job import Run
from halfsplit.model.ladder import NO_STOP
from halfsplit.model.rates import Rates

KEPT = Kept(BOOK)
COMPLAINTS = ("nothing_happens", "lights_no_picture")
DEAD = Ending("does not start", not_reached="starts")
UP = Ending("runs to log-in and stays up", "log_in", stayed=True)


def said(ending, **signs):
    return result_line([Run("run")], [RunSeen(ending, tuple(signs.items()))], BOOK)


@cache
def foreseen(complaint):
    job = job_of(machine="{kind: built, age_years: 4}", complaint=complaint)
    return look_out(job, *fold_and_weigh(job, BOOK), Rates(), KEPT).foreseen


def usual(seen):
    """Return what a sound machine shows of what was asked, with whether it was there."""
    return {name: was for name, was in seen.signs if is_picture(name) or BOOK.signs[name].is_on}


def test_every_shipped_sign_has_a_plain_phrase_for_not_being_there():
    for sign in BOOK.signs.values():
        assert sign.said(was=True) == sign.title
        assert sign.said(was=False) == sign.absent != sign.title, sign.id
        assert not sign.absent.startswith(("no the ", "no one ", "no a ", "not: ")), sign.id
        assert sign.absent.count(",") <= 2, sign.id


def test_a_sign_without_such_a_phrase_is_denied_by_its_title():
    assert Sign("hum", "hums", "starts", "starts").said(was=False) == "not: hums"


def test_what_could_be_there_and_is_not_is_said_also_of_a_run_that_did_not_come_far():
    assert said(DEAD, draws_standby=False, fans_turn=False) == "does not start, draws nothing at the wall when off"
    assert said(DEAD, draws_standby=True) == "does not start, draws a few watts at the wall when off"


def test_pictures_that_were_missing_are_said():
    early, late, other = picture("card", "self_test"), picture("card", "system"), picture("board", "system")
    assert said(UP, **{early: True, late: True}) == UP.line
    assert said(UP, **{early: False, late: True}) == f"{UP.line}, no picture before the system"
    assert said(UP, **{early: False, late: False}) == f"{UP.line}, no picture"
    assert said(UP, **{late: True, other: False}) == f"{UP.line}, no picture on the {BOOK.outputs['board'].title}"
    assert said(DEAD, **{early: False}) == DEAD.line


def test_a_run_without_a_picture_came_as_far_as_a_sign_proves():
    effects = Effects(BOOK)
    eyes = Eyes(effects, ["caps_lock_answers"], 5.0)
    stop = BOOK.ladder.stop_before("loader", "resets")
    assert eyes.seen(stop, [False]).ending == Ending(
        "no picture, resets within a minute", "starts", kind="resets", seconds=30.0
    )
    seen = eyes.seen(stop, [True])
    assert seen.ending == Ending(
        "no picture, resets within a minute and after 'self-test done'", "self_test", kind="resets", seconds=30.0
    )
    assert seen.as_seen(["card"]).signs == {"caps_lock_answers": "yes"}


@pytest.mark.parametrize("complaint", COMPLAINTS)
def test_no_two_answers_of_a_check_are_told_apart_only_by_what_they_do_not_say(complaint):
    many = 0
    for name, check in foreseen(complaint).items():
        if not isinstance(check.entries[0], Run):
            continue
        runs = {result[0] for result in check.results if result and isinstance(result[0], RunSeen)}
        for one, other in permutations(runs, 2):
            line, longer = (result_line(check.entries[:1], [each], BOOK) for each in (one, other))
            if longer == line or longer.startswith(f"{line}, "):
                there = usual(other)
                assert not [each for each, was in usual(one).items() if not was and there[each]], (name, line, longer)
                many += 1
    assert many


@pytest.mark.parametrize("stresses", [(), ("memory",), ("processor", "card")])
@pytest.mark.parametrize("visible", list(product([False, True], repeat=3)))
@pytest.mark.parametrize("minutes", [1.0, 3.0, 30.0, 240.0])
def test_an_answer_leaves_what_it_stands_for_possible(minutes, visible, stresses):
    """What is tapped is entered: a stop that looks so is not ruled out by what the answer says."""
    effects = Effects(BOOK)
    eyes = Eyes(effects, (picture("card", "self_test"), picture("card", "system"), "caps_lock_answers"), minutes)
    proved = effects.ladder.needs_stop("self_test") if visible[2] else 0
    for stop in (*(stop for stop, _, _ in effects.stops if stop >= proved), NO_STOP):
        seen = eyes.seen(stop, visible)
        report = read_report(seen.as_seen(["card"]), ("card",), effects, minutes=minutes, stresses=frozenset(stresses))
        assert report.stops.get(stop, 1.0) > 0.0, (stop, seen.ending)
