"""The bench with a job on it."""

import pytest
from folding import BOOK
from stores import NOON, postgres, store, url

from halfsplit.actions import Bench, open_job

__all__ = ["postgres", "store", "url"]

MACHINE = "{machine: {kind: built, age_years: 6, memory: [8, 8]}, complaint: starts_misbehaves, name: the tower}"


@pytest.fixture
def bench(store):
    return Bench(store, BOOK)


@pytest.fixture
def job(bench):
    return open_job(bench, MACHINE, by="AB", now=NOON)
