"""A job carried from one bench to another: one zip with the job file, the photos, and a list of both with hashes.

The person, private photos, time spent and the shelf stay here.  What comes from elsewhere is checked before any of
it is used: names, sizes, hashes, pictures, and the job file word by word.
"""

import io
import json
import lzma
import re
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from hashlib import sha256

from halfsplit.actions.bench import Bench, in_utc
from halfsplit.actions.entering import intake_line, show_machine, with_lines
from halfsplit.actions.onfile import OnFile, book_with_shelf, read_on_file
from halfsplit.errors import JobFileError, Mistake, StoreError
from halfsplit.job.trail import walk_job
from halfsplit.jobfile import parse_job, write_job
from halfsplit.store.jobs import add_job, get_job
from halfsplit.store.log import append_lines
from halfsplit.store.photos import SUFFIX, Photo, keep_photo, list_photos, new_photo, read_photo
from halfsplit.store.pictures import MOST_BYTES, Picture, clean_picture

JOB_FILE = "job.yaml"
MANIFEST = "manifest.json"
FORMAT = "halfsplit job 1"
MOST_FILES = 500
MOST_TEXT_BYTES = 5_000_000
MOST_ALL_BYTES = 500_000_000
"""What a zip may hold, unpacked."""

_PHOTO = re.compile(rf"photos/[0-9a-f]{{64}}\.(?:{'|'.join(SUFFIX.values())})")
_MOMENT = (1980, 1, 1, 0, 0, 0)
"""The time of each file in a zip, so that the same job is the same zip."""

_BROKEN = (
    zipfile.BadZipFile,
    NotImplementedError,
    RuntimeError,
    EOFError,
    ValueError,
    OverflowError,
    zlib.error,
    lzma.LZMAError,
    OSError,
)
"""What reading a zip that is none, or is damaged, raises."""


def export_job(bench: Bench, number: int) -> bytes:
    """Return a job as a zip: ``job.yaml``, ``photos/``, and ``manifest.json``; without its person.

    Raises:
        StoreError: HS711 there is no such job; HS723 the file of a photo is gone or not as it was.
        JobFileError: the fault book does not go with the job any more; with all mistakes.
    """
    with bench.store.reading() as connection:
        on_file = read_on_file(bench, connection, number)
        photos = [photo for photo in list_photos(connection, number) if not photo.is_private]
    files = {JOB_FILE: write_job(on_file.as_told(), on_file.book).encode()}
    files |= {f"photos/{photo.hash}.{SUFFIX[photo.kind]}": read_photo(bench.store, photo) for photo in photos}
    titles = {f"photos/{photo.hash}.{SUFFIX[photo.kind]}": photo.title for photo in photos}
    listed = {
        name: {"sha256": sha256(content).hexdigest(), "bytes": len(content), "title": titles.get(name, "")}
        for name, content in files.items()
    }
    manifest = {"format": FORMAT, "book": on_file.row.book_hash, "opened_at": on_file.row.opened_at, "files": listed}
    files[MANIFEST] = (json.dumps(manifest, indent=2, ensure_ascii=False) + "\n").encode()
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in sorted(files):
            archive.writestr(zipfile.ZipInfo(name, _MOMENT), files[name], zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def import_job(bench: Bench, content: bytes, *, by: str, now: datetime) -> int:
    """Open a new job from a zip that ``export_job`` made, here or elsewhere, and return its number.

    Raises:
        StoreError: with all that is wrong: HS751 it is no zip, or damaged; HS752 a file has a name that it cannot
            have, or is listed and missing, or the other way round; HS753 a file or all of them are too large;
            HS754 a file is not as the list says; HS721, HS722 a photo cannot be taken.
        JobFileError, ModelError: the job file has mistakes, or cannot be folded; with all of them.
    """
    files, titles = _unpack(content)
    pictures = _pictures(files)
    try:
        text = files[JOB_FILE].decode("utf-8")
    except UnicodeDecodeError as error:
        line = files[JOB_FILE].count(b"\n", 0, error.start) + 1
        so, should = f"it is not UTF-8 text (byte {error.start + 1})", "it must be a text file in UTF-8"
        mistake = Mistake(f"{JOB_FILE}:{line}:1", "HS101", so, should, "Save it as UTF-8, and export it again")
        raise JobFileError([mistake]) from error
    at = in_utc(now)
    with bench.store.writing() as connection:
        book = book_with_shelf(bench.book, connection)
        job, mistakes = parse_job(text, book, JOB_FILE)
        if job is None:
            raise JobFileError(mistakes)
        walk_job(job, book)
        number = add_job(connection, book_hash=book.hash, initials=by, at=at)
        intake = intake_line(job, book, 1, 1, by, at)
        job = replace(job, told=(), log=(*job.told, *job.log))
        blank = OnFile(bench, get_job(connection, number), (intake,), book)
        signed, lines = with_lines(job, 0, blank, by="", at="")
        append_lines(connection, number, [intake, *(replace(line, initials=by, at=at) for line in lines)])
        show_machine(connection, number, signed)
        for name, picture in pictures.items():
            photo: Photo = new_photo(picture, number, title=titles[name], is_private=False, initials=by, at=at)
            keep_photo(connection, bench.store, photo, picture.content)
    return number


def _unpack(content: bytes) -> tuple[dict[str, bytes], dict[str, str]]:
    """Return the files of a zip but the list of them, and their titles; all checked but for what they say."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            infos = archive.infolist()
            _check_names_and_sizes(infos)
            files = {info.filename: archive.read(info) for info in infos}
            manifest = json.loads(files.pop(MANIFEST))
            listed = {
                str(name): (str(said["sha256"]), int(said["bytes"]), str(said["title"]))
                for name, said in manifest["files"].items()
            }
            form = manifest["format"]
    except (*_BROKEN, KeyError, TypeError, AttributeError) as error:
        so, should = f"it cannot be read ({error})", "it is a job as halfsplit exports it"
        raise StoreError([Mistake("import", "HS751", so, should, "Export it again")]) from error
    mistakes = [] if form == FORMAT else [_wrong(MANIFEST, "HS751", f"its format is '{form}'", f"it is '{FORMAT}'")]
    for name in sorted({*files, *listed}):
        if name not in listed:
            mistakes.append(_wrong(name, "HS752", "it is not in the list of files", "each file is listed"))
        elif name not in files:
            mistakes.append(_wrong(name, "HS752", "it is listed and not there", "each file that is listed is there"))
        elif listed[name][:2] != (sha256(files[name]).hexdigest(), len(files[name])):
            mistakes.append(_wrong(name, "HS754", "it is not as listed", "its SHA-256 and size are those listed"))
    if mistakes:
        raise StoreError(mistakes)
    return files, {name: title for name, (_, _, title) in listed.items()}


def _check_names_and_sizes(infos: list[zipfile.ZipInfo]) -> None:
    """Check a zip before any of it is unpacked; a file gives no more bytes than its size says."""
    mistakes = []
    names = [info.filename for info in infos]
    for name in dict.fromkeys(names):
        if name not in (JOB_FILE, MANIFEST) and not _PHOTO.fullmatch(name):
            should = f"it is {JOB_FILE}, {MANIFEST} or a photo by its SHA-256"
            mistakes.append(_wrong(name, "HS752", "no file can be called so", should))
        elif names.count(name) > 1:
            mistakes.append(_wrong(name, "HS752", "it is there several times", "each file is there once"))
    mistakes += [_wrong(name, "HS752", "it is not there", "it is needed") for name in _NEEDED if name not in names]
    for info in infos:
        most = MOST_BYTES if _PHOTO.fullmatch(info.filename) else MOST_TEXT_BYTES
        if info.file_size > most:
            so = f"it has {info.file_size:,} bytes"
            mistakes.append(_wrong(info.filename, "HS753", so, f"it has {most:,} at most"))
    if len(infos) > MOST_FILES or sum(info.file_size for info in infos) > MOST_ALL_BYTES:
        should = f"there are {MOST_FILES} files and {MOST_ALL_BYTES:,} bytes at most"
        mistakes.append(_wrong("import", "HS753", "there is more in it than a job has", should))
    if mistakes:
        raise StoreError(mistakes)


def _pictures(files: Mapping[str, bytes]) -> dict[str, Picture]:
    pictures, mistakes = {}, list[Mistake]()
    for name, content in files.items():
        if name != JOB_FILE:
            try:
                pictures[name] = clean_picture(content, name)
            except StoreError as error:
                mistakes += error.mistakes
    if mistakes:
        raise StoreError(mistakes)
    return pictures


_NEEDED = (JOB_FILE, MANIFEST)


def _wrong(name: str, code: str, so: str, should: str) -> Mistake:
    return Mistake(name, code, so, should, "Export it again where it comes from")
