"""Wind beside the temperatures: the right wind, or an unknown one, and the temperatures as good.

Sources: Open-Meteo's documentation (2026) for wind_speed_unit and its names of units, the
weather-gov/api documentation (2024) for windSpeed in wmoUnit:km_h-1, the metno/weatherapi-docs
(2023) for wind_speed in m/s; all three at 10 m. The numbers are our own.
"""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.demo.weather_story import wind_kmh
from apps.weather.client import checks, met_norway, nws, wind
from apps.weather.client.archive import Archive
from apps.weather.client.believable import RefusedError
from tests.factories import weather as made
from tests.factories.weather import NOW, QUICK, points
from tests.standin import StandIn, contract
from tests.unit.test_weather_others import DAY, POINT, compact, grid, span

NAN = np.nan
OF_KIND = {"forecast": made.provider, "ensemble": made.ensemble}
OF_KIND |= {"nws": made.nws, "met": made.met_norway}


@pytest.fixture
def standin():
    with StandIn(now=NOW) as running:
        yield running


def series(standin, kind, fault=""):
    if fault:
        standin.fail(fault)
    outcome = made.fetch(OF_KIND[kind](standin.url), points(1))
    assert (outcome.failure, outcome.refused) == (None, {})
    return outcome.series[7]


def story(found, longitude):
    stamps = int(found.start_at.timestamp()) + 3600 * np.arange(found.temps_c.shape[1])
    return wind_kmh(longitude, stamps)


def told(found):
    return [(finding.kind, finding.detail) for finding in found.findings if "wind" in finding.kind]


def test_a_forecast_brings_the_wind_of_its_cell(standin):
    found = series(standin, "forecast")
    assert found.winds_kmh == pytest.approx(story(found, found.grid_longitude), abs=0.051)
    assert told(found) == []


def test_an_ensemble_brings_the_wind_of_its_control(standin):
    found = series(standin, "ensemble")
    query = standin.seen[-1].query | {"longitude": str(points(1)[0].longitude)}
    reply = contract.answer("/v1/ensemble", query, NOW)["hourly"]
    assert found.winds_kmh.tolist() == reply["wind_speed_10m"]
    assert reply["wind_speed_10m"] != reply["wind_speed_10m_member01"]


@pytest.mark.parametrize("kind", ["forecast", "ensemble"])
def test_the_unit_is_asked_for_and_not_left_to_a_default(standin, kind):
    series(standin, kind)
    query = standin.seen[-1].query
    assert query["hourly"] == "temperature_2m,wind_speed_10m"
    assert query["wind_speed_unit"] == "kmh"


def test_the_grid_brings_its_wind_from_where_its_own_spans_begin(standin):
    found = series(standin, "nws")
    x = int(standin.seen[-1].path.split("/")[-1].split(",")[0])
    there = story(found, x / 40 - 125)
    assert np.isnan(found.winds_kmh[0])
    assert found.winds_kmh[1:] == pytest.approx(there[1:], abs=0.51)
    assert told(found) == [("wind_missing", "Wind is missing in 1 of 179 hours.")]


def test_metres_a_second_are_made_kilometres_an_hour(standin):
    found = series(standin, "met")
    known = ~np.isnan(found.temps_c[0])
    assert np.isnan(found.winds_kmh[~known]).all()
    # To the 0.1 m/s that is sent, 0.36 km/h.
    there = story(found, points(1)[0].longitude)
    assert found.winds_kmh[known] == pytest.approx(there[known], abs=0.19)


@pytest.mark.parametrize(
    ("kind", "fault", "why"),
    [
        ("forecast", "wind_missing", "the list of wind_speed_10m is missing"),
        ("forecast", "wind_undefined", "wind_speed_10m came in 'undefined', not in 'km/h'"),
        ("forecast", "wind_in_metres", "wind_speed_10m came in 'm/s', not in 'km/h'"),
        ("forecast", "wind_implausible", "999 km/h is not believable"),
        ("forecast", "wind_negative", "-0.1 km/h is not believable"),
        ("forecast", "wind_word", "'breezy' is not a wind speed"),
        ("forecast", "wind_short", "456 hours came with 455 wind speeds"),
        ("forecast", "wind_nought", "456 hours without a breath are no forecast"),
        ("ensemble", "wind_undefined", "wind_speed_10m came in 'undefined', not in 'km/h'"),
        ("ensemble", "wind_implausible", "999 km/h is not believable"),
        ("nws", "grid_wind_missing", "windSpeed is missing"),
        ("nws", "grid_wind_in_metres", "windSpeed came in 'wmoUnit:m_s-1'"),
        ("nws", "grid_wind_empty", "The wind speeds are missing"),
        ("nws", "grid_wind_overlap", "overlap or are out of order"),
        ("nws", "grid_wind_word", "'breezy' is not a wind speed"),
        ("nws", "grid_wind_implausible", "201 km/h is not believable"),
        ("met", "met_wind_missing", "every hour of it is missing"),
        ("met", "met_wind_in_kmh", "wind_speed came in 'km/h', not in 'm/s'"),
        ("met", "met_wind_word", "'breezy' is not a wind speed"),
        ("met", "met_wind_implausible", "201.6 km/h is not believable"),
    ],
)
def test_a_wind_that_cannot_be_believed_is_unknown_and_costs_no_temperature(
    standin, kind, fault, why
):
    good = series(standin, kind)
    found = series(standin, kind, fault)
    assert found.winds_kmh is None
    ((name, words),) = told(found)
    assert (name, words[:15]) == ("wind_unknown", "Wind left out: ")
    assert why in words
    assert np.array_equal(found.temps_c, good.temps_c, equal_nan=True)


def test_missing_hours_of_wind_stay_unknown_and_are_counted(standin):
    found = series(standin, "forecast", "wind_nulls")
    assert np.flatnonzero(np.isnan(found.winds_kmh)).tolist() == list(range(80, 92))
    assert told(found) == [("wind_missing", "Wind is missing in 12 of 456 hours.")]


def test_nought_past_the_end_of_the_temperature_is_no_calm(standin):
    found = series(standin, "forecast", "wind_nought_past_the_end")
    assert np.isnan(found.winds_kmh[-24:]).all()
    assert not np.isnan(found.winds_kmh[:-24]).any()
    # They are missing hours, of which the temperature tells; the wind is not counted beside it.
    assert [finding.kind for finding in found.findings] == ["missing_hours"]


@pytest.mark.parametrize("kind", ["forecast", "ensemble"])
def test_a_host_that_knows_no_wind_is_asked_for_temperatures_alone(standin, kind):
    found = series(standin, kind, "no_wind_here")
    asked = [seen.query["hourly"] for seen in standin.seen if "hourly" in seen.query]
    assert asked == ["temperature_2m,wind_speed_10m", "temperature_2m"]
    assert (found.winds_kmh, [name for name, _ in told(found)]) == (None, ["wind_unknown"])


def test_any_other_refusal_is_not_asked_again(standin):
    standin.fail("refuse_400")
    made.fetch(made.provider(standin.url), points(1))
    assert len(standin.seen) == 1


def test_a_suffixed_model_brings_the_wind_of_its_suffix(standin):
    good = series(standin, "ensemble")
    found = series(standin, "ensemble", "suffix_own")
    assert np.array_equal(found.winds_kmh, good.winds_kmh)


def test_past_winters_are_asked_for_without_wind(standin):
    archive = Archive(standin.url, pace=QUICK)
    day = date(2026, 1, 28)
    outcome = archive.fetch(points(1), day, day, "era5_seamless", now=NOW)
    assert standin.seen[-1].query["hourly"] == "temperature_2m"
    assert "wind_speed_unit" not in standin.seen[-1].query
    assert (outcome.series[7].winds_kmh, told(outcome.series[7])) == (None, [])


def winds(*values):
    return {"windSpeed": {"uom": "wmoUnit:km_h-1", "values": list(values)}}


@pytest.mark.parametrize(
    ("spans", "expected"),
    [
        # The thirty hours of temperature begin now.
        ([span(0, "P1DT6H", 12.5)], [12.5] * 30),
        ([span(-5, "PT7H", 9.0), span(2, "P3D", 20.0)], [9.0] * 2 + [20.0] * 28),
        ([span(3, "PT2H", 9.0)], [NAN] * 3 + [9.0] * 2 + [NAN] * 25),
        ([span(0, "PT1H", None), span(1, "P2D", 0.5)], [NAN] + [0.5] * 29),
        ([span(-9, "PT2H", 9.0)], None),
        ([span(40, "PT2H", 9.0)], None),
        ([span(0, "P2D", None)], None),
    ],
)
def test_spans_of_wind_are_laid_on_the_hours_of_the_temperature(spans, expected):
    found = nws.read(grid(DAY, **winds(*spans)), POINT, NOW).winds_kmh
    if expected is None:
        assert found is None
    else:
        assert np.array_equal(found, expected, equal_nan=True)


def gust(hour, celsius, **values):
    time = (NOW + timedelta(hours=hour)).strftime("%Y-%m-%dT%H:%M:%SZ")
    details = {"air_temperature": celsius} | values
    return {"time": time, "data": {"instant": {"details": details}}}


def test_ten_metres_a_second_are_thirty_six_kilometres_an_hour():
    # By hand: 10 m/s is 36,000 m in an hour.
    steps = [gust(hour, 1.0, wind_speed=10.0) for hour in range(29)] + [gust(29, 1.0)]
    reply = compact(*steps)
    reply["properties"]["meta"]["units"]["wind_speed"] = "m/s"
    found = met_norway.read(reply, POINT, NOW)
    assert np.array_equal(found.winds_kmh, [36.0] * 29 + [NAN], equal_nan=True)


def beside(temps_c, winds_kmh):
    temps = np.atleast_2d(np.array(temps_c, dtype=np.float64))
    return wind.beside(temps, lambda: np.array(winds_kmh, dtype=np.float64), 7)


@pytest.mark.parametrize("edge", [0.0, wind.FASTEST_KMH])
def test_the_ends_of_the_believable_range_are_believed(edge):
    found, remarks = beside([1.0, 2.0], [edge, 5.0])
    assert (found.tolist(), remarks) == ([edge, 5.0], ())


@pytest.mark.parametrize(("hours", "known"), [(23, True), (24, False)])
def test_a_whole_day_of_nought_is_no_wind_and_less_may_be_a_calm(hours, known):
    found, _ = beside([1.0] * hours, [0.0] * hours)
    assert (found is not None) is known


def test_an_implausible_wind_of_an_hour_without_temperature_was_never_wind():
    found, remarks = beside([1.0, NAN], [5.0, 999.0])
    assert np.array_equal(found, [5.0, NAN], equal_nan=True)
    assert remarks == ()


def test_a_refusal_from_the_reader_goes_no_further():
    def read():
        raise RefusedError("wrong_unit", "furlongs a fortnight.")

    found, (remark,) = wind.beside(np.zeros((1, 3)), read, 7)
    assert (found, remark.site_id) == (None, 7)
    assert remark.detail == "Wind left out: furlongs a fortnight."


JUNK = st.one_of(st.none(), st.booleans(), st.text(max_size=5), st.integers(), st.floats())


@given(values=st.lists(JUNK, max_size=40), unit=st.sampled_from(["km/h", "m/s", None]))
def test_no_wind_whatsoever_refuses_good_temperatures(values, unit):
    stamps = [int(NOW.timestamp()) + 3600 * hour for hour in range(30)]
    hourly = {"time": stamps, "temperature_2m": [1.0] * 30, "wind_speed_10m": values}
    units = {"time": "unixtime", "temperature_2m": "°C", "wind_speed_10m": unit}
    part = {"hourly": hourly, "hourly_units": units, "elevation": 430.0}
    found = checks.read_site(part, POINT, NOW, nominal=1)
    assert found.temps_c.tolist() == [[1.0] * 30]
    if found.winds_kmh is not None:
        known = found.winds_kmh[~np.isnan(found.winds_kmh)]
        assert ((known >= 0) & (known <= wind.FASTEST_KMH)).all()


@pytest.mark.parametrize(
    ("word", "unit", "of_one_kmh"),
    [("kmh", "km/h", 1), ("ms", "m/s", 1 / 3.6), ("mph", "mp/h", 0.621371)],
)
def test_the_stand_in_answers_in_the_unit_it_is_asked_for(word, unit, of_one_kmh):
    query = {"latitude": "43.9", "longitude": "-75.3", "timeformat": "unixtime"}
    query |= {"hourly": "wind_speed_10m", "wind_speed_unit": word}
    reply = contract.answer("/v1/forecast", query, NOW)
    assert reply["hourly_units"]["wind_speed_10m"] == unit
    truth = wind_kmh(reply["longitude"], np.array(reply["hourly"]["time"]))
    assert reply["hourly"]["wind_speed_10m"] == pytest.approx(truth * of_one_kmh, abs=0.06)
