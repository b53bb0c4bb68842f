"""The demo's own clock."""

from django.db import models
from django.db.models import Q


class DemoClock(models.Model):
    """Which day the demo operation stands at, and since when; its row has id 1."""

    class Stop(models.TextChoices):
        JANUARY = "january", "Late January: deciding when to start"
        MARCH = "march", "Mid-March: leaks and boiling"
        MAY = "may", "May: looking back on the season"

    stop = models.CharField(max_length=8, choices=Stop.choices)
    chosen_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="demo_clock_is_the_only_one"),
            models.CheckConstraint(
                condition=Q(stop__in=["january", "march", "may"]), name="demo_clock_stop_known"
            ),
        ]

    def __str__(self) -> str:
        return self.get_stop_display()
