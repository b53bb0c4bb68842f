"""What outlook keeps of its own: to whom which morning's brief has gone out."""

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class BriefSentQuerySet(models.QuerySet["BriefSent"]):
    def went_out(self, day: date) -> "BriefSentQuerySet":
        """Those of a day that the mail server has taken."""
        return self.filter(day=day, sent_at__isnull=False)


class BriefSent(models.Model):
    """One day's brief to one owner, sent or being sent at this moment."""

    # The operation's local day.
    day = models.DateField()
    reader = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="briefs_sent"
    )
    claimed_at = models.DateTimeField()
    # Null while it is under way, and for good where the sending process died.
    sent_at = models.DateTimeField(null=True, blank=True)

    objects = BriefSentQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["day", "reader"], name="brief_once_a_day_to_a_reader"),
            models.CheckConstraint(
                condition=Q(sent_at__isnull=True) | Q(sent_at__gte=F("claimed_at")),
                name="brief_sent_after_it_was_claimed",
            ),
        ]

    def __str__(self) -> str:
        return f"Brief of {self.day} to {self.reader}"
