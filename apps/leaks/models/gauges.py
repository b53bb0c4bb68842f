"""What the vacuum gauges showed."""

from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.leaks.models.common import vacuum_range
from apps.operation.taken_back import StandingQuerySet, TakenBack, voided_by_somebody


class GaugeReadingQuerySet(StandingQuerySet["GaugeReading"]):
    """Gauge readings, those taken back among them."""


class GaugeReading(TakenBack):
    """What the vacuum gauge in one pump house showed at one moment, believable or not.

    A mistyped one is taken back, not edited: it stays, and the right one stands beside it.
    """

    # Made by the page or the phone: a reading taken back is not written anew by a late resend.
    uuid = models.UUIDField(unique=True, default=uuid4)
    pump_house = models.ForeignKey(
        "woods.PumpHouse", on_delete=models.PROTECT, related_name="gauge_readings"
    )
    read_at = models.DateTimeField()
    vacuum_kpa = models.FloatField()
    note = models.TextField(blank=True)
    crew = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="gauge_readings",
    )

    objects = GaugeReadingQuerySet.as_manager()

    class Meta:
        constraints = [
            # Only of those that stand, or a slip would hold its moment against the right number.
            models.UniqueConstraint(
                fields=["pump_house", "read_at"],
                condition=Q(voided_at__isnull=True),
                name="gauge_reading_once_per_moment",
            ),
            voided_by_somebody("gauge_reading"),
            vacuum_range("vacuum_kpa", "gauge_reading_vacuum_range"),
        ]

    def __str__(self) -> str:
        return f"{self.pump_house}: {self.vacuum_kpa:.1f} kPa"
