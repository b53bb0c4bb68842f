"""Where a line runs: what the database holds, what the action refuses, what comes back."""

import pytest
from django.db import IntegrityError
from django.db.models import JSONField, Value

from apps.woods import actions
from apps.woods.models import Line
from tests.factories import woods

pytestmark = pytest.mark.django_db
PATH = [[-75.3, 43.9], [-75.301, 43.901], [-75.302, 43.9]]


@pytest.fixture
def lot(db):
    return woods.woodlot("North")


def save(lot, line=None, **fields):
    given = {"label": "M1", "kind": "main"} | fields
    return actions.save_line(woodlot=lot, season=2026, planned_taps=None, line=line, **given)


@pytest.mark.parametrize(
    "wrong",
    [
        [],
        [[-75.3, 43.9]],
        {"1": [-75.3, 43.9]},
        "0123",
        7,
        Value(None, JSONField()),
        PATH[:1] * 2001,
    ],
)
def test_the_database_keeps_no_geometry_that_is_no_path(lot, wrong):
    with pytest.raises(IntegrityError):
        Line.objects.create(woodlot=lot, label="M1", kind="main", geometry=wrong)


@pytest.mark.parametrize("points", [PATH, PATH[:1] * 2000, None])
def test_the_database_keeps_a_path_or_none(lot, points):
    Line.objects.create(woodlot=lot, label="M1", kind="main", geometry=points)
    assert Line.objects.get().geometry == points


@pytest.mark.parametrize("height", [(), (401.25,)])
def test_a_path_comes_back_as_it_was_kept(lot, height):
    points = [[*point, *height] for point in PATH]
    save(lot, geometry=points)
    assert Line.objects.get().geometry == points


@pytest.mark.parametrize(
    ("wrong", "reason"),
    [
        (PATH[:1], "2 to 2,000 points, not 1"),
        ([PATH[0], [-75.3, 91]], "latitude of point 2"),
        ([PATH[0], [float("nan"), 43.9]], "longitude of point 2"),
        ([[43.9, -75.3], [43.901, -75.3]], "point 1 is .* km from the woodlot; longitude comes"),
        ([PATH[0], [-74.5, 43.9]], "point 2 is 64 km from the woodlot"),
    ],
)
def test_a_path_that_cannot_be_is_refused_at_its_field(lot, wrong, reason):
    with pytest.raises(actions.WrongGeometry, match=reason) as refusal:
        save(lot, geometry=wrong)
    assert refusal.value.field == "geometry"
    assert not Line.objects.exists()


def test_a_path_is_forgotten_when_none_is_given_and_stays_when_not_named(lot):
    line = save(lot, geometry=PATH)
    save(lot, line, length_m=30.0)
    assert Line.objects.get().geometry == PATH
    save(lot, line, geometry=None)
    assert Line.objects.get().geometry is None
    assert Line.objects.filter(geometry__isnull=True).exists()


def test_a_path_within_reach_of_the_woodlot_is_kept(lot):
    assert save(lot, geometry=[PATH[0], [-74.7, 43.9]]).pk
