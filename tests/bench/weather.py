"""The weather from bytes to rows, and its page with and without a network.

A refresh of sixty woodlots by three ensembles goes through the real providers, with the wire
alone replaced: it checks every value, compares with the runs that are held and stores one packed
row for each site and model. Its bare limit is json.loads of the same bytes.
"""

import json
import os
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from unittest.mock import patch

from tests.bench.measure import Row, compare

SITES = 60
MODELS = ("ncep_gefs_seamless", "ecmwf_ifs025_ensemble", "cmc_gem_geps")
NOW = datetime(2026, 3, 16, 11, tzinfo=UTC)
DEAD = "http://127.0.0.1:9"


def rows() -> Iterator[Row]:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "apps.config.settings")
    import django

    django.setup()
    from django.test.utils import (
        setup_databases,
        setup_test_environment,
        teardown_databases,
        teardown_test_environment,
    )

    setup_test_environment()
    made = setup_databases(verbosity=0, interactive=False)
    try:
        _woodlots()
        yield _refresh()
        yield _page()
    finally:
        teardown_databases(made, verbosity=0)
        teardown_test_environment()


def _woodlots() -> None:
    from tests.factories.weather import points
    from tests.factories.woods import woodlot

    for place, point in enumerate(points(SITES)):
        woodlot(f"Lot {place:02d}", latitude=point.latitude, longitude=point.longitude)


def _bodies(moment: datetime) -> dict[str, bytes]:
    """Each model's answer to one question about all sites."""
    from tests.factories.weather import points
    from tests.standin import contract

    query = {
        "latitude": ",".join(f"{point.latitude:.4f}" for point in points(SITES)),
        "longitude": ",".join(f"{point.longitude:.4f}" for point in points(SITES)),
        "hourly": "temperature_2m,wind_speed_10m",
        "wind_speed_unit": "kmh",
        "timeformat": "unixtime",
        "start_date": (moment.date() - timedelta(days=3)).isoformat(),
        "end_date": (moment.date() + timedelta(days=15)).isoformat(),
    }
    return {
        model: json.dumps(
            contract.answer("/v1/ensemble", query | {"models": model}, moment)
        ).encode()
        for model in MODELS
    }


def _handing(bodies: dict[str, bytes]) -> Callable[..., object]:
    """In the place of Over.get: the hours at once, and no table of runs."""
    from apps.weather.client.transport import Reply

    def get(over, url, params=None, headers=None):  # type: ignore[no-untyped-def]
        return Reply(200, {}, bodies[params["models"]]) if params else Reply(404, {}, b"")

    return get


def _refresh() -> Row:
    from apps.weather import actions
    from apps.weather.client.open_meteo import OpenMeteo
    from apps.weather.client.records import Source
    from apps.weather.client.transport import Over

    providers = [OpenMeteo(DEAD, product="ensemble", model=model) for model in MODELS]
    source = Source("open-meteo-ensemble", True, tuple(providers))
    # Two runs by turns: values that differ are stored, and not found to be those that are held.
    runs = [_bodies(NOW), _bodies(NOW + timedelta(hours=6))]
    turn = 0

    def ours() -> object:
        nonlocal turn
        turn += 1
        # Before the moment at which the page is opened below.
        moment = NOW - timedelta(hours=1) + timedelta(seconds=turn)
        with patch.object(Over, "get", _handing(runs[turn % 2])):
            attempt = actions.refresh(now=moment, sources=[source])
        if attempt.outcome != "ok":
            raise RuntimeError(attempt.detail)
        return attempt

    def bare() -> object:
        return [json.loads(body) for body in runs[0].values()]

    size = sum(map(len, runs[0].values())) / 1e6
    name = f"refresh of {SITES} woodlots x {len(MODELS)} ensembles ({size:.0f} MB)"
    return compare(name, ours, "json.loads of the same bytes", bare, 3)


def _page() -> Row:
    """The outlook as a signed-in person gets it: a dead network must cost it nothing."""
    from django.test import Client, override_settings
    from django.urls import reverse

    from tests.factories import operation as people
    from tests.standin import StandIn

    people.operation()
    client = Client()
    client.force_login(people.owner())

    def opened(url: str) -> Callable[[], object]:
        names = ("BASE", "ENSEMBLE", "ARCHIVE", "NWS", "MET")
        settings = {f"WEATHER_{name}_URL": url for name in names}
        clock = "tests.factories.operation.fixed_now"

        def page() -> object:
            with override_settings(THAWLINE_CLOCK=clock, **settings):
                response = client.get(reverse("weather:outlook"))
            if b"members</span>" not in response.content:
                raise RuntimeError("The page shows no chances.")
            return response

        return page

    with StandIn(now=NOW) as alive:
        name = f"outlook of {SITES} woodlots, every service dead"
        return compare(name, opened(DEAD), "the same with all alive", opened(alive.url), 1.3)
