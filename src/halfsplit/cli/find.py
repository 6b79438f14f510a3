"""``halfsplit find``: what an owner's words may mean."""

import json
from dataclasses import asdict

from halfsplit.book import find_offers, shipped_book
from halfsplit.errors import Mistake, UsageError

_KIND_WIDTH = 10
_ID_WIDTH = 24
_TITLE_WIDTH = 44


def show_offers(sentence: str, *, as_json: bool) -> None:
    """Print what a sentence may mean, the likeliest first.

    Args:
        sentence: the owner's words.
        as_json: as JSON, for programs.

    Raises:
        UsageError: nothing of the book comes near (HS905).
    """
    offers = find_offers(sentence, shipped_book())
    if as_json:
        print(json.dumps([asdict(offer) for offer in offers], indent=2, ensure_ascii=False))
        return
    if not offers:
        so = f"nothing in the fault book comes near '{sentence}'"
        do = "Say it in other words, or look through 'halfsplit book show'"
        raise UsageError([Mistake("halfsplit find", "HS905", so, "it is what an owner sees, hears or smells", do)])
    for offer in offers:
        title = f"{offer.title:<{_TITLE_WIDTH}}"
        print(f"{offer.kind:<{_KIND_WIDTH}} {offer.id:<{_ID_WIDTH}} {title} \u201c{offer.phrase}\u201d")
