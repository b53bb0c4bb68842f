"""Records are not deleted: one taken back stays, with who and when, and counts for nothing."""

from typing import Self, TypeVar

from django.conf import settings
from django.db import models
from django.db.models import Q

Row = TypeVar("Row", bound="TakenBack", covariant=True)


class TakenBack(models.Model):
    """A record of which somebody may later say that it was wrong."""

    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        abstract = True


class StandingQuerySet(models.QuerySet[Row]):
    """Records, those taken back among them until they are left out."""

    def standing(self) -> Self:
        return self.filter(voided_at__isnull=True)


def voided_by_somebody(row: str) -> models.CheckConstraint:
    """Who and when together or neither; `row` is what the constraint's name begins with."""
    return models.CheckConstraint(
        condition=Q(voided_at__isnull=True, voided_by__isnull=True)
        | Q(voided_at__isnull=False, voided_by__isnull=False),
        name=f"{row}_voided_by_somebody",
    )
