"""Wind in the store: packed beside the temperatures, unknown where it is, and never at their cost.

The failures are those of the wind alone; the temperatures of the same answers are good, and must
be stored as if nothing had happened.
"""

import numpy as np
import pytest
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor

from apps.weather import queries
from apps.weather.models import PACKED, ForecastRun, HourlySeries
from apps.weather.queries.series import newest_series
from tests.factories import failing
from tests.factories import weather as made
from tests.factories.failing import LATER, NOW
from tests.factories.woods import woodlot
from tests.standin import StandIn

pytestmark = pytest.mark.django_db


@pytest.fixture
def standin():
    with StandIn(now=NOW) as running:
        yield running


def remarks():
    newest = ForecastRun.objects.order_by("-fetched_at", "-pk")[0]
    return {note["kind"] for note in newest.findings}


def stored_series(lot):
    ((found,),) = newest_series([lot], NOW).values()
    return found


@pytest.mark.parametrize("kind", ["forecast", "ensemble", "nws", "met_norway"])
def test_every_service_leaves_its_wind_in_the_store(standin, kind):
    farm = getattr(failing, kind)(standin).begin()
    for row in made.newest(NOW):
        winds = row.winds_kmh()
        assert winds.shape == (row.hours,)
        # Of the NWS's hours the first has none, of MET Norway's those between its steps.
        assert np.isfinite(winds).sum() >= np.isfinite(row.temps_c()[0]).sum() - 1
        assert 5 < np.nanmean(winds) < 30
    assert len(made.newest(NOW)) == len(farm.lots)


def test_of_an_ensemble_one_wind_is_kept_beside_all_its_members(standin):
    failing.ensemble(standin, 1).begin()
    (row,) = made.newest(NOW)
    assert (row.members, len(row.packed_wind_kmh)) == (31, row.hours * PACKED.itemsize)


@pytest.mark.parametrize(
    ("kind", "fault"),
    [
        ("forecast", "wind_missing"),
        ("forecast", "wind_undefined"),
        ("forecast", "wind_in_metres"),
        ("forecast", "wind_implausible"),
        ("forecast", "wind_negative"),
        ("forecast", "wind_word"),
        ("forecast", "wind_short"),
        ("forecast", "wind_nought"),
        ("forecast", "no_wind_here"),
        ("ensemble", "wind_undefined"),
        ("nws", "grid_wind_in_metres"),
        ("nws", "grid_wind_overlap"),
        ("met_norway", "met_wind_word"),
    ],
)
def test_a_fault_of_the_wind_leaves_all_well_with_the_temperatures(standin, kind, fault):
    farm = getattr(failing, kind)(standin)
    standin.fail(fault)
    attempt = farm.ask(NOW)
    assert (attempt.outcome, farm.kinds(attempt)) == ("ok", set())
    assert "wind_unknown" in remarks()
    rows = made.newest(NOW)
    assert [row.packed_wind_kmh for row in rows] == [None, None]
    assert np.isnan(rows[0].winds_kmh()).all()
    assert farm.row(now=NOW).days


def test_with_a_faulty_wind_the_temperatures_are_those_without_byte_for_byte(standin):
    standin.fail("wind_implausible")
    faulty = failing.forecast(standin, 1)
    faulty.ask(NOW)
    (before,) = faulty.held().values()
    HourlySeries.objects.all().delete()
    standin.recover()
    faulty.ask(NOW)
    (after,) = faulty.held().values()
    assert before[1] == after[1]


def test_missing_hours_of_wind_are_stored_as_missing_and_remarked_on(standin):
    farm = failing.forecast(standin, 1)
    standin.fail("wind_nulls")
    assert farm.ask(NOW).outcome == "ok"
    (row,) = made.newest(NOW)
    assert np.flatnonzero(np.isnan(row.winds_kmh())).tolist() == list(range(80, 92))
    assert remarks() == {"wind_missing"}


def test_the_remark_is_on_the_outlook(standin, owner_client, settings):
    settings.THAWLINE_CLOCK = "tests.factories.operation.fixed_now"
    farm = failing.forecast(standin, 1)
    standin.fail("wind_in_metres")
    farm.ask(NOW)
    page = owner_client.get("/weather/").content.decode()
    assert "Wind left out: wind_speed_10m came in &#x27;m/s&#x27;" in page


def test_a_row_without_wind_reads_as_unknown_wind_and_known_temperatures():
    row = made.stored(made.run(), woodlot(), [1.0] * 30)
    found = stored_series(row.woodlot)
    assert found.temps_c.tolist() == [1.0] * 30
    assert np.isnan(found.winds_kmh).all()


def test_a_row_with_wind_gives_it_back():
    row = made.windy(made.stored(made.run(), woodlot(), [1.0, 2.0, 3.0]), [0.0, np.nan, 12.5])
    found = stored_series(row.woodlot).winds_kmh
    assert np.array_equal(found, [0.0, np.nan, 12.5], equal_nan=True)


@pytest.mark.parametrize("winds", [bytes(7), bytes(4), bytes(12), b""])
def test_wind_is_one_value_for_each_hour_or_none_at_all(winds):
    run, lot = made.run(), woodlot()
    with (
        pytest.raises(IntegrityError, match="hourly_series_wind_packed_whole"),
        transaction.atomic(),
    ):
        made.stored(run, lot, [[1.0, 2.0], [3.0, 4.0]], packed_wind_kmh=winds)


@pytest.mark.parametrize("nonsense", [1e30, -5.0, np.inf])
def test_wind_spoilt_in_the_store_is_unknown_and_takes_no_page_down(standin, nonsense):
    farm = failing.forecast(standin, 1).begin()
    (row,) = made.newest(LATER)
    made.windy(row, [nonsense] + [9.0] * (row.hours - 1))
    found = queries.latest_series(farm.lots, LATER, failing.NEW_YORK)[farm.lots[0].pk].winds_kmh
    assert np.isnan(found[0])
    assert (found[1:] == 9.0).all()


BEFORE, AFTER = [("weather", "0006_series_index")], [("weather", "0007_wind")]


def migrate(target):
    MigrationExecutor(connection).migrate(target)
    return MigrationExecutor(connection).loader.project_state(target).apps


@pytest.fixture
def the_past(transactional_db):
    yield migrate(BEFORE)
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def test_hours_from_before_wind_was_kept_stay_as_they_were(the_past):
    place = {"latitude": 43.9, "longitude": -75.3, "elevation_m": 400}
    lot = the_past.get_model("woods", "Woodlot").objects.create(name="North", **place)
    told = {"provider": "p", "product": "f", "model": "m", "attribution": "a"}
    run = the_past.get_model("weather", "ForecastRun").objects.create(
        fetched_at=NOW, payload_sha256="a" * 64, **told
    )
    packed = np.array([1.0, 2.0], dtype=PACKED).tobytes()
    the_past.get_model("weather", "HourlySeries").objects.create(
        run=run, woodlot=lot, start_at=NOW, hours=2, packed=packed
    )
    migrate(AFTER)
    row = HourlySeries.objects.get()
    assert row.temps_c().tolist() == [[1.0, 2.0]]
    assert np.isnan(row.winds_kmh()).all()
