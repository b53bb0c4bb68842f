"""The provider the settings describe."""

from django.conf import settings

from apps.weather.client.open_meteo import OpenMeteo
from apps.weather.client.records import Provider


def open_meteo() -> Provider:
    return OpenMeteo(
        base_url=settings.WEATHER_BASE_URL,
        model=settings.WEATHER_MODEL,
        api_key=settings.WEATHER_API_KEY,
        contact=settings.WEATHER_CONTACT,
    )
