"""Checks, and the parts that went into a mend."""

from datetime import datetime

from django.conf import settings
from django.db import models
from django.db.models import Case, F, Q, When, Window
from django.db.models.functions import Coalesce, RowNumber

from apps.leaks.models.common import (
    Positioned,
    place_believable,
    position_constraints,
    vacuum_range,
)

# More of one part than a crew can carry to one place.
MOST_OF_A_PART = 500


class Cause(models.TextChoices):
    CHEW = "chew", "Chewed"
    LIMB = "limb", "Limb or tree down"
    SPOUT = "spout", "Spout"
    SADDLE = "saddle", "Saddle"
    FITTING = "fitting", "Fitting pulled"
    TEE = "tee", "Tee"
    SAG = "sag", "Sag or ice"
    DEER = "deer", "Deer"
    UNKNOWN = "unknown", "Cause not found"


class Part(models.TextChoices):
    """What a crew carries to mend a line, by the trade's words; tubing by the piece."""

    SPOUT = "spout", "Spout"
    DROP = "drop", "Drop"
    TEE = "tee", "Tee"
    CONNECTOR = "connector", "Connector"
    END_PLUG = "end_plug", "End plug"
    LATERAL = "lateral", "Piece of lateral"
    SADDLE = "saddle", "Saddle"
    MAIN_FITTING = "main_fitting", "Mainline fitting"
    MAINLINE = "mainline", "Piece of mainline"
    CLAMP = "clamp", "Clamp"
    WIRE_TIE = "wire_tie", "Wire tie"
    VALVE = "valve", "Valve"


class LeakCheckQuerySet(models.QuerySet["LeakCheck"]):
    def standing(self) -> "LeakCheckQuerySet":
        """Checks nobody took back."""
        return self.filter(voided=False)

    def walked(self) -> "LeakCheckQuerySet":
        """Checks with a verdict: a frozen line was seen, not checked."""
        return self.standing().exclude(state=LeakCheck.State.FROZEN)

    def about_vacuum(self) -> "LeakCheckQuerySet":
        """Checks that say what vacuum the line has: a reading, or a fix that outdates one.

        `reading_kpa` is the reading after the work where there are two; None after a fix that
        nobody measured, for a reading from before it would send the crew to a mended line.
        """
        after = Case(
            When(state=LeakCheck.State.LEAK_FIXED, then=F("vacuum_after_kpa")),
            default=Coalesce("vacuum_after_kpa", "vacuum_before_kpa"),
        )
        known = Q(reading_kpa__isnull=False) | Q(state=LeakCheck.State.LEAK_FIXED)
        return self.walked().annotate(reading_kpa=after).filter(known)

    def since(self, start: datetime) -> "LeakCheckQuerySet":
        return self.filter(observed_at__gte=start)

    def in_story(self) -> "LeakCheckQuerySet":
        """What opens and closes leaks, as it was seen; of two at once the later record is later."""
        telling = [LeakCheck.State.LEAK_LEFT, LeakCheck.State.LEAK_FIXED]
        return self.standing().filter(state__in=telling).order_by("observed_at", "id")

    def newest_per_line(self) -> "LeakCheckQuerySet":
        # A window and not a question a line: a thousand lines ask no more than ten.
        newest_first = Window(
            RowNumber(),
            partition_by=F("line_id"),
            order_by=[F("observed_at").desc(), F("id").desc()],
        )
        return self.annotate(nth=newest_first).filter(nth=1)


class LeakCheck(Positioned):
    """One look at one line by one person; taken back it stays, voided, and counts for nothing."""

    class State(models.TextChoices):
        TIGHT = "tight", "Tight"
        LEAK_FIXED = "leak_fixed", "Leak fixed"
        LEAK_LEFT = "leak_left", "Leak left"
        FROZEN = "frozen", "Frozen: no verdict"

    # Made by the page before it is sent: however often a weak signal sends it, it is one check.
    uuid = models.UUIDField(unique=True)
    line = models.ForeignKey("woods.Line", on_delete=models.PROTECT, related_name="leak_checks")
    state = models.CharField(max_length=10, choices=State.choices)
    # When it was seen, by the clock of the one who saw it, and when the record reached us.
    observed_at = models.DateTimeField()
    received_at = models.DateTimeField()
    crew = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="leak_checks"
    )
    # A fix has two readings, and only both together say what it brought.
    vacuum_before_kpa = models.FloatField(null=True, blank=True)
    vacuum_after_kpa = models.FloatField(null=True, blank=True)
    # Drops counted from the pump end of the line.
    place_drops = models.PositiveSmallIntegerField(null=True, blank=True)
    cause = models.CharField(max_length=8, choices=Cause.choices, blank=True)
    note = models.TextField(blank=True)
    # Not deleted: somebody walked there, and the record of a mistake is a record.
    voided = models.BooleanField(default=False)
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = LeakCheckQuerySet.as_manager()

    class Meta:
        # The newest look at each line is asked for by nearly every page.
        indexes = [models.Index(fields=["line", "observed_at"], name="leak_check_line_observed")]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["tight", "leak_fixed", "leak_left", "frozen"]),
                name="leak_check_state_known",
            ),
            models.CheckConstraint(
                condition=Q(cause="") | Q(cause__in=Cause.values), name="leak_check_cause_known"
            ),
            models.CheckConstraint(
                # A tight line with a cause would count as a leak in every tally of causes.
                condition=Q(cause="") | Q(state__in=["leak_fixed", "leak_left"]),
                name="leak_check_cause_only_with_a_leak",
            ),
            place_believable("leak_check"),
            models.CheckConstraint(
                # One way only: checks from before this was kept are voided by nobody in particular.
                condition=Q(voided=True) | Q(voided_at__isnull=True, voided_by__isnull=True),
                name="leak_check_taken_back_only_when_voided",
            ),
            vacuum_range("vacuum_before_kpa", "leak_check_vacuum_before_range"),
            vacuum_range("vacuum_after_kpa", "leak_check_vacuum_after_range"),
            *position_constraints("leak_check"),
        ]

    def __str__(self) -> str:
        return f"{self.line}: {self.get_state_display()}"


class PartUsed(models.Model):
    """So many of one part that went into a line, as noted with the check that mended it."""

    # Written with its check and never alone: a check taken back takes its parts out of every sum.
    leak_check = models.ForeignKey(LeakCheck, on_delete=models.CASCADE, related_name="parts")
    part = models.CharField(max_length=12, choices=Part.choices)
    count = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["leak_check", "part"], name="part_used_once_per_check"),
            models.CheckConstraint(condition=Q(part__in=Part.values), name="part_used_known"),
            models.CheckConstraint(
                # Nought of a part would be a part used in every list.
                condition=Q(count__gte=1, count__lte=MOST_OF_A_PART),
                name="part_used_count_believable",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.count} x {self.get_part_display()}"
