"""``halfsplit vocabulary``: every word that a job file may use, with its line."""

import json
import textwrap

from halfsplit.book import shipped_book
from halfsplit.jobfile.vocabulary import vocabulary

_COLUMN = 28
_WIDTH = 110


def show_vocabulary(*, as_json: bool) -> None:
    """Print the words, map by map."""
    maps = vocabulary(shipped_book())
    if as_json:
        print(json.dumps(maps, indent=2))
        return
    for name, words in maps.items():
        print(f"{name}:")
        for word, line in words.items():
            wrapped = textwrap.wrap(line, _WIDTH - _COLUMN) or [""]
            print(f"  {word:<{_COLUMN - 3}} {wrapped[0]}".rstrip())
            for rest in wrapped[1:]:
                print(" " * _COLUMN + rest)
        print()
