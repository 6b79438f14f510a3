"""Settings come back as they were saved; what was never set is as by default; nonsense is refused whole."""

import re
from dataclasses import fields, replace
from pathlib import Path

import pytest
from sqlalchemy import text
from stores import postgres, store, url

from halfsplit.errors import StoreError
from halfsplit.measure.meter import Meter
from halfsplit.model.rates import Rates
from halfsplit.settings import Settings, load_settings, save_settings
from halfsplit.store import open_store

__all__ = ["postgres", "store", "url"]

OWN = Settings(
    "Die Werkstatt Köln",
    "CHF",
    ("AB", "CD"),
    (Meter(0.5, 2, 0.01, "yellow"), Meter(0.05, 3, 0.001, "the good one")),
    30,
    Rates(hour=90_00.0, risk=10_00.0),
)


def rows(store):
    with store.reading() as connection:
        return dict(tuple(row) for row in connection.execute(text("SELECT name, value FROM setting")))


def test_a_bench_that_set_nothing_has_the_defaults(store):
    assert load_settings(store) == Settings()


def test_settings_come_back_as_they_were_saved(store):
    save_settings(store, OWN)
    assert load_settings(store) == OWN
    save_settings(store, replace(OWN, shop=""))
    assert load_settings(store) == replace(OWN, shop="")


def test_only_what_differs_from_its_default_is_kept(store):
    save_settings(store, Settings(rates=Rates(hour=90_00.0)))
    assert rows(store) == {"rates.hour": "9000.0"}
    save_settings(store, Settings())
    assert rows(store) == {}


def test_a_row_that_is_not_known_any_more_is_left_alone(store):
    save_settings(store, OWN)
    with store.writing() as connection:
        connection.execute(text("INSERT INTO setting VALUES ('colour', '\"red\"'), ('rates.tea', '3')"))
    assert load_settings(store) == OWN


def test_what_makes_no_sense_is_told_all_at_once_and_not_kept(store):
    save_settings(store, OWN)
    wrong = Settings(
        currency="Euro", people=("AB", "AB", "A B"), meters=(), person_days=-1, rates=Rates(call_share=8.0)
    )
    with pytest.raises(StoreError) as caught:
        save_settings(store, wrong)
    assert [mistake.place for mistake in caught.value.mistakes] == [
        "currency",
        "meters",
        "people",
        "people",
        "person_days",
        "rates.call_share",
    ]
    assert load_settings(store) == OWN


@pytest.mark.parametrize("name", [each.name for each in fields(Rates)])
@pytest.mark.parametrize("value", [-1.0, 1e9, float("nan"), float("inf")])
def test_no_rate_is_negative_or_no_number(tmp_path, name, value):
    opened = open_store(tmp_path)
    with pytest.raises(StoreError, match=f"HS761 rates.{name}"):
        save_settings(opened, Settings(rates=replace(Rates(), **{name: value})))
    opened.close()


def test_every_setting_is_documented_and_no_other():
    document = (Path(__file__).parents[1] / "docs" / "store.md").read_text(encoding="utf-8")
    chapter = document.partition("## Settings\n")[2].partition("\n## ")[0]
    assert re.findall(r"^\| `(\w+)` \|", chapter, flags=re.MULTILINE) == [each.name for each in fields(Settings)]


def test_the_usual_meter_is_as_documented(store):
    usual = load_settings(store).meters[0]
    assert (usual.percent_of_reading, usual.digits, usual.resolution_volts) == (0.5, 2, 0.01)
