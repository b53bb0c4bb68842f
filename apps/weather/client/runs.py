"""Which run of a model an Open-Meteo host has newest, by its table of runs.

Units: unix seconds in, aware UTC out.
Validity: approximate. The reply with the hours does not name its run; servers are redundant, so
for ten minutes after a run has come the run before it is taken. A table that cannot be read
leaves the run unknown and stops nothing.
Source: Open-Meteo server source, ModelMetaJson.swift, and its page on model updates (2026): a
run is late once its availability plus two intervals and twenty minutes have passed.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import requests

from apps.weather.client import believable
from apps.weather.client.records import ProviderFailure
from apps.weather.client.transport import Over

# The seamless name joins two grids; the finer one's table is the one that moves first.
TABLE_OF = {
    "ncep_gefs_seamless": "ncep_gefs025",
    "gem_global_ensemble": "cmc_gem_geps",
    "icon_global_eps": "dwd_icon_global_eps",
}
SPREAD_TO_ALL_SERVERS = timedelta(minutes=10)
LATE = timedelta(minutes=20)
LONGEST_INTERVAL_S = 7 * 86_400


@dataclass(frozen=True)
class NewestRun:
    """The newest run, and the moment since when the next one is overdue."""

    run_time: datetime
    overdue_since: datetime | None


def newest(over: Over, base_url: str, model: str, now: datetime) -> NewestRun | None:
    """None when the service does not say, or says what cannot be."""
    table = TABLE_OF.get(model, model)
    try:
        reply = over.get(f"{base_url.rstrip('/')}/data/{table}/static/meta.json")
        if reply.status != requests.codes.ok:
            return None
        return _read(believable.parse(reply.body), now)
    except ProviderFailure:
        # The hours themselves are asked for next, and say better what is wrong.
        return None


def _read(table: object, now: datetime) -> NewestRun | None:
    if not isinstance(table, dict):
        return None
    names = ("initialisation_time", "availability_time")
    run, available = (_moment(table.get(f"last_run_{name}")) for name in names)
    if run is None or available is None or run > now:
        return None
    step = table.get("update_interval_seconds")
    if type(step) is not int or not 0 < step <= LONGEST_INTERVAL_S:
        return NewestRun(run, None)
    interval = timedelta(seconds=step)
    if now < available + SPREAD_TO_ALL_SERVERS:
        run -= interval
    return NewestRun(run, available + 2 * interval + LATE)


def _moment(stamp: object) -> datetime | None:
    if type(stamp) is not int or not 0 < stamp < 2**33:
        return None
    return datetime.fromtimestamp(stamp, UTC)
