"""A log that only grows is read line by line, and comes to the same as read as a whole."""

import pytest

from halfsplit.jobfile import onto
from halfsplit.yamltext import read_yaml

HEAD = "name: Otter\nmachine:\n  kind: tower\ncomplaint: dead\n"
RUN, NOTE = "  - run: {reached: log_in, by: AB}\n", '  - note: {text: "a: b # c, its", by: AB}\n'

BY_LINES = [
    f"{HEAD}log:\n{RUN}",
    f"{HEAD}log:\n{RUN}{NOTE}{RUN}",
    f"log:\n{RUN}{NOTE}",
    f"\nlog:\n{RUN}",
    f"{HEAD}log:\n{RUN}{RUN}".removesuffix("\n"),
    f"name: |\n  Otter\nlog:\n{RUN}",
    "log:\n  - note: |\n  - note\n  - - note\n",
]
"""Each read line by line."""

AS_A_WHOLE = [
    "",
    HEAD,
    f"{HEAD}log: []\n",
    f"log: []\nlog:\n{RUN}",
    "log:\n  - note: &said {text: a}\n  - note: *said\n",
    'log:\n  - note: {text: "a\n  - b"}\n',
    "log:\n  - run:\n      reached: log_in\n",
    f"name: 'a\nlog:\n{RUN}  '\n",
    f"# a\n---\nlog:\n{RUN}",
    f"log:\n  - note: {{text: 'a\u2028b'}}\n{RUN}",
    f"log:\n{RUN}told: []\n",
]
"""Each with something in it that goes over lines, or a mistake."""


@pytest.mark.parametrize("text", BY_LINES)
def test_line_by_line_is_the_same_with_the_same_places(text: str) -> None:
    tree, mistakes = read_yaml(text, onto.BEFORE)
    assert tree is not None
    assert not mistakes
    found = onto._by_lines(text)
    assert found is not None
    assert dict(found) == dict(tree.entries())
    assert list(found) == list(tree.entries())


@pytest.mark.parametrize("text", AS_A_WHOLE)
def test_what_goes_over_lines_is_read_as_a_whole(text: str) -> None:
    tree, mistakes = read_yaml(text, onto.BEFORE)
    assert onto._by_lines(text) is None
    assert onto._tree(text) == ({} if tree is None else dict(tree.entries()), mistakes)


def test_a_log_that_grows_is_read_by_its_new_line_only() -> None:
    onto._item.cache_clear()
    log = f"{HEAD}log:\n"
    for many in range(1, 9):
        log += NOTE
        onto._tree(log)
        assert onto._item.cache_info().misses == many
