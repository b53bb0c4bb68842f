"""Which runs are kept and when a reply is the run we have: turns of the rule, and a pandas count.

Thinning is reckoned again by pandas over runs at random moments, by calendar day and ISO 8601 week.
"""

from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest

from apps.weather import keeping
from apps.weather.models import ForecastRun, HourlySeries
from apps.weather.queries.chances import DayChance
from apps.weather.queries.outlook import Cell
from tests.factories import weather as made
from tests.factories.woods import woodlot

NOW = made.NOW
HOUR = timedelta(hours=1)
NAN = float("nan")


def at_random(seed, count, years=1.2):
    rng = np.random.default_rng(seed)
    minutes = rng.choice(int(years * 365 * 24 * 60), count, replace=False)
    return [NOW - timedelta(minutes=int(one)) for one in sorted(minutes)]


def kept_by_pandas(moments):
    runs = pd.DataFrame({"at": pd.to_datetime(moments, utc=True)}).sort_values("at")
    age = pd.Timestamp(NOW) - runs["at"]
    iso = runs["at"].dt.isocalendar()
    week = iso.year.astype(str) + "-W" + iso.week.astype(str)
    group = runs["at"].dt.date.astype(str).where(age <= pd.Timedelta(days=33), week)
    # Everything of the last three days is a group of its own.
    group = group.where(age > pd.Timedelta(days=3), runs["at"].astype(str))
    return set(runs.groupby(group)["at"].first())


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(3))
def test_thinning_agrees_with_pandas_over_a_turn_of_the_year(seed):
    moments = at_random(seed, 120)
    for moment in moments:
        made.run(fetched_at=moment)
    keeping.thin(NOW)
    left = ForecastRun.objects.values_list("fetched_at", flat=True)
    assert {pd.Timestamp(one) for one in left} == kept_by_pandas(moments)


@pytest.mark.django_db
def test_each_model_is_thinned_by_itself():
    old = NOW - timedelta(days=20)
    for model in ("one", "two"):
        made.run(fetched_at=old, model=model)
        made.run(fetched_at=old + HOUR, model=model)
    keeping.thin(NOW)
    rows = ForecastRun.objects.values_list("model", "fetched_at")
    assert sorted(rows) == [("one", old), ("two", old)]


@pytest.mark.django_db
def test_the_week_of_new_year_is_one_week():
    # 30 December 2024 to 5 January 2025 is week 1 of 2025 (ISO 8601).
    for day in (30, 31, 32, 36):
        made.run(fetched_at=datetime(2024, 12, 1, 12, tzinfo=UTC) + timedelta(days=day - 1))
    keeping.thin(NOW)
    left = sorted(ForecastRun.objects.values_list("fetched_at", flat=True))
    assert [one.date().isoformat() for one in left] == ["2024-12-30"]


def ensemble(hours=72, members=3, first=0.0):
    return (first + np.arange(members * hours, dtype=float)).reshape(members, hours) / 10


def again(lot, before, after, *, start_at=NOW):
    """Store one reply and then another; how many runs there are, and when the first still stood."""
    points = [made.SitePoint(lot.pk, lot.latitude, lot.longitude, lot.elevation_m)]

    def reply(values, begins):
        return made.outcome({lot.pk: made.series(lot.pk, values, start_at=begins)})

    keeping.store(outcome=reply(before, NOW), points=points, held={}, now=NOW)
    (held,) = HourlySeries.objects.all()
    outcome, later = reply(after, start_at), NOW + 6 * HOUR
    keeping.store(outcome=outcome, points=points, held={lot.pk: held}, now=later)
    held.refresh_from_db()
    return ForecastRun.objects.count(), held.checked_at == later


def changed(values, at=(1, 30), to=99.0):
    values = values.copy()
    values[at] = to
    return values


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("after", "start_at", "same"),
    [
        pytest.param(ensemble(), NOW, True, id="the very same"),
        pytest.param(ensemble()[:, 6:], NOW + 6 * HOUR, True, id="its first hours left out"),
        pytest.param(ensemble()[:, 6:54], NOW + 6 * HOUR, True, id="shorter at both ends"),
        pytest.param(changed(ensemble()), NOW, False, id="one hour of one member changed"),
        pytest.param(changed(ensemble(), to=NAN), NOW, False, id="an hour gone missing"),
        pytest.param(ensemble(members=2), NOW, False, id="a member fewer"),
        pytest.param(ensemble(), NOW - HOUR, False, id="begun an hour earlier"),
        pytest.param(ensemble()[:, 49:], NOW + 49 * HOUR, False, id="too few hours in common"),
    ],
)
def test_an_ensemble_is_the_run_we_have_only_where_every_common_hour_agrees(after, start_at, same):
    runs, still_stood = again(woodlot(), ensemble(), after, start_at=start_at)
    assert (runs, still_stood) == ((1, True) if same else (2, False))


@pytest.mark.django_db
def test_hours_missing_in_both_agree():
    values = changed(ensemble(), to=NAN)
    assert again(woodlot(), values, values.copy()) == (1, True)


@pytest.mark.django_db
def test_a_single_forecast_said_again_is_a_run_of_its_own():
    # Its run is told by the service: equal hours may be a new run of calm weather.
    one = np.zeros((1, 72))
    assert again(woodlot(), one, one.copy()) == (2, False)


def stated(probability):
    return DayChance(
        date=NOW.date(),
        probability=probability,
        yes=0,
        full=200,
        models=1,
        verdict="unknown",
        minimum_c=None,
        maximum_c=None,
        lowest_c=None,
        highest_c=None,
        lead_days=1,
        low_confidence=False,
    )


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (0.0, "0 %"),
        (0.004, "under 1 %"),
        (0.0099, "under 1 %"),
        (0.01, "1 %"),
        (0.5, "50 %"),
        (0.99, "99 %"),
        (0.995, "over 99 %"),
        (1.0, "100 %"),
        (None, ""),
    ],
)
def test_what_some_member_says_is_told_neither_as_none_nor_as_all(probability, words):
    assert Cell(NOW.date(), None, stated(probability)).percent == words


def test_a_day_nobody_judged_is_unknown_and_not_no():
    assert (Cell(NOW.date(), None, None).word, Cell(NOW.date(), None, None).percent) == (
        "unknown", "",
    )  # fmt: skip
