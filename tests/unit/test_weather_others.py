"""The NWS, MET Norway, the archive and the tables of runs: right data, or a named refusal.

Sources: weather-gov/api documentation (2024), metno/weatherapi-docs (2023) and the Open-Meteo
server source (2026), as the clients' own docstrings say; the numbers are our own.
"""

from copy import deepcopy
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from apps.demo.weather_story import temperature_c
from apps.weather.client import checks, met_norway, nws, runs, single
from apps.weather.client.archive import Archive
from apps.weather.client.believable import RefusedError
from apps.weather.client.records import HourlySeries, SiteMemory, SitePoint
from tests.factories import weather as made
from tests.factories.weather import NOW, QUICK, points
from tests.standin import StandIn, ensemble

POINT = SitePoint(7, 43.9, -75.3, 430.0)


@pytest.fixture
def standin():
    with StandIn(now=NOW) as running:
        yield running


def span(start, hours, value):
    moment = (NOW + timedelta(hours=start)).isoformat()
    return {"validTime": f"{moment}/{hours}", "value": value}


def grid(*values, **changes):
    properties = {
        "updateTime": "2026-03-16T10:12:00+00:00",
        "elevation": {"unitCode": "wmoUnit:m", "value": 420.0},
        "temperature": {"uom": "wmoUnit:degC", "values": list(values)},
        "windSpeed": {"uom": "wmoUnit:km_h-1", "values": [span(-3, "P3D", 12.0)]},
    }
    return {"type": "Feature", "properties": properties | changes}


DAY = span(0, "P1DT6H", 1.5)


def test_a_span_stands_for_every_hour_of_it_and_null_for_missing_ones():
    reply = grid(span(-3, "PT2H", -5.0), span(-1, "PT1H", None), DAY, span(30, "PT1H", 3.0))
    series = nws.read(reply, POINT, NOW)
    assert series.start_at == NOW - timedelta(hours=3)
    expected = [-5.0, -5.0, np.nan] + [1.5] * 30 + [3.0]
    assert np.array_equal(series.temps_c, [expected], equal_nan=True)
    assert (series.elevation_used_m, series.issued_at) == (420.0, NOW - timedelta(minutes=48))


def test_hours_between_spans_are_missing():
    series = nws.read(grid(DAY, span(33, "PT1H", 2.0)), POINT, NOW)
    assert np.isnan(series.temps_c[0, 30:33]).all()
    assert series.temps_c.shape == (1, 34)


def test_times_with_an_offset_are_the_same_hours():
    # 06:00 at -05:00 is 11:00 UTC.
    entry = {"validTime": "2026-03-16T06:00:00-05:00/P2D", "value": 0.0}
    assert nws.read(grid(entry), POINT, NOW).start_at == NOW


@pytest.mark.parametrize(
    ("reply", "kind"),
    [
        (None, "wrong_shape"),
        ({"properties": []}, "wrong_shape"),
        (grid(temperature=None), "wrong_shape"),
        (grid(), "wrong_shape"),
        (grid("warm"), "wrong_shape"),
        (grid(temperature={"uom": "wmoUnit:degF", "values": [DAY]}), "wrong_unit"),
        (grid(DAY, span(29, "PT1H", 1.0)), "wrong_times"),
        (grid(span(0.5, "P2D", 1.0)), "wrong_times"),
        (grid(span(0, "PT90M", 1.0)), "wrong_times"),
        (grid(span(0, "P999D", 1.0)), "wrong_times"),
        (grid(span(0, "P", 1.0)), "wrong_times"),
        (grid({"validTime": "2026-03-16T11:00:00/P2D", "value": 1.0}), "wrong_times"),
        (grid({"validTime": None, "value": 1.0}), "wrong_times"),
        (grid(span(0, "P2D", "cold")), "wrong_value"),
        (grid(span(0, "P2D", True)), "wrong_value"),
        (grid(span(0, "P2D", 61.0)), "implausible"),
        (grid(span(0, "P2D", None)), "all_missing"),
        (grid(span(0, "PT23H", 1.0)), "too_short"),
        (grid(DAY, elevation={"unitCode": "wmoUnit:m", "value": 9001}), "implausible"),
    ],
)
def test_a_grid_that_cannot_be_believed_is_refused_by_name(reply, kind):
    with pytest.raises(RefusedError) as caught:
        nws.read(reply, POINT, NOW)
    assert caught.value.kind == kind


@pytest.mark.parametrize("elevation", [None, {}, {"unitCode": "wmoUnit:ft", "value": 1400}])
def test_a_height_that_is_not_in_metres_is_unknown(elevation):
    series = nws.read(grid(DAY, elevation=elevation), POINT, NOW)
    assert series.elevation_used_m is None
    assert [finding.kind for finding in series.findings] == ["height_unknown"]


def test_the_nws_gives_the_hours_of_the_cell_of_each_place(standin):
    outcome = made.fetch(made.nws(standin.url), points(2))
    assert (outcome.failure, sorted(outcome.series)) == (None, [7, 8])
    # The stand-in's cells: forty to the degree, from 125 W and 24 N.
    x, y = map(int, outcome.grids[7].removeprefix("BTV/").split(","))
    series = outcome.series[7]
    stamps = int(series.start_at.timestamp()) + 3600 * np.arange(series.temps_c.size)
    there = temperature_c(24 + y / 40, x / 40 - 125, series.elevation_used_m, stamps)
    assert series.temps_c[0] == pytest.approx(there, abs=0.051)


def test_a_cell_that_is_known_is_not_looked_up_for_thirty_days(standin):
    known = made.fetch(made.nws(standin.url), points(1)).grids[7]
    for days, lookups in ((0, 0), (29, 0), (30, 1)):
        standin.seen.clear()
        memory = SiteMemory(grid=known, grid_found_at=NOW - timedelta(days=days))
        made.fetch(made.nws(standin.url), points(1), memories={7: memory})
        assert sum(seen.path.startswith("/points/") for seen in standin.seen) == lookups


def test_places_are_asked_for_without_trailing_zeros(standin):
    made.fetch(made.nws(standin.url), [replace(POINT, latitude=44.0, longitude=-75.25)])
    assert standin.seen[0].path == "/points/44,-75.25"


def test_the_headers_name_a_contact_and_the_form_wanted(standin):
    made.fetch(made.nws(standin.url), points(1))
    headers = standin.seen[0].headers
    assert headers["User-Agent"] == f"Thawline ({made.CONTACT})"
    assert headers["Accept"] == "application/geo+json"


@pytest.mark.parametrize("provider", [made.nws, made.met_norway])
def test_without_a_contact_nobody_is_asked(standin, provider):
    outcome = made.fetch(provider(standin.url, contact=""), points(1))
    assert (outcome.failure.kind, standin.seen) == ("no_contact", [])
    assert "THAWLINE_CONTACT" in outcome.failure.detail


def test_a_place_abroad_is_one_sites_refusal(standin):
    abroad = replace(POINT, site_id=1, latitude=60.2, longitude=24.9)
    outcome = made.fetch(made.nws(standin.url), [abroad, POINT])
    assert (list(outcome.series), outcome.refused[1].kind) == ([7], "outside")


def test_a_cell_is_an_office_and_two_numbers_or_nothing(standin, monkeypatch):
    standin.office = "../v1"
    assert made.fetch(made.nws(standin.url), points(1)).refused[7].kind == "wrong_shape"


def step(hour, celsius):
    time = (NOW + timedelta(hours=hour)).strftime("%Y-%m-%dT%H:%M:%SZ")
    return {"time": time, "data": {"instant": {"details": {"air_temperature": celsius}}}}


def compact(*steps, **changes):
    reply = {
        "geometry": {"type": "Point", "coordinates": [-75.3, 43.9, 412]},
        "properties": {
            "meta": {"updated_at": "2026-03-16T10:31:10Z", "units": {"air_temperature": "celsius"}},
            "timeseries": list(steps),
        },
    }
    return deepcopy(reply) | changes


HOURLY = [step(hour, float(hour)) for hour in range(4)]


CALL = (POINT, NOW)


def test_the_hours_between_steps_are_missing():
    steps = [*HOURLY, *(step(9 + 6 * count, 9.0) for count in range(5))]
    series = met_norway.read(compact(*steps), *CALL)
    known = np.flatnonzero(~np.isnan(series.temps_c[0]))
    assert known.tolist() == [0, 1, 2, 3, 9, 15, 21, 27, 33]
    assert (series.coarse_from, series.coarse_step_hours) == (3, 6)
    assert (series.elevation_used_m, series.grid_latitude) == (412.0, 43.9)
    assert series.issued_at == datetime(2026, 3, 16, 10, 31, 10, tzinfo=UTC)


def test_hours_alone_have_no_coarse_part():
    series = met_norway.read(compact(*(step(hour, 1.0) for hour in range(30))), *CALL)
    assert (series.coarse_from, series.coarse_step_hours) == (None, None)


def units(unit):
    return {"meta": {"units": {"air_temperature": unit}}, "timeseries": HOURLY}


@pytest.mark.parametrize(
    ("reply", "kind"),
    [
        ([], "wrong_shape"),
        ({"properties": {}}, "wrong_shape"),
        (compact(properties=units("fahrenheit")), "wrong_unit"),
        (compact(properties={"meta": {}, "timeseries": HOURLY}), "wrong_unit"),
        (compact(), "wrong_shape"),
        (compact(7), "wrong_times"),
        (compact({"time": "2026-03-16T11:30:00Z"}), "wrong_times"),
        (compact({"time": "2026-03-16T11:00:00"}), "wrong_times"),
        (compact({"time": "2026-03-16T11:00:00Z", "data": {}}), "wrong_shape"),
        (compact(step(1, 1.0), step(0, 1.0)), "wrong_times"),
        (compact(step(0, 1.0), step(0, 1.0)), "wrong_times"),
        (compact(step(0, 1.0), step(13, 1.0)), "wrong_times"),
        (compact(*HOURLY, step(4, "mild")), "wrong_value"),
        (compact(*HOURLY, step(4, -70.0)), "implausible"),
        (compact(*HOURLY), "too_short"),
        (compact(step(0, None)), "all_missing"),
    ],
)
def test_a_compact_forecast_that_cannot_be_believed_is_refused_by_name(reply, kind):
    with pytest.raises(RefusedError) as caught:
        met_norway.read(reply, *CALL)
    assert caught.value.kind == kind


def test_a_forecast_of_another_place_is_refused():
    steps = [step(hour, 1.0) for hour in range(30)]
    elsewhere = {"coordinates": [-70.0, 43.9, 412]}
    with pytest.raises(RefusedError, match="another place"):
        met_norway.read(compact(*steps, geometry=elsewhere), *CALL)


def test_met_norway_is_asked_with_four_decimals_and_no_height(standin):
    outcome = made.fetch(made.met_norway(standin.url), points(1))
    assert standin.seen[0].query == {"lat": "43.9000", "lon": "-75.3000"}
    series = outcome.series[7]
    assert series.expires_at == NOW + timedelta(hours=1, minutes=20)
    assert series.last_modified == "Mon, 16 Mar 2026 10:20:00 GMT"


def test_what_is_not_modified_is_unchanged_and_says_when_to_ask_again(standin):
    memory = SiteMemory(last_modified="Mon, 16 Mar 2026 10:20:00 GMT", expires_at=NOW)
    outcome = made.fetch(made.met_norway(standin.url), points(1), memories={7: memory})
    assert outcome.unchanged == {7: NOW + timedelta(hours=1, minutes=20)}
    assert (outcome.series, outcome.refused) == ({}, {})


@pytest.mark.parametrize(
    ("said", "believed"),
    [
        ("2026-03-16T10:00:00Z", NOW - timedelta(hours=1)),
        ("2026-03-16T11:09:00Z", NOW),
        ("2026-03-16T11:11:00Z", None),
        ("2026-03-16T10:00:00", None),
        ("yesterday", None),
        (7, None),
        (None, None),
    ],
)
def test_a_time_of_issue_is_believed_when_it_can_be(said, believed):
    moment, remarks = single.issued_at(said, NOW, 7)
    assert moment == believed
    assert [finding.kind for finding in remarks] == ([] if believed else ["issue_unknown"])


def table(**changes):
    moment = {
        "last_run_initialisation_time": int((NOW - timedelta(hours=5)).timestamp()),
        "last_run_availability_time": int((NOW - timedelta(minutes=30)).timestamp()),
        "update_interval_seconds": 21_600,
    }
    return moment | changes


def stamp(**ago):
    return int((NOW - timedelta(**ago)).timestamp())


@pytest.mark.parametrize(
    ("said", "hours_ago"),
    [
        (table(), 5),
        # For ten minutes the run may not have reached every server: the one before is taken.
        (table(last_run_availability_time=stamp(minutes=9)), 11),
        (table(last_run_availability_time=stamp(minutes=10)), 5),
        (table(update_interval_seconds=None), 5),
        (table(last_run_initialisation_time=stamp(hours=-1)), None),
        (table(last_run_initialisation_time="now"), None),
        (table(last_run_initialisation_time=2**40), None),
        ({}, None),
        ([], None),
    ],
)
def test_the_newest_run_is_read_where_it_can_be(said, hours_ago):
    newest = runs._read(said, NOW)
    expected = None if hours_ago is None else NOW - timedelta(hours=hours_ago)
    assert (newest.run_time if newest else None) == expected


def test_members_come_with_the_run_they_are_of(standin):
    outcome = made.fetch(made.ensemble(standin.url), points(1))
    series = outcome.series[7]
    assert series.temps_c.shape == (31, 19 * 24)
    assert outcome.provenance.run_time == ensemble.newest_run("ncep_gefs_seamless", NOW)
    assert outcome.provenance.may_join_runs
    assert standin.seen[0].path == "/data/ncep_gefs025/static/meta.json"


def test_a_run_that_should_have_come_long_ago_is_remarked_on(standin):
    standin.now = NOW - timedelta(hours=14)
    outcome = made.fetch(made.ensemble(standin.url), points(1))
    assert [finding.kind for finding in outcome.series[7].findings] == ["run_overdue"]


@pytest.mark.parametrize("fault", ["page_200", "error_500", "empty", "cut_short"])
def test_a_table_of_runs_that_cannot_be_read_stops_nothing(standin, fault):
    standin.fail(fault, path="/data/")
    outcome = made.fetch(made.ensemble(standin.url), points(1))
    assert (outcome.provenance.run_time, len(outcome.series)) == (None, 1)


def test_a_model_nobody_knows_is_asked_about_once_and_not_site_by_site(standin):
    outcome = made.fetch(made.ensemble(standin.url, "no_such_model"), points(3))
    assert outcome.failure.kind == "bad_question"
    assert [seen.path for seen in standin.seen].count("/v1/ensemble") == 1


def test_an_alias_of_the_model_is_the_model():
    start = int(NOW.timestamp())
    names = [f"temperature_2m_member{number:02d}_ncep_gefs025" for number in range(1, 4)]
    part = {
        "elevation": 430.0,
        "hourly_units": {"time": "unixtime"} | dict.fromkeys(names, "°C"),
        "hourly": {"time": [start + 3600 * hour for hour in range(48)]}
        | {name: [float(place)] * 48 for place, name in enumerate(names)},
    }
    assert isinstance(checks.read_site(part, POINT, NOW, model="gfs025"), HourlySeries)
    assert checks.read_site(part, POINT, NOW, model="icon").kind == "other_model"


def archive(standin, first, last):
    service = Archive(standin.url, pace=QUICK)
    return service.fetch(points(2), first, last, "era5_seamless", now=NOW)


def test_the_archive_gives_whole_past_days_by_the_model_named(standin):
    outcome = archive(standin, date(2024, 1, 1), date(2024, 5, 31))
    query = standin.seen[0].query
    assert (query["models"], query["start_date"]) == ("era5_seamless", "2024-01-01")
    assert outcome.series[7].temps_c.shape == (1, 152 * 24)
    assert outcome.provenance.product == "archive"


def test_the_archives_tail_of_nulls_is_missing(standin):
    outcome = archive(standin, date(2026, 3, 1), date(2026, 3, 15))
    known = ~np.isnan(outcome.series[7].temps_c[0])
    # Five days before 16 March, 11:00.
    assert known[: 10 * 24 + 11].all()
    assert not known[10 * 24 + 11 :].any()


def test_an_archive_of_nulls_alone_is_refused(standin):
    outcome = archive(standin, date(2026, 3, 13), date(2026, 3, 15))
    assert {finding.kind for finding in outcome.refused.values()} == {"all_missing"}


@pytest.mark.parametrize("fault", ["limit_hour", "bad_gateway", "cut_short"])
def test_a_failing_archive_says_so_and_raises_nothing(standin, fault):
    standin.fail(fault)
    outcome = archive(standin, date(2024, 1, 1), date(2024, 1, 31))
    assert outcome.failure is not None
    assert outcome.series == {}


def test_the_truth_lies_among_the_stand_ins_members_as_one_of_them_would():
    stamps = int(NOW.timestamp()) + 3600 * np.arange(240)
    ranks, model = [], "ncep_gefs_seamless"
    for day in range(120):
        run = NOW - timedelta(days=day)
        members = ensemble.errors_c(model, run, stamps - 86_400 * day)
        ranks.append((members[:, 120] < 0).mean())
    # Uniform ranks: mean a half, variance a twelfth; both within three standard errors.
    assert abs(np.mean(ranks) - 0.5) < 3 * (1 / 12 / 120) ** 0.5
    assert np.var(ranks) == pytest.approx(1 / 12, abs=3 * 0.0745 / 120**0.5)
