"""What belongs to a job and is not in its log: the person who brought the machine, and photos."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

from sqlalchemy import Connection

from halfsplit.actions.bench import Bench, in_days, in_utc
from halfsplit.errors import Mistake, StoreError
from halfsplit.store import persons, photos
from halfsplit.store.jobs import get_job
from halfsplit.store.persons import Person, PersonKept
from halfsplit.store.photos import Photo
from halfsplit.store.pictures import clean_picture


def set_person(bench: Bench, number: int, person: Person, *, now: datetime, person_days: int) -> None:
    """Keep the person of a job, apart and sealed.

    What was kept of one before is gone, but for the passcode where none is given, and the day on which
    ``erase_due`` erases it.

    Args:
        bench: the bench.
        number: the job's.
        person: who.
        now: the moment.
        person_days: days until the record dies, where the job is closed and the record has no day yet.

    Raises:
        StoreError: HS711 there is no such job; HS704 the key is another than the record before was sealed by;
            HS705 it is kept, but what was kept before is still in the journal.
    """
    with bench.store.writing() as connection:
        is_open = get_job(connection, number).is_open
        replaced = persons.get_person(connection, bench.store.vault, number)
        before = replaced or PersonKept(Person())
        person = replace(person, passcode=person.passcode or before.person.passcode)
        dies_on = before.dies_on or ("" if is_open else in_days(now, person_days))
        persons.set_person(connection, bench.store.vault, number, PersonKept(person, dies_on))
    if replaced is not None:
        bench.store.settle()


def get_person(bench: Bench, number: int) -> PersonKept | None:
    """Return the person of a job, or None.

    Raises:
        StoreError: HS704 the key is another than the record was sealed by.
    """
    with bench.store.reading() as connection:
        return persons.get_person(connection, bench.store.vault, number)


def find_persons(bench: Bench, asked: str) -> dict[int, Person]:
    """Return the persons of open jobs who have all the words in what is kept of them, by the job's number.

    Passcodes are not looked through.  Records of closed jobs stay sealed, and so do those of another key.
    """
    words = asked.casefold().split()
    with bench.store.reading() as connection:
        found = persons.open_persons(connection, bench.store.vault)
    return {number: person for number, person in found.items() if words and person.has(words)}


def erase_person(bench: Bench, number: int) -> None:
    """Erase the person of a job and its private photos; the job, its log and its other photos stay.

    Raises:
        StoreError: HS705 it is erased, but still in the journal.
    """
    with bench.store.writing() as connection:
        _erase(bench, connection, number)
    bench.store.settle()


def erase_due(bench: Bench, today: date, *, person_days: int) -> tuple[int, ...]:
    """Erase every person whose day has come, and return the numbers of their jobs.

    A record of a closed job that has no day gets one.

    Args:
        bench: the bench.
        today: the day.
        person_days: days from today until such a record dies.

    Raises:
        StoreError: HS705 they are erased, but still in the journal.
    """
    with bench.store.writing() as connection:
        persons.let_closed_die(connection, (today + timedelta(days=person_days)).isoformat())
        numbers = persons.jobs_of_due(connection, today.isoformat())
        for number in numbers:
            _erase(bench, connection, number)
    bench.store.settle()
    return numbers


def add_photos(
    bench: Bench,
    number: int,
    contents: Sequence[bytes],
    *,
    by: str,
    now: datetime,
    title: str = "",
    is_private: bool = False,
) -> tuple[Photo, ...]:
    """Keep photos of a job, all or none; where and when one was taken is taken out of it, and it says what was.

    Args:
        bench: the bench.
        number: the job's.
        contents: the bytes of each, a JPEG, PNG or WebP.
        by: initials.
        now: the moment.
        title: what they show; may be left out.
        is_private: whether they show something of the owner's: they are sealed, stay out of exports, and are erased
            with the person, even if nothing else is known of one.  A photo that the job has already becomes
            private, and no private one open again.

    Raises:
        StoreError: HS711 there is no such job; HS721 a photo is too large; HS722 it is none that is taken.
    """
    pictures = [clean_picture(content) for content in contents]
    new = [
        photos.new_photo(picture, number, title=title, is_private=is_private, initials=by, at=in_utc(now))
        for picture in pictures
    ]
    made: list[Photo] = []
    try:
        with bench.store.writing() as connection:
            get_job(connection, number)
            if is_private and not persons.has_person(connection, number):
                persons.set_person(connection, bench.store.vault, number, PersonKept(Person()))
            for photo, picture in zip(new, pictures, strict=True):
                if photos.keep_photo(connection, bench.store, photo, picture.content):
                    made.append(photo)
    except BaseException:
        for photo in made:
            photos.drop_file(bench.store, photo)
        raise
    if is_private:
        for photo in new:
            photos.drop_open_file(bench.store, photo)
    return tuple(new)


def read_photo(bench: Bench, number: int, digest: str) -> tuple[Photo, bytes]:
    """Return a photo and its content.

    Raises:
        StoreError: HS724 the job has no such photo; HS723 its file is gone or not as it was; HS704 the key is
            another than it was sealed by.
    """
    with bench.store.reading() as connection:
        photo = _find(connection, number, digest)
    return photo, photos.read_photo(bench.store, photo)


def erase_photo(bench: Bench, number: int, digest: str) -> None:
    """Erase one photo.

    Raises:
        StoreError: HS724 the job has no such photo; HS705 it is erased, but its title is still in the journal.
    """
    with bench.store.writing() as connection:
        photos.erase_photo(connection, bench.store, _find(connection, number, digest))
    bench.store.settle()


def _find(connection: Connection, number: int, digest: str) -> Photo:
    photo = next((each for each in photos.list_photos(connection, number) if each.hash == digest), None)
    if photo is None:
        so, should = f"it has no photo {digest[:12]}", "a photo is known by the SHA-256 of its content"
        raise StoreError([Mistake(f"job {number}", "HS724", so, should, "Look at the job's list of photos")])
    return photo


def _erase(bench: Bench, connection: Connection, number: int) -> None:
    persons.erase_person(connection, number)
    for photo in photos.list_photos(connection, number):
        if photo.is_private:
            photos.erase_photo(connection, bench.store, photo)
