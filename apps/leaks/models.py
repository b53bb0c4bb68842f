"""What the crew saw on the lines, the leaks that follow from it, and the pump-house gauges."""

from datetime import datetime

from django.conf import settings
from django.db import models
from django.db.models import Case, F, Q, When, Window
from django.db.models.functions import Coalesce, RowNumber

# A dial gauge ends near 100 kPa; a faulty one may show more and is still written down.
VACUUM_HIGH_KPA = 120.0
MOST_DROPS = 5000


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


def _vacuum_range(field: str, name: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=Q(**{f"{field}__isnull": True})
        | Q(**{f"{field}__gte": 0, f"{field}__lte": VACUUM_HIGH_KPA}),
        name=name,
    )


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


class LeakCheck(models.Model):
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
            models.CheckConstraint(
                condition=Q(place_drops__isnull=True)
                | Q(place_drops__gte=0, place_drops__lte=MOST_DROPS),
                name="leak_check_place_believable",
            ),
            models.CheckConstraint(
                # One way only: checks from before this was kept are voided by nobody in particular.
                condition=Q(voided=True) | Q(voided_at__isnull=True, voided_by__isnull=True),
                name="leak_check_taken_back_only_when_voided",
            ),
            _vacuum_range("vacuum_before_kpa", "leak_check_vacuum_before_range"),
            _vacuum_range("vacuum_after_kpa", "leak_check_vacuum_after_range"),
        ]

    def __str__(self) -> str:
        return f"{self.line}: {self.get_state_display()}"


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


class GaugeReadingQuerySet(models.QuerySet["GaugeReading"]):
    def standing(self) -> "GaugeReadingQuerySet":
        """Readings nobody took back."""
        return self.filter(voided_at__isnull=True)


class GaugeReading(models.Model):
    """What the vacuum gauge in one pump house showed at one moment, believable or not.

    A mistyped one is taken back, not edited: it stays, and the right one stands beside it.
    """

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
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
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
            models.CheckConstraint(
                condition=Q(voided_at__isnull=True, voided_by__isnull=True)
                | Q(voided_at__isnull=False, voided_by__isnull=False),
                name="gauge_reading_voided_by_somebody",
            ),
            _vacuum_range("vacuum_kpa", "gauge_reading_vacuum_range"),
        ]

    def __str__(self) -> str:
        return f"{self.pump_house}: {self.vacuum_kpa:.1f} kPa"
