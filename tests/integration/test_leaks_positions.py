"""Where a line is: the median of the newest accurate positions of its standing checks."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.leaks import actions
from apps.leaks.models import Position
from apps.leaks.queries import line_positions
from tests.factories import leaks
from tests.factories import operation as people

pytestmark = pytest.mark.django_db


@pytest.fixture
def line(db):
    return leaks.a_line("L7")


def fix(line, latitude, longitude=-75.3, accuracy_m=8.0, *, hours=1.0):
    return leaks.check(line, hours=hours, position=Position(latitude, longitude, accuracy_m))


def test_a_line_no_phone_has_placed_is_absent(line):
    leaks.check(line)
    assert line_positions() == {}


@pytest.mark.parametrize(
    ("latitudes", "middle"),
    [
        ([43.90], 43.90),
        ([43.90, 43.92], 43.91),
        ([43.90, 43.91, 43.99], 43.91),  # one fix far off: a mean would say 43.933
        ([43.90, 43.91, 43.92, 43.93, 43.94], 43.92),
    ],
)
def test_it_is_the_middle_of_what_phones_said(line, latitudes, middle):
    for hours, latitude in enumerate(latitudes, start=1):
        fix(line, latitude, hours=hours)
    (place,) = line_positions().values()
    assert place == (pytest.approx(middle), -75.3)


def test_latitude_and_longitude_each_have_their_own_middle(line):
    for hours, (lat, lon) in enumerate([(43.1, -75.9), (43.2, -75.1), (43.3, -75.5)]):
        fix(line, lat, lon, hours=hours)
    assert line_positions() == {line.pk: (43.2, -75.5)}


def test_only_the_newest_five_count_by_when_they_were_seen(line):
    # Recorded oldest last: the order of arrival says nothing.
    for hours in range(1, 8):
        fix(line, 40.0 + hours, hours=hours)
    assert line_positions()[line.pk][0] == 43.0


@pytest.mark.parametrize(("accuracy_m", "placed"), [(49.9, True), (50.0, False), (3000.0, False)])
def test_a_position_as_rough_as_the_next_line_is_far_places_nothing(line, accuracy_m, placed):
    fix(line, 43.9, accuracy_m=accuracy_m)
    assert bool(line_positions()) is placed


def test_a_rough_position_pushes_no_accurate_one_out(line):
    fix(line, 43.9, hours=30)
    for hours in range(1, 9):
        fix(line, 10.0, accuracy_m=400.0, hours=hours)
    assert line_positions()[line.pk][0] == 43.9


def test_a_check_taken_back_places_nothing(line):
    check = fix(line, 43.9)
    actions.void_check(check=check, by=check.crew, at=people.FIXED_NOW)
    assert line_positions() == {}


def test_each_line_is_placed_by_its_own_checks_in_one_question(line):
    others = [leaks.a_line(f"M{n}") for n in range(20)]
    for nth, each in enumerate([line, *others]):
        fix(each, 43.0 + nth / 100)
    with CaptureQueriesContext(connection) as asked:
        placed = line_positions()
    assert len(asked) == 1
    assert placed[line.pk] == (43.0, -75.3)
    assert placed[others[-1].pk] == (43.2, -75.3)
