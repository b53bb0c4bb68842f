"""The forecasts the invented farm would have kept: the story, missed by more the further ahead.

The hours gone by are the story itself. Those to come are off by a smooth error common to the run,
and each member by one of its own of the same size, so that the truth is drawn like a member. The
wind is off by a share of itself that grows in the same way.
"""

from datetime import datetime, timedelta
from hashlib import sha256

import numpy as np
from django.conf import settings

from apps.demo.weather_story import HOME_ELEVATION_M, temperature_c, wind_kmh
from apps.weather.models import ForecastRun, HourlySeries
from apps.weather.packing import Hours, pack
from apps.woods.models import Woodlot

MORNINGS, FETCHED_HOUR_UTC = 30, 10
HOURS, MEMBERS = 24 * 11, 12
# The size of the error: this much at once, and this much more for each day ahead.
AT_ONCE_C, A_DAY_C, TOO_WARM_C = 0.6, 0.35, 0.4
WIND_SHARE_A_DAY = 0.03
MODEL_RAN_BEFORE = timedelta(hours=6)


def keep_forecasts(seed: int, until: datetime) -> None:
    """One run each morning before `until`, under the name of the first ensemble asked for."""
    rng = np.random.default_rng(seed)
    lots = list(Woodlot.objects.order_by("pk"))
    morning = until.replace(hour=FETCHED_HOUR_UTC, minute=0, second=0, microsecond=0)
    for days in range(MORNINGS, 0, -1):
        _keep(rng, morning - timedelta(days=days), lots)


def _keep(rng: np.random.Generator, fetched_at: datetime, lots: list[Woodlot]) -> None:
    start_at = fetched_at.replace(hour=0) - timedelta(days=1)
    gone_by = (fetched_at - start_at) // timedelta(hours=1)
    errors = _errors(rng, gone_by)
    shares = _wind_shares(fetched_at, gone_by)
    rows = [_series(lot, start_at, errors, shares) for lot in lots]
    run = ForecastRun.objects.create(
        provider="open-meteo",
        product="ensemble",
        model=settings.WEATHER_ENSEMBLE_MODELS[0],
        fetched_at=fetched_at,
        attribution="Demo weather, invented by this program",
        payload_sha256=sha256(b"".join(bytes(row.packed) for row in rows)).hexdigest(),
        run_time=fetched_at - MODEL_RAN_BEFORE,
        native_step_hours=3,
    )
    for row in rows:
        row.run = run
    HourlySeries.objects.bulk_create(rows)


def _errors(rng: np.random.Generator, gone_by: int) -> Hours:
    """(members, hours): nought up to the fetch, then growing day by day."""
    ahead = np.arange(HOURS) - gone_by
    size = np.where(ahead < 0, 0.0, AT_ONCE_C + A_DAY_C * ahead / 24)
    common = _smooth(rng, 1) + TOO_WARM_C
    errors: Hours = (common + _smooth(rng, MEMBERS)) * size
    return errors


def _wind_shares(fetched_at: datetime, gone_by: int) -> Hours:
    """(hours,): what the wind is multiplied by, one up to the fetch."""
    # Noise of its own: that of the temperatures stays what the kept scores were made with.
    rng = np.random.default_rng(int(fetched_at.timestamp()))
    ahead = np.maximum(0, np.arange(HOURS) - gone_by)
    shares: Hours = np.maximum(0.0, 1 + WIND_SHARE_A_DAY * ahead / 24 * _smooth(rng, 1)[0])
    return shares


def _smooth(rng: np.random.Generator, rows: int) -> Hours:
    """Noise of about one degree with a knot a day, straight lines between."""
    knots = rng.normal(0, 1, (rows, HOURS // 24 + 2))
    hours = np.arange(HOURS) / 24
    return np.array([np.interp(hours, np.arange(knots.shape[1]), row) for row in knots])


def _series(
    woodlot: Woodlot, start_at: datetime, errors: Hours, wind_shares: Hours
) -> HourlySeries:
    seconds = int(start_at.timestamp()) + 3600 * np.arange(HOURS)
    story = temperature_c(woodlot.latitude, woodlot.longitude, HOME_ELEVATION_M, seconds)
    return HourlySeries(
        woodlot=woodlot,
        start_at=start_at,
        hours=HOURS,
        members=MEMBERS,
        packed=pack(np.round(story + errors, 1)),
        packed_wind_kmh=pack(np.round(wind_kmh(woodlot.longitude, seconds) * wind_shares, 1)),
        elevation_used_m=HOME_ELEVATION_M,
    )
