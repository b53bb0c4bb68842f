"""Leaks, as the checks of a line tell of them."""

from django.db import models
from django.db.models import F, Q

from apps.leaks.models.checks import Cause, LeakCheck


class LeakQuerySet(models.QuerySet["Leak"]):
    def standing(self) -> "LeakQuerySet":
        """Leaks whose check nobody took back."""
        return self.filter(opened_by__voided=False)

    def still_open(self) -> "LeakQuerySet":
        return self.standing().filter(closed_by__isnull=True)


class Leak(models.Model):
    """One leak left in a line: opened by the check that left it, closed by the one that fixed it.

    A leak whose opening check was taken back stays as a row and is neither open nor closed.
    """

    line = models.ForeignKey("woods.Line", on_delete=models.PROTECT, related_name="leaks")
    # One to one: a check found one place leaking; a second place is a second check.
    opened_by = models.OneToOneField(
        LeakCheck, on_delete=models.PROTECT, related_name="opened_leak"
    )
    closed_by = models.ForeignKey(
        LeakCheck, on_delete=models.PROTECT, null=True, blank=True, related_name="closed_leaks"
    )
    cause = models.CharField(max_length=8, choices=Cause.choices, blank=True)
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)

    objects = LeakQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(closed_by__isnull=True, closed_at__isnull=True)
                | Q(closed_by__isnull=False, closed_at__isnull=False),
                name="leak_closed_by_a_check_at_a_time",
            ),
            models.CheckConstraint(
                # Equal is well: a leak left and one fixed may bear the same minute.
                condition=Q(closed_at__isnull=True) | Q(closed_at__gte=F("opened_at")),
                name="leak_closes_after_it_opens",
            ),
            models.CheckConstraint(
                condition=Q(closed_by__isnull=True) | ~Q(closed_by=F("opened_by")),
                name="leak_not_closed_by_its_opener",
            ),
            models.CheckConstraint(
                condition=Q(cause="") | Q(cause__in=Cause.values), name="leak_cause_known"
            ),
        ]

    def __str__(self) -> str:
        return f"Leak in {self.line}"
