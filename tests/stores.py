"""Stores for tests: each test has one of its own, on SQLite and on PostgreSQL; and a clock that is told the time."""

import io
import itertools
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import psycopg
import pytest
from PIL import Image
from postgres import server

from halfsplit.store import Store, open_store

NOON = datetime(2030, 6, 14, 12, 0, 0, tzinfo=UTC)
NUMBERS = itertools.count(1)


def after(seconds: float) -> datetime:
    return NOON + timedelta(seconds=seconds)


def jpeg(shade: int = 40) -> bytes:
    """A photo of one colour."""
    packed = io.BytesIO()
    Image.new("RGB", (16, 12), (shade, 80, 120)).save(packed, "JPEG")
    return packed.getvalue()


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    with server() as address:
        yield address


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request) -> str:
    """The address of an empty database, or "" for SQLite in the store's folder."""
    if request.param == "sqlite":
        return ""
    address = request.getfixturevalue("postgres")
    name = f"test_{next(NUMBERS)}"
    with psycopg.connect(f"{address}/postgres", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return f"{address}/{name}"


@pytest.fixture
def store(tmp_path: Path, url: str) -> Iterator[Store]:
    opened = open_store(tmp_path / "bench", url=url)
    yield opened
    opened.close()
