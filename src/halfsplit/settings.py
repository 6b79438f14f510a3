"""The bench's settings: what it reckons with, what it is called, who works there, and its meters.

They are kept as rows of text in the store.  Only what differs from its default is kept, so that a better default
reaches every bench that never set its own.  What the defaults of money and time rest on is told in ``model.rates``.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields

from halfsplit.errors import Mistake, StoreError
from halfsplit.measure import BENCH_METER
from halfsplit.measure.meter import Meter
from halfsplit.model.rates import Rates
from halfsplit.store import Store
from halfsplit.store.setting_rows import read_setting_rows, write_setting_rows

_CURRENCY = re.compile(r"[A-Z]{3}")
_INITIALS = re.compile(r"\w{1,8}")
_RATE = "rates."
"""How the names of rows begin that hold one rate each."""


@dataclass(frozen=True)
class Settings:
    """What a bench may set.

    Args:
        shop: what it is called on paper; "" is left out there.
        currency: of every sum, as in ISO 4217.
        people: the initials of those who work there.
        meters: its voltmeters, the usual one first.
        person_days: days after collection until the record of a person is erased.  90 is an estimate: most comebacks
            are within 90 days; local law may ask for less or more.
        rates: what time, waiting, mishaps and risk cost.
    """

    shop: str = ""
    currency: str = "EUR"
    people: tuple[str, ...] = ()
    meters: tuple[Meter, ...] = (BENCH_METER,)
    person_days: int = 90
    rates: Rates = field(default_factory=Rates)


def load_settings(store: Store) -> Settings:
    """Return the settings of a bench; what was never set, or is not known any more, is as by default."""
    with store.reading() as connection:
        rows = {name: json.loads(value) for name, value in read_setting_rows(connection).items()}
    own = {each.name for each in fields(Rates)}
    rates = {name.removeprefix(_RATE): value for name, value in rows.items() if name.startswith(_RATE)}
    known = {each.name: rows[each.name] for each in fields(Settings) if each.name in rows}
    if "people" in known:
        known["people"] = tuple(known["people"])
    if "meters" in known:
        known["meters"] = tuple(Meter(**meter) for meter in known["meters"])
    return Settings(**known, rates=Rates(**{name: value for name, value in rates.items() if name in own}))


def save_settings(store: Store, settings: Settings) -> None:
    """Keep the settings of a bench.

    Raises:
        StoreError: HS761, once for each that makes no sense; then none is kept.
    """
    mistakes = _mistakes(settings)
    if mistakes:
        raise StoreError(mistakes)
    default, now = _rows(Settings()), _rows(settings)
    with store.writing() as connection:
        write_setting_rows(connection, {name: value for name, value in now.items() if value != default[name]})


def _rows(settings: Settings) -> dict[str, str]:
    plain: Mapping[str, object] = asdict(settings)
    rates = {f"{_RATE}{name}": value for name, value in asdict(settings.rates).items()}
    rows = {**{name: value for name, value in plain.items() if name != "rates"}, **rates}
    return {name: json.dumps(value, ensure_ascii=False) for name, value in rows.items()}


def _mistakes(settings: Settings) -> list[Mistake]:
    mistakes = []
    if not _CURRENCY.fullmatch(settings.currency):
        should, do = "it is a code of ISO 4217", "Write three capital letters, such as EUR"
        mistakes.append(Mistake("currency", "HS761", f"it is '{settings.currency}'", should, do))
    for initials in settings.people:
        if not _INITIALS.fullmatch(initials):
            should, do = "initials are 1 to 8 letters or digits", "Write them so"
            mistakes.append(Mistake("people", "HS761", f"'{initials}' are no initials", should, do))
    for name, many in (("people", settings.people), ("meters", [meter.name for meter in settings.meters])):
        if len(set(many)) < len(many):
            should, do = "each is there once", "Take one of them out, or call it otherwise"
            mistakes.append(Mistake(name, "HS761", "one of them is there twice", should, do))
    if not settings.meters:
        should, do = "a bench has one at least", "Leave one there"
        mistakes.append(Mistake("meters", "HS761", "there is none", should, do))
    if not 0 <= settings.person_days <= _MOST_DAYS:
        should = f"it is 0 to {_MOST_DAYS} days"
        mistakes.append(Mistake("person_days", "HS761", f"it is {settings.person_days}", should, "Write whole days"))
    for name, value in asdict(settings.rates).items():
        least, most = _LIMITS.get(name, (0.0, _MOST_CENTS))
        if not least <= value <= most:
            should, do = f"it is {least:g} to {most:,.0f}", "Write it so; sums are in cents"
            mistakes.append(Mistake(f"{_RATE}{name}", "HS761", f"it is {value:g}", should, do))
    return mistakes


_MOST_DAYS = 3660
_MOST_CENTS = 100_000_000.0
_SHARE = (0.0, 1.0)
_LIMITS = {"try_first": _SHARE, "stop_share": _SHARE, "call_share": _SHARE, "years_to_half": (0.1, 100.0)}
"""Rate -> its least and most, where it is no sum."""
