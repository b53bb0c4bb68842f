"""What the weather services said: accepted runs, their hours per woodlot, and every attempt."""

from collections.abc import Iterable
from datetime import datetime

import numpy as np
import numpy.typing as npt
from django.db import models
from django.db.models import F, Max, Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact

from apps.weather.packing import PACKED, unpack
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
    "GridCell",
    "HistoryFetch",
    "HourlySeries",
    "RecordedYear",
    "RefreshAttempt",
    "SetAside",
    "SourceAttempt",
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
    # The model's own start, where the service lets it be known.
    run_time = models.DateTimeField(null=True)
    run_time_is_exact = models.BooleanField(default=False)
    # Hours past the newest run's end may come from an older, longer one.
    may_join_runs = models.BooleanField(default=False)
    native_step_hours = models.PositiveSmallIntegerField(null=True)
    # [{"kind", "detail", "woodlot": id}]: remarks on the series that were accepted.
    findings = models.JSONField(default=list, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(run_time__isnull=True) | Q(run_time__lte=F("fetched_at")),
                name="forecast_run_began_before_it_was_fetched",
            ),
            models.CheckConstraint(
                condition=Q(run_time_is_exact=False) | Q(run_time__isnull=False),
                name="forecast_run_exact_time_is_known",
            ),
            models.CheckConstraint(
                condition=Q(native_step_hours__isnull=True)
                | Q(native_step_hours__gte=1, native_step_hours__lte=24),
                name="forecast_run_native_step_range",
            ),
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
    def newest_per_model(
        self, now: datetime, woodlots: Iterable[int] | None = None
    ) -> "HourlySeriesQuerySet":
        """The last good series of each woodlot (all, or those of these ids) and each model.

        A run fetched after `now` is left out: a demo's clock can be put back.
        """
        so_far = HourlySeries.objects.filter(run__fetched_at__lte=now)
        if woodlots is not None:
            so_far = so_far.filter(woodlot__in=list(woodlots))
        key = ("woodlot", "run__provider", "run__product", "run__model")
        # Indexes answer both questions, so that the packed hours of old runs are never read.
        latest = so_far.values_list(*key).annotate(at=Max("run__fetched_at"))
        moments = {tuple(row[:4]): row[4] for row in latest}
        rows = so_far.filter(run__fetched_at__in=set(moments.values())).order_by("pk")
        newest = {
            tuple(row[:4]): row[5]
            for row in rows.values_list(*key, "run__fetched_at", "pk")
            if moments[tuple(row[:4])] == row[4]
        }
        return self.filter(pk__in=newest.values())


class HourlySeries(models.Model):
    """One woodlot's hours in one run: UTC, one hour apart, every member in one packed row.

    The wind is that of the first member alone, by whose hours days of work are judged. Values are
    as the service gave them, for the height it used; nothing here is corrected.
    """

    run = models.ForeignKey(ForecastRun, on_delete=models.CASCADE, related_name="series")
    woodlot = models.ForeignKey(
        "woods.Woodlot", on_delete=models.CASCADE, related_name="hourly_series"
    )
    start_at = models.DateTimeField()
    hours = models.PositiveIntegerField()
    members = models.PositiveSmallIntegerField(default=1)
    packed = models.BinaryField()
    # Null where the service gave no wind to believe, and in every row from before it was asked for.
    packed_wind_kmh = models.BinaryField(null=True)
    grid_latitude = models.FloatField(null=True)
    grid_longitude = models.FloatField(null=True)
    elevation_used_m = models.FloatField(null=True)
    # When the service says it made these hours, and when it last said that they still stand.
    issued_at = models.DateTimeField(null=True)
    checked_at = models.DateTimeField(null=True)
    # What to ask the next time with, for services that keep such things.
    last_modified = models.CharField(max_length=60, blank=True)
    expires_at = models.DateTimeField(null=True)
    # From this hour on there is one value every so many hours, and the others are missing.
    coarse_from = models.PositiveIntegerField(null=True)
    coarse_step_hours = models.PositiveSmallIntegerField(null=True)

    objects = HourlySeriesQuerySet.as_manager()

    class Meta:
        # Which series are the newest is then told from the index, without a page of packed hours.
        indexes = [models.Index(fields=["woodlot", "run"], name="hourly_series_by_woodlot")]
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
                condition=Q(packed_wind_kmh__isnull=True)
                | Q(Exact(Length("packed_wind_kmh"), F("hours") * PACKED.itemsize)),
                name="hourly_series_wind_packed_whole",
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
            models.CheckConstraint(
                condition=Q(coarse_from__isnull=True, coarse_step_hours__isnull=True)
                | Q(
                    coarse_from__isnull=False,
                    coarse_step_hours__isnull=False,
                    coarse_from__lt=F("hours"),
                    coarse_step_hours__gte=2,
                    coarse_step_hours__lte=24,
                ),
                name="hourly_series_coarse_step_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.hours} h from {self.start_at:%Y-%m-%d %H:%M}Z"

    def temps_c(self) -> npt.NDArray[np.float64]:
        """(members, hours), NaN where the service gave nothing."""
        flat = np.frombuffer(bytes(self.packed), dtype=PACKED)
        return flat.reshape(self.members, self.hours).astype(np.float64)

    def winds_kmh(self) -> npt.NDArray[np.float64]:
        """(hours,) 10 m above open ground, NaN where it is not known: never nought for nothing."""
        if self.packed_wind_kmh is None:
            return np.full(self.hours, np.nan)
        return unpack(self.packed_wind_kmh)


class GridCell(models.Model):
    """Where the US forecast grid has one place, as last looked up."""

    latitude = models.FloatField()
    longitude = models.FloatField()
    # As the service writes it: office/x,y.
    grid = models.CharField(max_length=20)
    found_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["latitude", "longitude"], name="grid_cell_per_place"),
            models.CheckConstraint(condition=~Q(grid=""), name="grid_cell_is_named"),
        ]

    def __str__(self) -> str:
        return self.grid


class RefreshAttempt(models.Model):
    """One time we asked for the weather, and how it went; a running one holds the others off."""

    class Outcome(models.TextChoices):
        RUNNING = "running", "Running"
        OK = "ok", "All woodlots"
        PARTIAL = "partial", "Some woodlots"
        FAILED = "failed", "Failed"

    started_at = models.DateTimeField(db_index=True)
    outcome = models.CharField(max_length=8, choices=Outcome.choices)
    detail = models.CharField(max_length=500, blank=True)

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
        ]

    def __str__(self) -> str:
        return f"{self.get_outcome_display()} {self.started_at:%Y-%m-%d %H:%M}Z"


class SourceAttempt(models.Model):
    """How one model of one service answered in one refresh."""

    class Outcome(models.TextChoices):
        OK = "ok", "All woodlots asked for"
        PARTIAL = "partial", "Some woodlots"
        UNCHANGED = "unchanged", "Nothing newer yet"
        FAILED = "failed", "Failed"
        SKIPPED = "skipped", "Not asked"

    attempt = models.ForeignKey(RefreshAttempt, on_delete=models.CASCADE, related_name="sources")
    provider = models.CharField(max_length=40)
    product = models.CharField(max_length=40)
    model = models.CharField(max_length=60)
    outcome = models.CharField(max_length=9, choices=Outcome.choices)
    detail = models.CharField(max_length=500)
    # [{"kind", "detail", "woodlot": id or null}]: what was refused, null for the whole reply.
    findings = models.JSONField(default=list, blank=True)
    # Set when the service told us to wait.
    not_before = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["attempt", "provider", "product", "model"],
                name="source_attempt_once_per_refresh",
            ),
            models.CheckConstraint(
                condition=Q(outcome__in=["ok", "partial", "unchanged", "failed", "skipped"]),
                name="source_attempt_outcome_known",
            ),
            models.CheckConstraint(condition=~Q(detail=""), name="source_attempt_says_how_it_went"),
        ]

    def __str__(self) -> str:
        return f"{self.provider} {self.product} {self.model}: {self.get_outcome_display()}"
