"""Numbers in words are round, in order, and never say more than is known."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from spaced import spaced

from halfsplit.text import in_words, length_in_words, range_in_words

IN_ORDER = [
    "ruled out",
    "less than 1 in 100",
    *(f"about 1 in {many}" for many in (100, 50, 20, 10, 5, 4, 3, 2)),
    *(f"about {words}" for words in ("2 in 3", "3 in 4", "4 in 5", "9 in 10", "19 in 20")),
    "almost certain",
    "certain",
]


@pytest.mark.parametrize(
    ("p", "words"),
    [
        (0.0, "ruled out"),
        (1e-300, "less than 1 in 100"),
        (0.0099, "less than 1 in 100"),
        (0.01, "about 1 in 100"),
        (0.33, "about 1 in 3"),
        (0.5, "about 1 in 2"),
        (0.673, "about 2 in 3"),
        (0.4173, "about 1 in 2"),
        (0.97, "about 19 in 20"),
        (0.98, "almost certain"),
        (1 - 1e-12, "almost certain"),
        (1.0, "certain"),
    ],
)
def test_a_probability_is_said_in_round_words(p, words):
    assert in_words(p) == words


@given(st.floats(0, 1), st.floats(0, 1))
def test_more_is_never_said_with_a_smaller_word(p, q):
    low, high = sorted((p, q))
    assert IN_ORDER.index(in_words(low)) <= IN_ORDER.index(in_words(high))


def test_a_range_that_is_one_word_is_said_once():
    assert range_in_words(0.64, 0.69) == "about 2 in 3"
    assert range_in_words(0.001, 0.5) == "less than 1 in 100 to 1 in 2"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (1, "1 s"),
        (59, "59 s"),
        (60, "1 min"),
        (600, "10 min"),
        (86_400, "1 day"),
        (604_800, "1 week"),
    ],
)
def test_a_length_of_time_is_said_in_its_largest_unit(seconds, words):
    assert spaced(length_in_words(seconds)) == words
