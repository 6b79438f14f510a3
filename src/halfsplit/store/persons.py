"""Persons, apart from the log: each record sealed as a whole, with a day on which it dies."""

import contextlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace

from sqlalchemy import Connection, delete, insert, select, update

from halfsplit.errors import StoreError
from halfsplit.store.tables import JOB, PERSON
from halfsplit.store.vault import Vault


@dataclass(frozen=True)
class Person:
    """Who brought the machine in; "" is "not said"."""

    name: str = ""
    phone: str = ""
    email: str = ""
    passcode: str = ""
    notes: str = ""

    def without_passcode(self) -> "Person":
        """Return the same person without the passcode."""
        return replace(self, passcode="")

    def has(self, words: Sequence[str]) -> bool:
        """Return whether all the words, in lower case, are in what is kept of the person beside the passcode."""
        kept = " ".join((self.name, self.phone, self.email, self.notes)).casefold()
        return all(word in kept for word in words)


@dataclass(frozen=True)
class PersonKept:
    """A person as kept: until which day (ISO 8601), "" for no day."""

    person: Person
    dies_on: str = ""


def set_person(connection: Connection, vault: Vault, number: int, kept: PersonKept) -> None:
    """Keep the person of a job; what was kept of one before is gone."""
    erase_person(connection, number)
    sealed = vault.seal(json.dumps(asdict(kept.person), ensure_ascii=False).encode()).decode()
    connection.execute(insert(PERSON).values(job=number, sealed=sealed, dies_on=kept.dies_on))


def get_person(connection: Connection, vault: Vault, number: int) -> PersonKept | None:
    """Return the person of a job, or None.

    Raises:
        StoreError: HS704 the key is another than the record was sealed by.
    """
    query = select(PERSON.c.sealed, PERSON.c.dies_on).where(PERSON.c.job == number)
    row = connection.execute(query).one_or_none()
    if row is None:
        return None
    return PersonKept(_unsealed(vault, row.sealed), row.dies_on)


def has_person(connection: Connection, number: int) -> bool:
    """Return whether there is a record of a job's person."""
    return connection.execute(select(PERSON.c.job).where(PERSON.c.job == number)).first() is not None


def open_persons(connection: Connection, vault: Vault) -> dict[int, Person]:
    """Return the persons of all open jobs, by the job's number, but those that were sealed by another key."""
    query = select(PERSON.c.job, PERSON.c.sealed).join(JOB).where(JOB.c.is_open == 1).order_by(PERSON.c.job)
    found = {}
    for row in connection.execute(query):
        with contextlib.suppress(StoreError):
            found[row.job] = _unsealed(vault, row.sealed)
    return found


def let_die(connection: Connection, number: int, dies_on: str) -> None:
    """Set the day on which the record of a job's person dies, where it has none yet."""
    has_none = (PERSON.c.job == number) & (PERSON.c.dies_on == "")
    connection.execute(update(PERSON).where(has_none).values(dies_on=dies_on))


def let_closed_die(connection: Connection, dies_on: str) -> None:
    """Set the day on which the record of each closed job's person dies, where it has none."""
    closed = select(JOB.c.number).where(JOB.c.is_open == 0)
    has_none = (PERSON.c.dies_on == "") & PERSON.c.job.in_(closed)
    connection.execute(update(PERSON).where(has_none).values(dies_on=dies_on))


def let_live(connection: Connection, number: int) -> None:
    """Take the day on which the record of a job's person dies."""
    connection.execute(update(PERSON).where(PERSON.c.job == number).values(dies_on=""))


def erase_person(connection: Connection, number: int) -> None:
    """Erase the person of a job; the job and its log stay."""
    connection.execute(delete(PERSON).where(PERSON.c.job == number))


def jobs_of_due(connection: Connection, today: str) -> tuple[int, ...]:
    """Return the jobs whose person's day has come."""
    query = select(PERSON.c.job).where(PERSON.c.dies_on != "", PERSON.c.dies_on <= today).order_by(PERSON.c.job)
    return tuple(connection.execute(query).scalars())


def _unsealed(vault: Vault, sealed: str) -> Person:
    return Person(**json.loads(vault.unseal(sealed.encode())))
