"""Search over all jobs by the words that each is known by: FTS5 on SQLite, a tsvector on PostgreSQL."""

import re

from sqlalchemy import Connection, text

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


def find_jobs(connection: Connection, asked: str, *, limit: int = 50) -> tuple[int, ...]:
    """Return the numbers of the jobs that have all the words, the newest first.

    Args:
        connection: to read by.
        asked: words, or beginnings of words, in any order; upper and lower case are the same.
        limit: the most that come back.
    """
    words = _WORD.findall(asked)[:_MOST_WORDS]
    if not words:
        return ()
    if connection.dialect.name == "sqlite":
        where, query = "job_words MATCH :query", " ".join(f'"{word}"*' for word in words)
    else:
        where, query = "stems @@ to_tsquery('simple', :query)", " & ".join(f"'{word}':*" for word in words)
    statement = f"SELECT rowid FROM job_words WHERE {where} ORDER BY rowid DESC LIMIT :limit"
    return tuple(connection.execute(text(statement), {"query": query, "limit": limit}).scalars())
