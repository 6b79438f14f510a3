"""Every text of the pages, by its key; the texts themselves are in ``texts.yaml``, to be put into other languages."""

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from markupsafe import Markup, escape

from halfsplit.job.amounts import is_one
from halfsplit.yamltext import read_yaml

ONE = ".one"
"""How the keys of texts end that are for one of what else is many."""

FILE = Path(__file__).parent / "texts.yaml"


@cache
def texts() -> Mapping[str, str]:
    """Return every text by its key.

    Raises:
        ValueError: the file of texts has mistakes.
    """
    tree, mistakes = read_yaml(FILE.read_text(encoding="utf-8"), FILE.name)
    if tree is None or mistakes:
        raise ValueError("\n".join(map(str, mistakes)))
    return MappingProxyType({key: value.text for key, (_, value) in tree.entries().items()})


def say(key: str, **words: object) -> str:
    """Return a text with its words filled in.

    Where one of the words is a 1 and there is a text for that (``KEY.one``), it is that one.  Where one is markup, what
    is returned is markup too.

    Raises:
        KeyError: there is no such text, or a word of it is missing.

    Example:
        >>> say("machine.years", years=1), say("machine.years", years="3.5")
        ('1 year old', '3.5 years old')
    """
    one = f"{key}{ONE}"
    known = one if one in texts() and any(is_one(word) for word in words.values()) else key
    text = texts()[known]
    return (escape(text) if any(isinstance(word, Markup) for word in words.values()) else text).format_map(words)
