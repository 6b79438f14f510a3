"""Many signs told of one run at home: weighed in parts, first what was there."""

from halfsplit.book import shipped_book
from halfsplit.infer import weigh
from halfsplit.job.fold import fold_job
from halfsplit.job.told import MOST_SOFT_SIGNS
from halfsplit.model.job import Job, Seen, Told

ABSENT = [
    *("fan_rattles", "drive_clicks", "network_dead", "sound_dead", "keys_dead", "slow", "pop_ups"),
    *("burnt_smell", "clock_wrong", "artefacts", "sleep_no_wake", "disk_full_message"),
]


def told(signs: dict[str, str]) -> Job:
    return Job(complaint="starts_misbehaves", told=(Told("said", seen=Seen(signs=signs)),))


def test_a_story_of_thirteen_signs_and_the_picture_of_its_class_is_weighed_in_parts() -> None:
    folded = fold_job(told(dict.fromkeys(ABSENT, "no") | {"error_screen": "yes"}), shipped_book())
    parts = [reading for reading in folded.evidence.readings if folded.entries[reading.id] == ("said",)]
    assert len(parts) == 2
    assert all(len(reading.signs) <= MOST_SOFT_SIGNS for reading in parts)
    assert [folded.lines[reading.id] for reading in parts] == [folded.lines["said"]] * 2
    assert weigh(folded.evidence).log_p < 0.0


def test_what_was_there_comes_first_and_moves_what_it_moves_alone() -> None:
    book = shipped_book()
    many = fold_job(told(dict.fromkeys(ABSENT, "no") | {"drive_clicks": "yes"}), book)
    alone = fold_job(told({"drive_clicks": "yes"}), book)
    p_many, p_alone = (weigh(folded.evidence).p_now("drive_failing@drive.1") for folded in (many, alone))
    start = weigh(fold_job(Job(complaint="starts_misbehaves"), book).evidence).p_now("drive_failing@drive.1")
    assert p_many > 3 * start
    assert 0.5 < p_many / p_alone < 2.0
