"""What the weather services said: accepted runs, their hours per woodlot, and every attempt."""

from datetime import datetime

import numpy as np
import numpy.typing as npt
from django.db import models
from django.db.models import F, OuterRef, Q, Subquery
from django.db.models.functions import Length
from django.db.models.lookups import Exact

from apps.weather.packing import PACKED
from apps.weather.recorded import (
    ArchiveWinter,
    HistoryFetch,
    RecordedYear,
    SetAside,
    Thermometer,
    ThermometerReading,
)

__all__ = [
    "PACKED",
    "ArchiveWinter",
    "ForecastRun",
    "HistoryFetch",
    "HourlySeries",
    "RecordedYear",
    "RefreshAttempt",
    "SetAside",
    "Thermometer",
    "ThermometerReading",
]

LONGEST_HOURS = 24 * 400


class ForecastRun(models.Model):
    """One refresh that brought at least one good series: who forecast it, and when we got it."""

    provider = models.CharField(max_length=40)
    product = models.CharField(max_length=40)
    model = models.CharField(max_length=60)
    fetched_at = models.DateTimeField(db_index=True)
    attribution = models.CharField(max_length=200)
    licence_url = models.URLField(blank=True)
    payload_sha256 = models.CharField(max_length=64)
    # [{"kind", "detail", "woodlot": id}]: remarks on the series that were accepted.
    findings = models.JSONField(default=list, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(provider=""), name="forecast_run_has_a_provider"),
            models.CheckConstraint(condition=~Q(product=""), name="forecast_run_has_a_product"),
            models.CheckConstraint(condition=~Q(model=""), name="forecast_run_has_a_model"),
            models.CheckConstraint(
                condition=~Q(attribution=""), name="forecast_run_names_its_source"
            ),
            models.CheckConstraint(
                condition=Exact(Length("payload_sha256"), 64), name="forecast_run_sha256_whole"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.provider} {self.product} {self.fetched_at:%Y-%m-%d %H:%M}Z"


class HourlySeriesQuerySet(models.QuerySet["HourlySeries"]):
    def newest_per_woodlot(self, now: datetime) -> "HourlySeriesQuerySet":
        """The last good series of each woodlot, whichever run brought it.

        A run fetched after `now` is left out: a demo's clock can be put back.
        """
        newest = (
            HourlySeries.objects.filter(woodlot=OuterRef("woodlot"), run__fetched_at__lte=now)
            .order_by("-run__fetched_at", "-run_id")
            .values("pk")[:1]
        )
        return self.filter(pk=Subquery(newest))


class HourlySeries(models.Model):
    """One woodlot's hours in one run: UTC, one hour apart, every member in one packed row.

    Values are as the service gave them, for the height it used; nothing here is corrected.
    """

    run = models.ForeignKey(ForecastRun, on_delete=models.CASCADE, related_name="series")
    woodlot = models.ForeignKey(
        "woods.Woodlot", on_delete=models.CASCADE, related_name="hourly_series"
    )
    start_at = models.DateTimeField()
    hours = models.PositiveIntegerField()
    members = models.PositiveSmallIntegerField(default=1)
    packed = models.BinaryField()
    grid_latitude = models.FloatField(null=True)
    grid_longitude = models.FloatField(null=True)
    elevation_used_m = models.FloatField(null=True)

    objects = HourlySeriesQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["run", "woodlot"], name="hourly_series_once_per_run_and_woodlot"
            ),
            models.CheckConstraint(
                condition=Q(hours__gte=1, hours__lte=LONGEST_HOURS),
                name="hourly_series_hours_range",
            ),
            models.CheckConstraint(
                condition=Q(members__gte=1, members__lte=200), name="hourly_series_members_range"
            ),
            models.CheckConstraint(
                condition=Exact(Length("packed"), F("hours") * F("members") * PACKED.itemsize),
                name="hourly_series_packed_whole",
            ),
            models.CheckConstraint(
                condition=Q(grid_latitude__isnull=True)
                | Q(grid_latitude__gte=-90, grid_latitude__lte=90),
                name="hourly_series_latitude_range",
            ),
            models.CheckConstraint(
                condition=Q(grid_longitude__isnull=True)
                | Q(grid_longitude__gte=-180, grid_longitude__lte=180),
                name="hourly_series_longitude_range",
            ),
            models.CheckConstraint(
                condition=Q(elevation_used_m__isnull=True)
                | Q(elevation_used_m__gte=-500, elevation_used_m__lte=9000),
                name="hourly_series_elevation_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.hours} h from {self.start_at:%Y-%m-%d %H:%M}Z"

    def temps_c(self) -> npt.NDArray[np.float64]:
        """(members, hours), NaN where the service gave nothing."""
        flat = np.frombuffer(bytes(self.packed), dtype=PACKED)
        return flat.reshape(self.members, self.hours).astype(np.float64)


class RefreshAttempt(models.Model):
    """One time we asked for a forecast, and how it went; a running one holds the others off."""

    class Outcome(models.TextChoices):
        RUNNING = "running", "Running"
        OK = "ok", "All woodlots"
        PARTIAL = "partial", "Some woodlots"
        FAILED = "failed", "Failed"

    started_at = models.DateTimeField(db_index=True)
    provider = models.CharField(max_length=40)
    outcome = models.CharField(max_length=8, choices=Outcome.choices)
    detail = models.CharField(max_length=500, blank=True)
    # [{"kind", "detail", "woodlot": id or null}]: what was refused, null for the whole reply.
    findings = models.JSONField(default=list, blank=True)
    # Set when the service told us to wait.
    not_before = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(outcome__in=["running", "ok", "partial", "failed"]),
                name="refresh_attempt_outcome_known",
            ),
            # The lock between processes: a second running row is refused by the database.
            models.UniqueConstraint(
                fields=["outcome"],
                condition=Q(outcome="running"),
                name="refresh_attempt_one_at_a_time",
            ),
            models.CheckConstraint(
                condition=Q(outcome="running") | ~Q(detail=""),
                name="refresh_attempt_says_how_it_went",
            ),
            models.CheckConstraint(
                condition=Q(not_before__isnull=True) | Q(not_before__gt=F("started_at")),
                name="refresh_attempt_waits_forward",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_outcome_display()} {self.started_at:%Y-%m-%d %H:%M}Z"
