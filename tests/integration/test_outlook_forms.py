"""Saving the crew plan and the snow, from the start-date page."""

from datetime import date

import pytest
from django.urls import reverse

from apps.tapping.models import CrewPlan, SnowDepth
from tests.factories import outlook as paper
from tests.factories.outlook import INCH_M

pytestmark = pytest.mark.django_db
URL = reverse("outlook:start_date")
CREW_PLAN = reverse("outlook:crew_plan")
SNOW = reverse("outlook:snow")


@pytest.fixture
def january(owner_client, settings):
    paper.stand_at(settings, paper.late_january)
    return owner_client


@pytest.fixture
def lots(db):
    return paper.lots()


@pytest.fixture
def ten_seasons(db):
    paper.ten_seasons()


def text(response):
    return " ".join(response.content.decode().split())


def answer(response):
    return response.context["page"].answer


PLAN = {
    "pairs": "3",
    "hours_per_day": "5.5",
    "lost_days": "1",
    "rest_day": "none",
    "accept_missing": "0",
    "ready_morning": "",
}


def test_the_owner_saves_the_crew_plan_and_it_is_used(january, lots, ten_seasons):
    january.post(CREW_PLAN, PLAN)
    response = january.get(URL)
    # Ready on 18 Feb; 34 / 16.5 = 2.06, so 3 days and one lost: Sat 14, Sun 15, Mon 16, Tue 17.
    assert answer(response).back.start_date == date(2026, 2, 14)
    assert "As saved for this season." in text(response)


def test_saving_the_crew_plan_twice_keeps_one_row(january):
    for pairs in ("3", "4"):
        january.post(CREW_PLAN, PLAN | {"pairs": pairs})
    assert CrewPlan.objects.get().pairs == 4


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("pairs", "0"),
        ("pairs", "21"),
        ("hours_per_day", "0.4"),
        ("hours_per_day", "17"),
        ("lost_days", "-1"),
        ("lost_days", "31"),
        ("rest_day", "monday"),
        ("accept_missing", "10"),
        ("ready_morning", "2027-02-01"),
        ("ready_morning", "later"),
    ],
)
def test_a_crew_plan_that_cannot_be_is_refused_and_kept(january, field, typed):
    response = january.post(CREW_PLAN, PLAN | {field: typed})
    assert response.context["crew_form"].errors[field]
    assert 'value="5.5"' in text(response) or field == "hours_per_day"
    assert not CrewPlan.objects.exists()


def test_the_crew_reads_the_plan_and_does_not_change_it(crew_client, lots):
    assert "An owner changes these." in text(crew_client.get(URL))
    assert crew_client.post(CREW_PLAN, PLAN).status_code == 403
    assert not CrewPlan.objects.exists()


def test_snow_is_recorded_where_it_was_typed_and_nowhere_else(crew_client, lots):
    crew_client.post(SNOW, {"seen_on": "2026-03-15", f"snow_{lots[0].pk}": "24"})
    row = SnowDepth.objects.get(seen_on=date(2026, 3, 15))
    assert (row.woodlot, row.season) == (lots[0], 2026)
    assert row.depth_m == pytest.approx(24 * INCH_M)


def test_snow_typed_again_for_the_same_day_is_a_correction(crew_client, lots):
    for inches in ("24", "12"):
        crew_client.post(SNOW, {"seen_on": "2026-03-15", f"snow_{lots[0].pk}": inches})
    assert SnowDepth.objects.get(seen_on=date(2026, 3, 15)).depth_m == pytest.approx(0.3048)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"seen_on": "2026-03-17"}, "seen_on"),
        ({"seen_on": ""}, "seen_on"),
        ({"depth": "-1"}, "depth"),
        ({"depth": "200"}, "depth"),
        ({"depth": "deep"}, "depth"),
        ({"depth": ""}, "__all__"),
    ],
)
def test_snow_that_cannot_be_is_refused_and_kept(crew_client, lots, changes, field):
    typed = {"seen_on": "2026-03-15", "depth": "24"} | changes
    name = f"snow_{lots[0].pk}"
    response = crew_client.post(SNOW, {"seen_on": typed["seen_on"], name: typed["depth"]})
    assert response.context["snow_form"].errors[name if field == "depth" else field]
    assert typed["depth"] == "" or f'value="{typed["depth"]}"' in text(response)
    assert SnowDepth.objects.count() == 3
