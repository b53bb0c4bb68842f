"""What was measured rather than forecast: own thermometers, imported hours, past winters."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact

from apps.weather.packing import PACKED, Hours, unpack

BELIEVED = Q(temp_c__gte=-60, temp_c__lte=60)


class Thermometer(models.Model):
    """The woodlot whose air one device measures."""

    device = models.OneToOneField(
        "operation.Device", on_delete=models.PROTECT, related_name="thermometer"
    )
    woodlot = models.ForeignKey(
        "woods.Woodlot", on_delete=models.PROTECT, related_name="thermometers"
    )

    def __str__(self) -> str:
        return f"{self.device} at {self.woodlot}"


class ThermometerReading(models.Model):
    """One temperature that one thermometer sent for one moment; the first one sent stands."""

    thermometer = models.ForeignKey(Thermometer, on_delete=models.PROTECT, related_name="readings")
    at = models.DateTimeField()
    temp_c = models.FloatField()
    received_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["thermometer", "at"], name="thermometer_reading_once_per_moment"
            ),
            models.CheckConstraint(condition=BELIEVED, name="thermometer_reading_believable"),
        ]

    def __str__(self) -> str:
        return f"{self.temp_c:g} C {self.at:%Y-%m-%d %H:%M}Z"


class RecordedYear(models.Model):
    """One UTC calendar year of hours imported for one woodlot, as they were measured there.

    Every hour of the year has its place; NaN where no file gave a value.
    """

    woodlot = models.ForeignKey(
        "woods.Woodlot", on_delete=models.PROTECT, related_name="recorded_years"
    )
    year = models.PositiveSmallIntegerField()
    packed = models.BinaryField()
    imported_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["woodlot", "year"], name="recorded_year_once_per_woodlot"
            ),
            models.CheckConstraint(
                condition=Q(year__gte=1900, year__lte=2200), name="recorded_year_range"
            ),
            models.CheckConstraint(
                condition=Exact(Length("packed"), 8760 * PACKED.itemsize)
                | Exact(Length("packed"), 8784 * PACKED.itemsize),
                name="recorded_year_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.woodlot_id}, {self.year}"

    def temps_c(self) -> Hours:
        return unpack(self.packed)


class SetAside(models.Model):
    """One measured value that was not believed: shown, never reckoned with."""

    class Source(models.TextChoices):
        IMPORTED = "import", "Imported"
        THERMOMETER = "thermometer", "Thermometer"

    woodlot = models.ForeignKey("woods.Woodlot", on_delete=models.CASCADE, related_name="set_aside")
    source = models.CharField(max_length=12, choices=Source.choices)
    at = models.DateTimeField()
    value_c = models.FloatField()
    reason = models.CharField(max_length=120)
    noted_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["woodlot", "source", "at", "value_c"], name="set_aside_once"
            ),
            models.CheckConstraint(
                condition=Q(source__in=["import", "thermometer"]), name="set_aside_source_known"
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="set_aside_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.value_c:g} C {self.at:%Y-%m-%d %H:%M}Z: {self.reason}"


class ArchiveWinter(models.Model):
    """One past winter of one woodlot from a weather archive, as the service gave it.

    Named by its spring: its days from December to May. Nothing here is corrected for height.
    """

    woodlot = models.ForeignKey(
        "woods.Woodlot", on_delete=models.CASCADE, related_name="archive_winters"
    )
    winter = models.PositiveSmallIntegerField()
    provider = models.CharField(max_length=40)
    model = models.CharField(max_length=60)
    attribution = models.CharField(max_length=200)
    licence_url = models.URLField(blank=True)
    fetched_at = models.DateTimeField()
    start_at = models.DateTimeField()
    hours = models.PositiveIntegerField()
    known_hours = models.PositiveIntegerField()
    packed = models.BinaryField()
    elevation_used_m = models.FloatField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["woodlot", "winter", "model"], name="archive_winter_once_per_model"
            ),
            models.CheckConstraint(
                condition=Q(winter__gte=1900, winter__lte=2200), name="archive_winter_range"
            ),
            models.CheckConstraint(
                condition=Q(known_hours__lte=F("hours")), name="archive_winter_known_within_hours"
            ),
            models.CheckConstraint(
                condition=Exact(Length("packed"), F("hours") * PACKED.itemsize),
                name="archive_winter_whole",
            ),
            models.CheckConstraint(
                condition=~Q(provider="") & ~Q(model="") & ~Q(attribution=""),
                name="archive_winter_names_its_source",
            ),
            models.CheckConstraint(
                condition=Q(elevation_used_m__isnull=True)
                | Q(elevation_used_m__gte=-500, elevation_used_m__lte=9000),
                name="archive_winter_elevation_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.woodlot_id}, winter {self.winter}, {self.model}"

    def temps_c(self) -> Hours:
        return unpack(self.packed)


class HistoryFetch(models.Model):
    """One going through the archive, and how it went; a running one holds the others off."""

    class Outcome(models.TextChoices):
        RUNNING = "running", "Running"
        DONE = "done", "Done"
        STOPPED = "stopped", "Stopped"

    started_at = models.DateTimeField(db_index=True)
    # Moved on with every winter, so that one cut off with its process can be told.
    touched_at = models.DateTimeField()
    outcome = models.CharField(max_length=8, choices=Outcome.choices)
    detail = models.CharField(max_length=500, blank=True)
    not_before = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(outcome__in=["running", "done", "stopped"]),
                name="history_fetch_outcome_known",
            ),
            models.UniqueConstraint(
                fields=["outcome"],
                condition=Q(outcome="running"),
                name="history_fetch_one_at_a_time",
            ),
            models.CheckConstraint(
                condition=Q(outcome="running") | ~Q(detail=""),
                name="history_fetch_says_how_it_went",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_outcome_display()} {self.started_at:%Y-%m-%d %H:%M}Z"
