"""The providers the settings describe, in the order in which they are asked.

Units: none; addresses and names of models are settings.
Validity: a name of a source that nobody knows raises UnknownSourceError.
Source: the usual order is our own: chances first, then one forecast after the other.
"""

from collections.abc import Sequence
from datetime import date, datetime

from django.conf import settings

from apps.weather.client.archive import Archive
from apps.weather.client.met_norway import MetNorway
from apps.weather.client.nws import Nws
from apps.weather.client.open_meteo import OpenMeteo
from apps.weather.client.records import FetchOutcome, Provider, SitePoint, Source


class UnknownSourceError(ValueError):
    """The setting names a source of weather that is not built in."""


def sources() -> tuple[Source, ...]:
    """By THAWLINE_WEATHER_SOURCES."""
    makers = {
        "open-meteo-ensemble": _ensembles,
        "open-meteo": _forecast,
        "nws": _nws,
        "met-norway": _met_norway,
    }
    if unknown := [key for key in settings.WEATHER_SOURCES if key not in makers]:
        words = f"THAWLINE_WEATHER_SOURCES names {unknown[0]!r}; known are {', '.join(makers)}."
        raise UnknownSourceError(words)
    return tuple(
        Source(key, members=key == "open-meteo-ensemble", providers=makers[key]())
        for key in settings.WEATHER_SOURCES
    )


def fetch_archive(
    points: Sequence[SitePoint], first_day: date, last_day: date, model: str, *, now: datetime
) -> FetchOutcome:
    """Past days of every point by one pinned model; never raises for what the service does."""
    archive = Archive(
        base_url=settings.WEATHER_ARCHIVE_URL,
        api_key=settings.WEATHER_API_KEY,
        contact=settings.WEATHER_CONTACT,
    )
    return archive.fetch(points, first_day, last_day, model, now=now)


def _ensembles() -> tuple[Provider, ...]:
    return tuple(
        OpenMeteo(
            base_url=settings.WEATHER_ENSEMBLE_URL,
            product="ensemble",
            model=model,
            api_key=settings.WEATHER_API_KEY,
            contact=settings.WEATHER_CONTACT,
        )
        for model in settings.WEATHER_ENSEMBLE_MODELS
    )


def _forecast() -> tuple[Provider, ...]:
    one = OpenMeteo(
        base_url=settings.WEATHER_BASE_URL,
        model=settings.WEATHER_MODEL,
        api_key=settings.WEATHER_API_KEY,
        contact=settings.WEATHER_CONTACT,
    )
    return (one,)


def _nws() -> tuple[Provider, ...]:
    return (Nws(base_url=settings.WEATHER_NWS_URL, contact=settings.WEATHER_CONTACT),)


def _met_norway() -> tuple[Provider, ...]:
    return (MetNorway(base_url=settings.WEATHER_MET_URL, contact=settings.WEATHER_CONTACT),)
