"""A job carried to another bench is the same job there; what is not as it should be is refused whole."""

import io
import json
import zipfile
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest
from folding import BOOK
from stores import NOON, after, jpeg

from halfsplit.actions import (
    Bench,
    add_photos,
    carry,
    describe,
    export_job,
    import_job,
    job_view,
    list_open_jobs,
    open_job,
    read_photo,
    record,
    set_person,
    undo,
)
from halfsplit.errors import InputError, JobFileError, ModelError, StoreError
from halfsplit.job.fold import fold_job
from halfsplit.jobfile import parse_job
from halfsplit.store import open_store
from halfsplit.store.persons import Person

GOLDEN = Path(__file__).parents[1] / "golden"
EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.yaml"))


@pytest.fixture
def worked_on(bench, job):
    """A job with a bit of everything on its log, a person, and photos."""
    describe(bench, job, "machine: {card: {watts: 220}}", by="AB", now=after(30))
    record(
        bench,
        job,
        """
- told: {event: moved_house, ago: 2 weeks, words: "it fell over, said the driver"}
- run: {load: games, reached: log_in, stop: {resets: 6 min}, failed: 3, of: 5}
- inspect: {at: card_power_plug, tool: torch, seen: half_in}
- measure: {at: rail_12v, volts: 11.18, load: card, meter: bench, id: sag}
- repair: {do: reseat, at: card_power_plug}
- agree: {text: up to, cost: 120}
""",
        by="AB",
        now=after(60),
    )
    record(bench, job, "correct: {entry: sag, volts: 11.81}", by="CD", now=after(120))
    record(bench, job, "note: wrong job", by="CD", now=after(180))
    undo(bench, job, "note_1", by="CD", now=after(185))
    set_person(
        bench, job, Person("Anna Beispiel", "+44 20 7946 0000", passcode="letmein-1234"), now=NOON, person_days=90
    )
    add_photos(bench, job, [jpeg(1)], by="AB", now=after(200), title="inside, as it came")
    add_photos(bench, job, [jpeg(2)], by="AB", now=after(201), is_private=True)
    return job


def unpacked(content):
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(files):
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, body in files.items():
            archive.writestr(name, body)
    return content.getvalue()


def listed_anew(files):
    """The files with a manifest that fits them."""
    files = dict(files)
    manifest = json.loads(files.pop("manifest.json"))
    manifest["files"] = {
        name: {"sha256": sha256(body).hexdigest(), "bytes": len(body), "title": ""} for name, body in files.items()
    }
    return packed({**files, "manifest.json": json.dumps(manifest)})


def codes(error):
    return sorted(mistake.code for mistake in error.value.mistakes)


def test_the_export_is_the_one_that_is_known(bench, worked_on):
    files = unpacked(export_job(bench, worked_on))
    photo = job_view(bench, worked_on).photos[0]
    assert set(files) == {"job.yaml", "manifest.json", f"photos/{photo.hash}.jpg"}
    assert files["job.yaml"].decode() == (GOLDEN / "exported_job.yaml").read_text(encoding="utf-8")
    manifest = json.loads(files["manifest.json"])
    assert manifest == {
        "format": "halfsplit job 1",
        "book": BOOK.hash,
        "opened_at": "2030-06-14T12:00:00+00:00",
        "files": {
            name: {
                "sha256": sha256(files[name]).hexdigest(),
                "bytes": len(files[name]),
                "title": "" if name == "job.yaml" else "inside, as it came",
            }
            for name in ("job.yaml", f"photos/{photo.hash}.jpg")
        },
    }


def test_the_same_job_is_the_same_zip(bench, worked_on):
    assert export_job(bench, worked_on) == export_job(bench, worked_on)


def test_nothing_of_the_person_goes_along(bench, worked_on):
    files = unpacked(export_job(bench, worked_on))
    for word in (b"Anna", b"7946", b"letmein"):
        assert not any(word in body for body in files.values())
    assert len([name for name in files if name.startswith("photos/")]) == 1


def test_a_job_is_the_same_at_another_bench(bench, worked_on, tmp_path):
    there = Bench(open_store(tmp_path / "there"), BOOK)
    open_job(there, by="XY", now=NOON)
    number = import_job(there, export_job(bench, worked_on), by="XY", now=after(900))
    here, view = job_view(bench, worked_on), job_view(there, number)
    assert export_of(there, number) == export_of(bench, worked_on)
    assert view.folded().lines == here.folded().lines
    assert {line.initials for line in view.lines} == {"XY"}
    assert {(entry.by, entry.at) for entry in view.job.log} == {(entry.by, entry.at) for entry in here.job.log}
    assert [(photo.hash, photo.title) for photo in view.photos] == [
        (photo.hash, photo.title) for photo in here.photos if not photo.is_private
    ]
    assert read_photo(there, number, view.photos[0].hash)[1] == read_photo(bench, worked_on, view.photos[0].hash)[1]
    there.store.close()


def export_of(bench, number):
    return unpacked(export_job(bench, number))["job.yaml"]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_job_file_written_by_hand_comes_in_and_folds_as_it_did(bench, job, path):
    files = {**unpacked(export_job(bench, job)), "job.yaml": path.read_bytes()}
    number = import_job(bench, listed_anew(files), by="AB", now=NOON)
    view = job_view(bench, number)
    by_hand = parse_job(path.read_text(encoding="utf-8"), BOOK)[0]
    assert view.folded().lines == fold_job(by_hand, BOOK).lines
    assert view.row.name == by_hand.name
    assert [replace(entry, place="") for entry in view.job.log if entry.id == "run_1"] == [
        replace(entry, place="") for entry in by_hand.log if entry.id == "run_1"
    ]


@pytest.mark.parametrize(
    "name",
    [
        "../escaped.yaml",
        "/etc/passwd",
        "photos/../../x.jpg",
        "photos/short.jpg",
        "photos/" + "a" * 64 + ".exe",
        "photos\\x.jpg",
        "person.json",
    ],
)
def test_names_that_a_job_has_not_are_refused(bench, job, name, tmp_path):
    before = sorted(tmp_path.rglob("*"))
    files = {**unpacked(export_job(bench, job)), name: b"x"}
    with pytest.raises(StoreError) as caught:
        import_job(bench, listed_anew(files), by="AB", now=NOON)
    assert codes(caught) == ["HS752"]
    assert sorted(tmp_path.rglob("*")) == before
    assert len(list_open_jobs(bench)) == 1


def changed(files, name, body):
    return packed({**files, name: body})


def test_what_is_not_as_listed_is_told_all_at_once(bench, worked_on):
    files = unpacked(export_job(bench, worked_on))
    photo = next(name for name in files if name.startswith("photos/"))
    files["job.yaml"] += b"\n"
    other = "photos/" + "a" * 64 + ".jpg"
    with pytest.raises(StoreError) as caught:
        import_job(
            bench,
            packed({name: body for name, body in files.items() if name != photo} | {other: b"x"}),
            by="AB",
            now=NOON,
        )
    assert codes(caught) == ["HS752", "HS752", "HS754"]


def test_what_is_too_large_is_refused_before_it_is_unpacked(bench, job):
    files = unpacked(export_job(bench, job))
    bomb = listed_anew({**files, "job.yaml": b" " * (carry.MOST_TEXT_BYTES + 1)})
    assert len(bomb) < carry.MOST_TEXT_BYTES / 100
    with pytest.raises(StoreError) as caught:
        import_job(bench, bomb, by="AB", now=NOON)
    assert codes(caught) == ["HS753"]
    many = {f"photos/{n:064x}.jpg": b"x" for n in range(carry.MOST_FILES)}
    with pytest.raises(StoreError) as caught:
        import_job(bench, listed_anew({**files, **many}), by="AB", now=NOON)
    assert codes(caught) == ["HS753"]


def test_a_photo_that_is_none_is_refused(bench, job):
    files = {**unpacked(export_job(bench, job)), "photos/" + "a" * 64 + ".jpg": b"<html>"}
    with pytest.raises(StoreError) as caught:
        import_job(bench, listed_anew(files), by="AB", now=NOON)
    assert codes(caught) == ["HS722"]
    assert len(list_open_jobs(bench)) == 1


@pytest.mark.parametrize(
    ("text", "error"),
    [
        ("log: [{rn: {}}]", JobFileError),
        ("\xff", JobFileError),
        ("log: [{inspect: {at: riser_seat, seen: fine}}]", ModelError),
        ("log: [{run: {id: run_2}}]", StoreError),
    ],
)
def test_a_job_file_with_mistakes_opens_no_job(bench, job, text, error):
    files = {**unpacked(export_job(bench, job)), "job.yaml": text.encode("latin-1")}
    with pytest.raises(error):
        import_job(bench, listed_anew(files), by="AB", now=NOON)
    assert len(list_open_jobs(bench)) == 1


def test_what_is_no_zip_or_a_damaged_one_is_refused(bench, job):
    content = export_job(bench, job)
    files = unpacked(content)
    damaged = [
        b"",
        b"PK\x03\x04",
        b"hello",
        content[: len(content) // 2],
        packed({"job.yaml": b"{}", "manifest.json": b"[]"}),
        packed({"job.yaml": b"{}", "manifest.json": b"{"}),
        packed({"job.yaml": b"{}", "manifest.json": b'{"format": "x", "files": {"job.yaml": 3}}'}),
        packed({"manifest.json": files["manifest.json"]}),
        packed({**files, "manifest.json": files["manifest.json"].replace(b"job 1", b"job 9")}),
    ]
    for broken in damaged:
        with pytest.raises(StoreError):
            import_job(bench, broken, by="AB", now=NOON)
    for at in range(30, len(content), 97):
        one = bytearray(content)
        one[at] ^= 0xFF
        try:
            import_job(bench, bytes(one), by="AB", now=NOON)
        except InputError:
            continue
    assert job_view(bench, job).mistakes == ()
