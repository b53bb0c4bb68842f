"""What several rows have in common: where on the line, where on the ground, how much vacuum."""

from typing import NamedTuple

from django.db import models
from django.db.models import Q

# A dial gauge ends near 100 kPa; a faulty one may show more and is still written down.
VACUUM_HIGH_KPA = 120.0
MOST_DROPS = 5000
# A phone that has no better idea names its whole town; beyond this it has none at all.
ACCURACY_HIGH_M = 100_000.0


class Position(NamedTuple):
    """Where a phone says it is, in degrees, and how far off it may be, in metres."""

    latitude: float
    longitude: float
    accuracy_m: float


class Positioned(models.Model):
    """Three columns that say where the phone was, or none of them."""

    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    # Kept beside the place: under wet hemlocks it may well be a hundred metres.
    position_accuracy_m = models.FloatField(null=True, blank=True)

    class Meta:
        abstract = True

    @property
    def position(self) -> Position | None:
        if self.latitude is None or self.longitude is None or self.position_accuracy_m is None:
            return None
        return Position(self.latitude, self.longitude, self.position_accuracy_m)

    @property
    def geo_uri(self) -> str:
        """The place as any map on the phone takes it; RFC 5870 (2010), section 3.3."""
        lat, lon, accuracy_m = self.position or Position(0.0, 0.0, 0.0)
        return f"geo:{lat:.6f},{lon:.6f};u={accuracy_m:.0f}" if self.position else ""


def position_columns(position: Position | None) -> dict[str, float | None]:
    """A position as the columns of a `Positioned` row."""
    lat, lon, accuracy_m = position or (None, None, None)
    return {"latitude": lat, "longitude": lon, "position_accuracy_m": accuracy_m}


def position_constraints(row: str) -> list[models.CheckConstraint]:
    columns = ("latitude", "longitude", "position_accuracy_m")
    none = Q(**{f"{name}__isnull": True for name in columns})
    whole = Q(**{f"{name}__isnull": False for name in columns})
    return [
        # Half a position would be drawn somewhere on the equator.
        models.CheckConstraint(condition=whole | none, name=f"{row}_position_whole_or_none"),
        _range("latitude", -90, 90, f"{row}_latitude_range"),
        _range("longitude", -180, 180, f"{row}_longitude_range"),
        _range("position_accuracy_m", 0, ACCURACY_HIGH_M, f"{row}_accuracy_range"),
    ]


def vacuum_range(field: str, name: str) -> models.CheckConstraint:
    return _range(field, 0, VACUUM_HIGH_KPA, name)


def place_believable(row: str) -> models.CheckConstraint:
    return _range("place_drops", 0, MOST_DROPS, f"{row}_place_believable")


def _range(field: str, low: float, high: float, name: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=Q(**{f"{field}__isnull": True})
        | Q(**{f"{field}__gte": low, f"{field}__lte": high}),
        name=name,
    )
