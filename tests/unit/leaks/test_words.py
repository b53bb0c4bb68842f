"""How days and taps are said."""

import pytest

from apps.leaks.standing import LineTaps, days_in_words


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (None, "never walked"),
        (-1, "walked on a day still to come: check that clock"),
        (0, "walked today"),
        (1, "walked yesterday"),
        (2, "walked 2 days ago"),
    ],
)
def test_days_are_said_in_words(days, words):
    assert days_in_words("walked", days) == words


@pytest.mark.parametrize(
    ("taps", "words"),
    [
        (LineTaps(1200, 1, 0, 0), "1,200 taps (set)"),
        (LineTaps(0, 0, 1, 0), "0 taps (planned)"),
        (LineTaps(0, 0, 0, 1), "taps unknown"),
        (LineTaps(30, 2, 1, 0), "30 taps (2 lines set, 1 line planned)"),
        (LineTaps(30, 0, 1, 3), "30 taps (1 line planned, 3 lines unknown)"),
    ],
)
def test_taps_say_where_they_come_from(taps, words):
    assert taps.words == words
