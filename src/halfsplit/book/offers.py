"""What an owner's words may mean: the events, signs, stops and complaints whose own words come nearest.

A sentence and each phrase of the book become lists of stems, without the words that say nothing.  A phrase fits by the
weight of its words that the sentence has, as a share of its own weight; a word weighs the more the fewer phrases of
the book have it (Sparck Jones, A statistical interpretation of term specificity, Journal of Documentation 28, 1972).
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import log

from halfsplit.book.stems import NOT, stems_of
from halfsplit.model.book import Book

LEAST_SHARE = 0.5
"""A phrase of which less than this was said is no offer."""

NEARLY = 0.8
"""What a word counts that only begins like the one said."""

BY_TITLE = 0.8
"""What a title counts beside a phrase: it is the trade's way to put it, not an owner's."""

NOT_SAID = 0.3
"""What a phrase with a "not" counts where the sentence has none."""

_LEAST_BEGINNING = 4  # letters that two words must begin with alike


@dataclass(frozen=True)
class Offer:
    """Something of the book that an owner's words may mean.

    Args:
        kind: "event", "sign", "stop" or "complaint".
        id: its id.
        title: as the trade says it.
        phrase: the phrase of the book that fits.
        score: how well; only for the order.
    """

    kind: str
    id: str
    title: str
    phrase: str
    score: float


@dataclass(frozen=True)
class _Phrase:
    kind: str
    id: str
    title: str
    text: str
    stems: frozenset[str]
    factor: float


def find_offers(sentence: str, book: Book, *, most: int = 8) -> tuple[Offer, ...]:
    """Return what a sentence may mean, the best first, each thing once with its best phrase.

    Args:
        sentence: the owner's words, any length.
        book: the fault book; its ``words`` and titles are what is looked for.
        most: so many offers at most.
    """
    said = frozenset(stems_of(sentence))
    phrases = _phrases(book)
    many = Counter(stem for phrase in phrases for stem in phrase.stems)
    weight = {stem: log(1.0 + len(phrases) / count) for stem, count in many.items()}
    best: dict[tuple[str, str], Offer] = {}
    for phrase in phrases:
        score = _score(phrase, said, weight)
        key = (phrase.kind, phrase.id)
        if score > 0.0 and (key not in best or score > best[key].score):
            best[key] = Offer(phrase.kind, phrase.id, phrase.title, phrase.text, score)
    ranked = sorted(best.values(), key=lambda offer: (-offer.score, offer.kind, offer.id))
    return tuple(ranked[:most])


def _score(phrase: _Phrase, said: frozenset[str], weight: Mapping[str, float]) -> float:
    """Return how well a phrase fits what was said; 0 where too little of it was."""
    whole = sum(weight[stem] for stem in phrase.stems)
    found = sum(weight[stem] * _found(stem, said) for stem in phrase.stems)
    if whole <= 0.0 or found / whole < LEAST_SHARE or found <= weight.get(NOT, 0.0) * (NOT in phrase.stems):
        return 0.0
    factor = phrase.factor
    if NOT in phrase.stems and NOT not in said:
        factor *= NOT_SAID
    return factor * found * found / whole


def _found(stem: str, said: Iterable[str]) -> float:
    if stem in said:
        return 1.0
    for word in said:
        short, long = sorted((stem, word), key=len)
        if len(short) >= _LEAST_BEGINNING and long.startswith(short):
            return NEARLY
    return 0.0


def _phrases(book: Book) -> list[_Phrase]:
    found = []
    nouns = (("event", book.events), ("sign", book.signs), ("stop", book.stops), ("complaint", book.complaints))
    for kind, section in nouns:
        for noun in section.values():
            for text in (*noun.words, noun.title):
                stems = frozenset(stems_of(text))
                if stems:
                    factor = 1.0 if text in noun.words else BY_TITLE
                    found.append(_Phrase(kind, noun.id, noun.title, text, stems, factor))
    return found
