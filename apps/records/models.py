"""What lies at the import page between looking and writing."""

from django.conf import settings
from django.db import models
from django.db.models import Q


class HandedIn(models.Model):
    """One file handed in and looked at, kept for a day so that just that file can be written."""

    # Too long to travel with the page as text: five thousand mapped lines are megabytes.
    text = models.TextField()
    # It is nobody's record, so that it goes with whoever left it.
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(text=""), name="handed_in_has_text")]

    def __str__(self) -> str:
        return f"{self.text[:40]}…"
