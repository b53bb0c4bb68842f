"""Where a line is: the median of the newest accurate positions of its standing checks."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.domain.line_path import length_m
from apps.leaks import actions
from apps.leaks.models import Position
from apps.leaks.queries import line_positions
from apps.leaks.queries.positions import halfway
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


def test_each_line_is_placed_by_its_own_checks_in_two_questions(line):
    others = [leaks.a_line(f"M{n}") for n in range(20)]
    for nth, each in enumerate([line, *others]):
        fix(each, 43.0 + nth / 100)
    with CaptureQueriesContext(connection) as asked:
        placed = line_positions()
    assert len(asked) == 2
    assert placed[line.pk] == (43.0, -75.3)
    assert placed[others[-1].pk] == (43.2, -75.3)


# (longitude, latitude) as the map keeps them; along a meridian a degree is as long everywhere.
UP, OVER = (-75.3, 43.90), (-75.3, 43.92)


@pytest.mark.parametrize(
    ("path", "middle"),
    [
        ([UP, OVER], (43.91, -75.3)),
        ([UP, (-75.3, 43.915), OVER], (43.91, -75.3)),
        ([UP, UP, OVER, OVER], (43.91, -75.3)),
        # There and back again: the middle is the far end.
        ([UP, OVER, UP], (43.92, -75.3)),
        ([(*UP, 310.0), (*OVER, 350.0)], (43.91, -75.3)),
    ],
)
def test_halfway_is_half_of_the_length_whatever_the_points(path, middle):
    assert halfway(path) == pytest.approx(middle)


def test_halfway_is_as_far_from_either_end_along_the_path():
    path = [(-75.300, 43.900), (-75.301, 43.902), (-75.305, 43.903), (-75.306, 43.9031)]
    latitude, longitude = halfway(path)
    # It lies on the second stretch; cutting there leaves two halves of one length.
    middle = (longitude, latitude)
    halves = [*path[:2], middle], [middle, *path[2:]]
    assert length_m(halves[0]) == pytest.approx(length_m(halves[1]), rel=1e-4)
    assert sum(map(length_m, halves)) == pytest.approx(length_m(path), rel=1e-6)


def test_a_line_on_the_map_is_where_the_map_has_it(line):
    fix(line, 40.0)
    other = leaks.a_line("L8")
    fix(other, 41.0)
    line.geometry = [list(UP), list(OVER)]
    line.save()
    assert line_positions() == {line.pk: pytest.approx((43.91, -75.3)), other.pk: (41.0, -75.3)}
