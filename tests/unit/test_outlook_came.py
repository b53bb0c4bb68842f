"""What came, by source in order of trust: hours joined one by one, days never mixed."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.outlook.came import ARCHIVED, MEASURED, SAID_LATER, SOURCES, Came

ZONE = ZoneInfo("America/New_York")
MIDNIGHT = datetime(2026, 3, 16, 4, tzinfo=UTC)
DAY = date(2026, 3, 16)
NAN = float("nan")
FREEZE_C, THAW_C = -1.1, 2.2


def came(*hours):
    """The three sources in order, each as its hours; those left out know nothing."""
    size = len(hours[0])
    rows = [np.array(one, dtype=float) for one in hours]
    rows += [np.full(size, NAN)] * (len(SOURCES) - len(rows))
    return Came(MIDNIGHT, dict(zip(SOURCES, rows, strict=True)))


def day_of(found):
    return found.days(ZONE, FREEZE_C, THAW_C).get(DAY)


COLD_AND_WARM = [-5.0] * 12 + [6.0] * 12


@pytest.mark.parametrize(
    ("known", "source"), [(24, MEASURED), (20, MEASURED), (19, ARCHIVED), (0, ARCHIVED)]
)
def test_a_day_needs_twenty_hours_of_one_source(known, source):
    measured = COLD_AND_WARM[:known] + [NAN] * (24 - known)
    assert day_of(came(measured, [1.0] * 24))[0] == source


def test_a_day_that_no_source_knows_enough_of_is_left_out():
    half, other = [1.0] * 12 + [NAN] * 12, [NAN] * 12 + [1.0] * 12
    assert day_of(came(half, other, [NAN] * 24)) is None


def test_twenty_hours_can_say_yes_and_not_no():
    yes = day_of(came(COLD_AND_WARM[:10] + [NAN] * 4 + COLD_AND_WARM[14:]))
    unknown = day_of(came([1.0] * 20 + [NAN] * 4))
    assert (yes[1].verdict, unknown[1].verdict) == ("yes", "unknown")


def test_words_count_each_hour_for_the_source_it_is_taken_from():
    found = came([1.0, NAN, NAN, NAN], [2.0, 2.0, NAN, NAN], [3.0, 3.0, 3.0, NAN])
    assert found.words == f"1 h {MEASURED}, 1 h {ARCHIVED}, 1 h {SAID_LATER}"


maybe = st.lists(st.one_of(st.just(NAN), st.floats(-40, 40)), min_size=6, max_size=6)


@given(maybe, maybe, maybe)
def test_each_hour_is_the_first_known_one(measured, archived, said):
    joined = came(measured, archived, said).temps_c
    for place, hour in enumerate(joined):
        known = [one[place] for one in (measured, archived, said) if one[place] == one[place]]
        assert (hour == known[0]) if known else np.isnan(hour)
