"""Mistakes are told in the order in which a person meets them."""

from halfsplit.errors import InputError, Mistake


def test_line_2_comes_before_line_12():
    places = ["job.yaml:12:3", "job.yaml:2:30", "job.yaml:2:4", "book.yaml:99:1", "reading"]
    error = InputError(Mistake(place, "HS000", "so", "should", "do") for place in places)
    assert [mistake.place for mistake in error.mistakes] == [
        "book.yaml:99:1",
        "job.yaml:2:4",
        "job.yaml:2:30",
        "job.yaml:12:3",
        "reading",
    ]
