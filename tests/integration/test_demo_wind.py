"""In the demo's late January the wind decides a day of work, whichever service is asked."""

from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from django.db import transaction

from apps.demo.clock import STOPS
from apps.demo.generator.build import rebuild
from apps.demo.generator.farm import CHILL_LIMIT_C, own_figures
from apps.operation.actions import change_setting
from apps.operation.models import CrewMember
from apps.operation.queries import constants
from apps.outlook import forecast
from apps.weather import actions
from apps.weather.models import HourlySeries
from apps.woods.models import Woodlot
from tests.factories import weather as made
from tests.standin import StandIn

pytestmark = pytest.mark.django_db
ZONE = ZoneInfo("America/New_York")
NOW = STOPS["january"]
GALE = date(2026, 2, 2)
CHILL = "tapping.wind_chill_limit_c"


@pytest.fixture(scope="module")
def january(django_db_setup, django_db_blocker):
    """The demo in late January, as its generator leaves it."""
    with django_db_blocker.unblock(), transaction.atomic():
        rebuild(NOW)
        yield
        transaction.set_rollback(True)


def read():
    return forecast.read(
        list(Woodlot.objects.all()), hours_per_day=6, constants=constants(), zone=ZONE, now=NOW
    )


def refreshed(maker, key):
    with StandIn(now=NOW) as standin:
        source = made.source(maker(standin.url), key=key)
        assert actions.refresh(now=NOW, sources=[source], pace=made.QUICK).outcome == "ok"
    return read()


@pytest.mark.parametrize(("maker", "key"), [(made.provider, "open-meteo"), (made.nws, "nws")])
def test_the_gale_alone_rules_out_its_day_in_every_woodlot(january, maker, key):
    seen = refreshed(maker, key)
    (cold,) = seen.ruled_out
    # Well over the air limit; it is the wind chill that keeps the crew at home.
    assert cold.date == GALE
    assert cold.warmest_c > constants().number("tapping.cold_limit_c") + 5
    assert cold.mildest_c < cold.warmest_c - 5
    assert seen.wind_known


def test_under_the_usual_limit_the_same_gale_would_be_worked_in(january):
    owner = CrewMember.objects.get(username="ina")
    change_setting(key=CHILL, value=-23.3, now=NOW, by=owner)
    assert refreshed(made.provider, "open-meteo").ruled_out == ()


def test_the_forecasts_the_farm_has_kept_have_wind_in_every_hour(january):
    rows = list(HourlySeries.objects.all())
    winds = np.concatenate([row.winds_kmh() for row in rows])
    assert np.isfinite(winds).all()
    assert 0 <= winds.min() < 5
    assert 40 < winds.max() < 100
    assert GALE in [day.date for day in read().ruled_out]


def test_a_limit_somebody_has_set_at_the_demo_stays_theirs(january):
    assert constants().number(CHILL) == CHILL_LIMIT_C
    owner = CrewMember.objects.get(username="ina")
    change_setting(key=CHILL, value=-20.0, now=NOW, by=owner)
    own_figures(NOW)
    assert constants().number(CHILL) == -20.0
