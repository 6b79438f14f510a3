"""What a page may use is declared: one frozen record for each template, every field of it told and used, no other."""

import importlib
import pkgutil
import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from types import NoneType, UnionType
from typing import Union, get_args, get_origin, get_type_hints

import jinja2
import pytest
from jinja2 import nodes
from markupsafe import Markup
from page_addresses import NOWHERE, OPEN_JOB, addresses
from web_reader import Browser

from halfsplit import web
from halfsplit.web import screen
from halfsplit.web.screen import FOLDER, Frame

TEMPLATES = {path.stem: path.read_text(encoding="utf-8") for path in (FOLDER / "templates").glob("*.html")}
SHARED = {"sheet", "bits", "fields", "job_lines", "next_part", "scan_field"}
"""Templates that are no page by themselves."""


class Spied:
    """An environment that notes which record goes to which template."""

    def __init__(self, environment, seen):
        self.environment, self.seen = environment, seen

    def get_template(self, name):
        template, seen = self.environment.get_template(name), self.seen

        class Laid:
            def render(self, **context):
                assert set(context) == {"page", "frame"}
                assert type(context["frame"]) is Frame
                seen.setdefault(name.removesuffix(".html"), set()).add(type(context["page"]))
                return template.render(**context)

        return Laid()


@pytest.fixture
def records(demo_desk, monkeypatch):
    """Template -> the records that were laid out by it, after every page of the demo was got."""
    seen = {}
    spied = Spied(screen._environment(), seen)
    monkeypatch.setattr(screen, "_environment", lambda: spied)
    browser = Browser(demo_desk)
    for address in (*addresses(), f"/jobs/{OPEN_JOB}/next"):
        browser.open(address, status=404 if address == NOWHERE else 200)
    browser.open(f"/jobs/{OPEN_JOB}")
    browser.press("note it", status=422)  # nothing was written
    browser.open(f"/jobs/{OPEN_JOB}")
    browser.client.headers["X-Follow"] = "1"
    browser.press("note it", words="sent by the page itself")
    return seen


def web_modules():
    return [importlib.import_module(f"halfsplit.web.{each.name}") for each in pkgutil.iter_modules(web.__path__)]


def page_types():
    found = {
        noun
        for module in web_modules()
        for name, noun in vars(module).items()
        if name.endswith("Page") and is_dataclass(noun) and noun.__module__ == module.__name__
    }
    return sorted(found, key=lambda noun: noun.__name__)


def names_used(template):
    """Return the names that a template takes from its page, wherever in it."""
    tree = jinja2.Environment().parse(TEMPLATES[template])
    return {
        each.attr
        for each in tree.find_all(nodes.Getattr)
        if isinstance(each.node, nodes.Name) and each.node.name == "page"
    }


def said(noun):
    """Return the names of what a record says: its fields, and what it works out of them."""
    return {field.name for field in fields(noun)} | {
        name for name, value in vars(noun).items() if isinstance(value, property)
    }


def loose(hint, seen):
    """Return what in a type could be changed by a template, or by whoever holds the record."""
    parts = ()
    if get_origin(hint) in (Union, UnionType, tuple):
        parts = get_args(hint)
    elif isinstance(hint, type) and (issubclass(hint, tuple) or is_frozen(hint)):
        parts = () if hint in seen else get_type_hints(hint).values()
        seen.add(hint)
    elif hint not in (str, int, float, bool, NoneType, Markup, Ellipsis) and get_origin(hint) is not Mapping:
        return [hint]
    return [each for part in parts for each in loose(part, seen)]


def is_frozen(noun):
    return is_dataclass(noun) and noun.__dataclass_params__.frozen


def test_each_template_has_one_record_and_every_record_a_template(records):
    rare = {"scanned"}  # only where a part fits several places
    assert {name: {noun.__name__ for noun in nouns} for name, nouns in records.items() if len(nouns) != 1} == {}
    assert records.keys() >= TEMPLATES.keys() - SHARED - rare
    laid_out = {noun for nouns in records.values() for noun in nouns}
    assert {noun.__name__ for noun in page_types()} - {noun.__name__ for noun in laid_out} <= {"ScannedPage"}


def test_a_template_uses_what_its_record_declares_and_all_of_it(records):
    unknown, unused = {}, {}
    for template, (noun,) in records.items():
        used, declared = names_used(template), {field.name for field in fields(noun)}
        unknown[template] = used - said(noun)
        unused[template] = set() if template == "next" else declared - used  # its record is passed on whole
    assert {template: names for template, names in unknown.items() if names} == {}
    assert {template: names for template, names in unused.items() if names} == {}


def test_every_record_is_frozen_through_and_through():
    seen = set()
    for noun in (*page_types(), Frame):
        assert loose(noun, seen) == [], noun
    assert len(seen) > len(page_types())


def test_every_field_of_a_page_is_told():
    for noun in (*page_types(), Frame):
        told = re.sub(r"\s+", " ", noun.__doc__)
        for field in fields(noun):
            assert re.search(rf"\b{field.name}\b", told), (noun.__name__, field.name)


def test_a_template_that_uses_what_is_not_declared_fails():
    template = screen._environment().from_string("{{ frame.nothing }}")
    with pytest.raises(jinja2.UndefinedError):
        template.render(frame=Frame("", "", (), "/", "", ""))
