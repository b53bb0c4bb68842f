"""What was boiled from the sap."""

from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.sugarhouse.models.sap import SapIn
from apps.sugarhouse.models.seasons import SEASON_RANGE


class Batch(models.Model):
    """One boil, from lighting up to the last draw-off, and the syrup drawn in it."""

    uuid = models.UUIDField(unique=True, default=uuid4)
    season = models.PositiveSmallIntegerField()
    # Written on the barrels, so it counts from one within each season.
    number = models.PositiveIntegerField()
    boiled_at = models.DateTimeField()
    syrup_litres = models.FloatField()
    syrup_brix = models.FloatField()
    # Sweet carried over, a scorched pan: what explains a recovery that looks wrong.
    note = models.CharField(max_length=200, blank=True)
    crew = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["season", "number"], name="batch_number_once_per_season"
            ),
            models.CheckConstraint(condition=SEASON_RANGE, name="batch_season_range"),
            models.CheckConstraint(condition=Q(number__gte=1), name="batch_number_from_one"),
            models.CheckConstraint(condition=Q(syrup_litres__gt=0), name="batch_syrup_positive"),
            models.CheckConstraint(
                # Wider than any rule of sale: what was drawn too thin or too dense is entered as
                # it was.
                condition=Q(syrup_brix__gte=60, syrup_brix__lte=70),
                name="batch_brix_range",
            ),
        ]

    def __str__(self) -> str:
        return f"Batch {self.number} of {self.season}"


class BatchSap(models.Model):
    """How much of one sap receipt went into one batch."""

    # Parts go with their batch when it is struck out; a load they came from cannot go before
    # them.
    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="sap")
    sap_in = models.ForeignKey(SapIn, on_delete=models.PROTECT, related_name="boiled")
    volume_litres = models.FloatField()

    class Meta:
        constraints = [
            # One row a load, so that striking a batch out gives each load its sap back once.
            models.UniqueConstraint(fields=["batch", "sap_in"], name="batch_sap_once_per_receipt"),
            models.CheckConstraint(
                condition=Q(volume_litres__gt=0), name="batch_sap_volume_positive"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch}: {self.volume_litres:.0f} L"
