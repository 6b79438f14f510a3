"""YAML text: every word keeps its place and its spelling, and every mistake is told."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.yamltext import MOST_DEPTH, load_yaml, read_yaml, seconds, yes_or_no


def values(text):
    tree, mistakes = read_yaml(text, "f.yaml")
    assert mistakes == []
    return {key: node.value for key, (_, node) in tree.entries().items()}


def told(text):
    return [(mistake.place, mistake.code) for mistake in read_yaml(text, "f.yaml")[1]]


def test_words_that_older_yaml_takes_for_switches_and_times_stay_words():
    assert values("on: off\nyes: no\ny: n\nclock: 12:30:00\nday: 2024-01-31") == {
        "on": "off",
        "yes": "no",
        "y": "n",
        "clock": "12:30:00",
        "day": "2024-01-31",
    }


def test_numbers_are_read_by_the_core_schema_and_keep_their_spelling():
    assert values("a: 012\nb: 0x1F\nc: 0o17\nd: -1.5e2\ne: 1_000\nf: +7") == {
        "a": 12,
        "b": 31,
        "c": 15,
        "d": -150.0,
        "e": "1_000",
        "f": 7,
    }
    tree, _ = read_yaml("[012, 11.80]", "f.yaml")
    assert [item.text for item in tree.items()] == ["012", "11.80"]


def test_quotes_make_text():
    assert values("a: '12'\nb: \"true\"\nc: |\n  null\nd: ~\ne: True") == {
        "a": "12",
        "b": "true",
        "c": "null\n",
        "d": None,
        "e": True,
    }


def test_each_node_knows_its_line_and_column():
    tree, _ = read_yaml("a:\n  - b\n  - {c: d}\n", "f.yaml")
    key, items = tree.entries()["a"]
    inner = items.items()[1].entries()["c"]
    assert [node.place for node in (key, items, *items.items(), *inner)] == [
        "f.yaml:1:1",
        "f.yaml:2:3",
        "f.yaml:2:5",
        "f.yaml:3:5",
        "f.yaml:3:6",
        "f.yaml:3:9",
    ]


def test_an_anchor_is_repeated_by_its_alias():
    assert values("a: &x 5\nb: *x") == {"a": 5, "b": 5}


@pytest.mark.parametrize(
    ("text", "mistakes"),
    [
        ("a: 1\nb: 2\na: 3", [("f.yaml:3:1", "HS103")]),
        ("{a: {b: 1, b: 2}, 'a': 3}", [("f.yaml:1:12", "HS103"), ("f.yaml:1:19", "HS103")]),
        ("a:\n\t- b", [("f.yaml:2:1", "HS102")]),
        ("a: [1, 2", [("f.yaml:2:1", "HS102")]),
        ("a: b: c", [("f.yaml:1:5", "HS102")]),
        ("a: 1\n--- \nb: 2", [("f.yaml:2:1", "HS102")]),
        ("? [a]\n: 3", [("f.yaml:1:3", "HS102")]),
        ("a: 1\nb: \x07", [("f.yaml:2:4", "HS102")]),
        ("[" * (MOST_DEPTH + 1), [("f.yaml:1:51", "HS102")]),
        ("a: !!str 5\nb: !x {}", [("f.yaml:1:4", "HS104"), ("f.yaml:2:4", "HS104")]),
        ("a: *x", [("f.yaml:1:4", "HS104")]),
        ("a: &x [*x]", [("f.yaml:1:8", "HS104")]),
    ],
)
def test_every_mistake_is_told_with_its_place(text, mistakes):
    assert told(text) == mistakes


def test_aliases_inside_aliases_cannot_fill_the_memory():
    lines = ["a0: &a0 [1, 1, 1, 1, 1, 1, 1, 1, 1, 1]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 9)]
    assert {code for _, code in told("\n".join(lines))} == {"HS104"}


def test_an_empty_text_is_no_tree_and_no_mistake():
    assert read_yaml("# nothing\n", "f.yaml") == (None, [])


def test_a_file_that_is_not_there_or_not_utf8_is_a_mistake(tmp_path):
    bad = tmp_path / "bad.yaml"
    bad.write_bytes(b"a: \xff")
    assert [mistake.code for path in (bad, tmp_path / "none.yaml") for mistake in load_yaml(path)[1]] == [
        "HS101",
        "HS101",
    ]


def test_a_byte_order_mark_is_no_part_of_the_text(tmp_path):
    path = tmp_path / "f.yaml"
    path.write_bytes(b"\xef\xbb\xbfa: 1")
    tree, mistakes = load_yaml(path)
    assert (tree.entries()["a"][0].place, mistakes) == ("f.yaml:1:1", [])


@pytest.mark.parametrize(("text", "said"), [("yes", True), ("'No'", False), ("true", True), ("on", None), ("1", None)])
def test_yes_and_no_may_be_quoted_and_nothing_else_is_one(text, said):
    assert yes_or_no(read_yaml(text, "f.yaml")[0]) is said


@pytest.mark.parametrize(
    ("text", "length"),
    [
        ("6 min", 360),
        ("6min", 360),
        ("360 s", 360),
        ("0.1 h", 360),
        ("2 weeks", 1_209_600),
        ("6", None),
        ("min", None),
    ],
)
def test_a_length_of_time_needs_its_unit(text, length):
    assert seconds(read_yaml(text, "f.yaml")[0]) == (None if length is None else pytest.approx(length))


@given(st.text(max_size=60) | st.text(alphabet="ab:-[]{}&*!?,'\"#\n \t|>%", max_size=40))
def test_no_text_breaks_the_reader(text):
    tree, mistakes = read_yaml(text, "f.yaml")
    assert tree is None or tree.place.startswith("f.yaml:")
    assert all(mistake.code in {"HS102", "HS103", "HS104"} for mistake in mistakes)
