"""What the demo keeps of forecasts gives its pages something true to show."""

from zoneinfo import ZoneInfo

import pytest
from django.db import transaction

from apps.demo.clock import STOPS
from apps.demo.generator.build import rebuild
from apps.demo.generator.forecast_work import MEMBERS, MORNINGS
from apps.operation.queries import constants
from apps.outlook.scoring_queries import scores
from apps.weather.models import ForecastRun, HourlySeries
from apps.woods.models import Woodlot

pytestmark = pytest.mark.django_db
ZONE = ZoneInfo("America/New_York")
NOW = STOPS["march"]


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker):
    """The demo in mid-March, without a refresh: only what the generator keeps."""
    with django_db_blocker.unblock(), transaction.atomic():
        rebuild(NOW)
        yield
        transaction.set_rollback(True)


@pytest.fixture
def found(demo):
    return scores([Woodlot.objects.get(name="Tamarack Hollow")], [2026], constants(), ZONE, NOW)


def test_a_forecast_is_kept_of_every_morning(demo):
    assert ForecastRun.objects.count() == MORNINGS
    rows = HourlySeries.objects.values_list("members", flat=True)
    assert set(rows) == {MEMBERS}
    assert len(rows) == MORNINGS * Woodlot.objects.count()


def test_its_forecasts_miss_by_more_the_further_ahead(found):
    misses = [row.high.absolute_c for row in found.leads if row.high.absolute_c is not None]
    assert len(misses) >= 7
    assert misses[6] > misses[2] > misses[0] > 0


def test_its_own_thermometer_judges_before_the_later_word(found):
    days = {row.source: row.days for row in found.judged}
    assert days["measured in the woods"] >= 10
    assert days["said later"] >= 10


def test_there_are_chances_enough_for_the_picture(found):
    assert found.tenths is not None


def test_price_and_cost_are_its_own(demo):
    in_use = constants()
    # 38 dollars a gallon of 3.785411784 L.
    assert in_use.own("season.syrup_price") == pytest.approx(38 / 3.785411784)
    assert in_use.own("season.day_cost") == 420
