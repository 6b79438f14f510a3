"""Every text of the pages, by its key; the texts themselves are in ``texts.yaml``, to be put into other languages."""

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from halfsplit.yamltext import read_yaml

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

    Raises:
        KeyError: there is no such text, or a word of it is missing.
    """
    return texts()[key].format_map(words)
