"""Time at the bench: who had which job open, from when to when."""

from dataclasses import dataclass, fields

from sqlalchemy import Connection, insert, select, update

from halfsplit.store.tables import SPELL


@dataclass(frozen=True)
class Spell:
    """One stretch of time of one person at one job; ``ended_at`` is "" while it runs."""

    job: int
    initials: str
    started_at: str
    ended_at: str = ""


_COLUMNS = [SPELL.c[each.name] for each in fields(Spell)]


def start_spell(connection: Connection, number: int, initials: str, at: str) -> None:
    """Let somebody's time go to a job from now on, and end the spell that ran; one that is there already runs on."""
    running = running_spell(connection, initials)
    if running is not None and running.job == number:
        return
    end_spell(connection, initials, at)
    connection.execute(insert(SPELL).values(job=number, initials=initials, started_at=at))


def end_spell(connection: Connection, initials: str, at: str) -> None:
    """End the spell that runs for somebody, if one does."""
    running = (SPELL.c.initials == initials) & (SPELL.c.ended_at == "")
    connection.execute(update(SPELL).where(running).values(ended_at=at))


def end_spells_at(connection: Connection, number: int, at: str) -> None:
    """End all spells that run at a job."""
    running = (SPELL.c.job == number) & (SPELL.c.ended_at == "")
    connection.execute(update(SPELL).where(running).values(ended_at=at))


def running_spell(connection: Connection, initials: str) -> Spell | None:
    """Return the spell that runs for somebody, or None."""
    query = select(*_COLUMNS).where(SPELL.c.initials == initials, SPELL.c.ended_at == "")
    row = connection.execute(query).mappings().one_or_none()
    return None if row is None else Spell(**row)


def list_spells(connection: Connection, number: int) -> tuple[Spell, ...]:
    """Return the time that was spent on a job, in the order in which it began."""
    query = select(*_COLUMNS).where(SPELL.c.job == number).order_by(SPELL.c.started_at, SPELL.c.id)
    return tuple(Spell(**row) for row in connection.execute(query).mappings())
