"""Search over all jobs by the words that each is known by: FTS5 on SQLite, a tsvector on PostgreSQL."""

import re
from collections.abc import Collection

from sqlalchemy import Connection, Integer, bindparam, text

from halfsplit.store.tables import storable

_WORD = re.compile(r"\w+")
_MOST_WORDS = 8


def set_words(connection: Connection, number: int, words: str) -> None:
    """Set the words that a job is found by."""
    if connection.dialect.name == "sqlite":
        statement = "INSERT OR REPLACE INTO job_words (rowid, words) VALUES (:number, :words)"
    else:
        statement = (
            "INSERT INTO job_words (rowid, words) VALUES (:number, :words) "
            "ON CONFLICT (rowid) DO UPDATE SET words = excluded.words"
        )
    connection.execute(text(statement), {"number": number, "words": storable(words)})


def find_jobs(
    connection: Connection, asked: str, *, start: int = 0, limit: int = 50, beside: Collection[int] = ()
) -> tuple[int, ...]:
    """Return the numbers of the jobs that have all the words: the open ones first, then the newest first.

    Args:
        connection: to read by.
        asked: words, or beginnings of words, in any order; upper and lower case are the same.
        start: so many are left out before the first that comes back.
        limit: the most that come back.
        beside: numbers of jobs that do not come back.
    """
    words = _WORD.findall(asked)[:_MOST_WORDS]
    if not words:
        return ()
    if connection.dialect.name == "sqlite":
        where, query = "job_words MATCH :query", " ".join(f'"{word}"*' for word in words)
    else:
        where, query = "stems @@ to_tsquery('simple', :query)", " & ".join(f"'{word}':*" for word in words)
    statement = text(
        f"SELECT rowid FROM job_words WHERE {where} AND rowid NOT IN :beside "
        "ORDER BY rowid IN (SELECT number FROM job WHERE is_open = 1) DESC, rowid DESC LIMIT :limit OFFSET :start"
    ).bindparams(bindparam("beside", type_=Integer, expanding=True))
    bound = {"query": query, "beside": list(beside), "limit": limit, "start": start}
    return tuple(connection.execute(statement, bound).scalars())
