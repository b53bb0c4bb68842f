"""What lies across a line after a storm, and who got it out of the way."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q

from apps.leaks.models.common import Positioned, place_believable, position_constraints
from apps.operation.taken_back import StandingQuerySet, TakenBack, voided_by_somebody


class ObstructionQuerySet(StandingQuerySet["Obstruction"]):
    """Obstructions, those taken back among them."""

    def still_open(self) -> Self:
        """Those that stand and that nobody has said to be gone."""
        return self.standing().filter(~Exists(_standing_clearings()))

    def cleared(self) -> Self:
        return self.standing().filter(Exists(_standing_clearings()))


class Obstruction(Positioned, TakenBack):
    """One thing across a line as one person met it; `work` is what it takes to move it."""

    class Work(models.TextChoices):
        HANDS = "hands", "By hand"
        CHAINSAW = "chainsaw", "Chainsaw"
        # No class of work for the crew: such trees kill, and are left to who is trained for them.
        HUNG = "hung", "Hung tree: leave it"

    # Made by the phone, so that however often it is sent it is one obstruction.
    uuid = models.UUIDField(unique=True)
    line = models.ForeignKey("woods.Line", on_delete=models.PROTECT, related_name="obstructions")
    work = models.CharField(max_length=8, choices=Work.choices)
    # Drops counted from the pump end of the line.
    place_drops = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.TextField(blank=True)
    seen_at = models.DateTimeField()
    received_at = models.DateTimeField()
    crew = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects = ObstructionQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(work__in=["hands", "chainsaw", "hung"]), name="obstruction_work_known"
            ),
            place_believable("obstruction"),
            voided_by_somebody("obstruction"),
            *position_constraints("obstruction"),
        ]

    def __str__(self) -> str:
        return f"{self.line}: {self.get_work_display()}"


class ClearingQuerySet(StandingQuerySet["Clearing"]):
    """Clearings, those taken back among them."""


class Clearing(TakenBack):
    """One person's word that one obstruction is gone.

    A row of its own: of two who clear the same one each is kept, and taking one back leaves the
    other's word standing.
    """

    uuid = models.UUIDField(unique=True)
    obstruction = models.ForeignKey(Obstruction, on_delete=models.PROTECT, related_name="clearings")
    # May lie before it was seen, two phones having two clocks: no word is refused for that.
    cleared_at = models.DateTimeField()
    received_at = models.DateTimeField()
    crew = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects = ClearingQuerySet.as_manager()

    class Meta:
        constraints = [voided_by_somebody("clearing")]

    def __str__(self) -> str:
        return f"{self.obstruction}, cleared"


def _standing_clearings() -> ClearingQuerySet:
    return Clearing.objects.standing().filter(obstruction=OuterRef("pk"))
