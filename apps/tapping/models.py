"""The tapping of one season: first runs of the past, the crew's plan, what was tallied."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.operation.taken_back import StandingQuerySet, TakenBack, voided_by_somebody
from apps.woods.models import Line, Woodlot

SEASON_RANGE = Q(season__gte=1900, season__lte=2200)


class FirstRun(models.Model):
    """The day the first sap of a season was gathered, as somebody recorded it.

    Without a woodlot it speaks for the whole operation.
    """

    woodlot = models.ForeignKey(
        Woodlot, on_delete=models.PROTECT, null=True, blank=True, related_name="first_runs"
    )
    season = models.PositiveSmallIntegerField()
    date = models.DateField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["season"],
                condition=Q(woodlot__isnull=True),
                name="first_run_once_per_season",
            ),
            # In SQL two unknown woodlots are never equal, hence the constraint above as well.
            models.UniqueConstraint(
                fields=["woodlot", "season"], name="first_run_once_per_woodlot_and_season"
            ),
            models.CheckConstraint(condition=SEASON_RANGE, name="first_run_season_range"),
        ]

    def __str__(self) -> str:
        return f"{self.woodlot or 'Whole operation'}, {self.season}: {self.date}"


class TapTallyQuerySet(models.QuerySet["TapTally"]):
    """Tallies as they are counted."""

    def standing(self) -> "TapTallyQuerySet":
        """Without those taken back: they stay in the history and out of every sum."""
        return self.filter(voided_at__isnull=True)

    def of_season(self, season: int) -> "TapTallyQuerySet":
        return self.filter(season=season)


class TapTally(models.Model):
    """Taps that one crew member counted on one line, in one go; a mistake is voided, not edited."""

    # Made by the form or the phone, so that sending twice counts once.
    uuid = models.UUIDField(unique=True)
    # Protected: taps that were drilled are in the trees, whatever becomes of the line's row.
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="tallies")
    season = models.PositiveSmallIntegerField()
    tallied_on = models.DateField()
    taps_set = models.PositiveIntegerField(default=0)
    drops_renewed = models.PositiveIntegerField(default=0)
    # Hours that one pair spent; without them the tally counts taps but says nothing of the pace.
    pair_hours = models.FloatField(null=True, blank=True)
    finishes_line = models.BooleanField(default=False)
    crew = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=200, blank=True)
    received_at = models.DateTimeField()
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = TapTallyQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["season", "line"], name="tap_tally_season_line")]
        constraints = [
            models.CheckConstraint(condition=SEASON_RANGE, name="tap_tally_season_range"),
            models.CheckConstraint(
                condition=Q(taps_set__gte=0, taps_set__lte=20000), name="tap_tally_believable"
            ),
            models.CheckConstraint(
                condition=Q(drops_renewed__gte=0, drops_renewed__lte=20000),
                name="tap_tally_drops_believable",
            ),
            models.CheckConstraint(
                condition=Q(pair_hours__isnull=True) | Q(pair_hours__gt=0, pair_hours__lte=24),
                name="tap_tally_pair_hours_range",
            ),
            models.CheckConstraint(
                # A press that says nothing would still count as a day worked.
                condition=~Q(taps_set=0, drops_renewed=0, finishes_line=False),
                name="tap_tally_says_something",
            ),
            models.CheckConstraint(
                condition=Q(voided_at__isnull=True, voided_by__isnull=True)
                | Q(voided_at__isnull=False, voided_by__isnull=False),
                name="tap_tally_voided_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.line} on {self.tallied_on}: {self.taps_set} taps"


class TapPullQuerySet(StandingQuerySet["TapPull"]):
    """Pulled taps as they are counted, those taken back among them."""

    def of_season(self, season: int) -> "TapPullQuerySet":
        return self.filter(season=season)


class TapPull(TakenBack):
    """Taps that one crew member pulled out of one line's trees, in one go, when sap was over."""

    uuid = models.UUIDField(unique=True)
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="pulls")
    # The season they were set for, not the one that begins while some are still being pulled.
    season = models.PositiveSmallIntegerField()
    pulled_on = models.DateField()
    taps_pulled = models.PositiveIntegerField(default=0)
    # No tap is left in its trees, whatever the count says: somebody looked.
    finishes_line = models.BooleanField(default=False)
    crew = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=200, blank=True)
    received_at = models.DateTimeField()

    objects = TapPullQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["season", "line"], name="tap_pull_season_line")]
        constraints = [
            models.CheckConstraint(condition=SEASON_RANGE, name="tap_pull_season_range"),
            models.CheckConstraint(
                condition=Q(taps_pulled__gte=0, taps_pulled__lte=20000), name="tap_pull_believable"
            ),
            models.CheckConstraint(
                condition=~Q(taps_pulled=0, finishes_line=False), name="tap_pull_says_something"
            ),
            voided_by_somebody("tap_pull"),
        ]

    def __str__(self) -> str:
        return f"{self.line} on {self.pulled_on}: {self.taps_pulled} pulled"


class CrewPlan(models.Model):
    """How one season's tapping is meant to be worked; without a row the defaults stand."""

    class RestDay(models.TextChoices):
        NONE = "none", "None"
        SATURDAY = "saturday", "Saturday"
        SUNDAY = "sunday", "Sunday"

    # One plan a season; a second would leave open which of them the start date rests on.
    season = models.PositiveSmallIntegerField(unique=True)
    pairs = models.PositiveSmallIntegerField()
    hours_per_day = models.FloatField()
    lost_days = models.PositiveSmallIntegerField()
    rest_day = models.CharField(max_length=8, choices=RestDay.choices)
    accept_missing = models.PositiveSmallIntegerField()
    # The owner's own morning to be ready by; it goes before the history when it is set.
    ready_morning = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=SEASON_RANGE, name="crew_plan_season_range"),
            models.CheckConstraint(
                condition=Q(pairs__gte=1, pairs__lte=20), name="crew_plan_pairs_range"
            ),
            models.CheckConstraint(
                condition=Q(hours_per_day__gte=0.5, hours_per_day__lte=16),
                name="crew_plan_hours_range",
            ),
            models.CheckConstraint(
                condition=Q(lost_days__gte=0, lost_days__lte=30), name="crew_plan_lost_days_range"
            ),
            models.CheckConstraint(
                condition=Q(rest_day__in=["none", "saturday", "sunday"]),
                name="crew_plan_rest_day_known",
            ),
            models.CheckConstraint(
                condition=Q(accept_missing__gte=0, accept_missing__lte=9),
                name="crew_plan_accept_missing_range",
            ),
        ]

    def __str__(self) -> str:
        return f"Crew plan {self.season}"

    @property
    def rest_weekdays(self) -> frozenset[int]:
        """Weekdays without work, counted from 0, Monday."""
        return frozenset({"saturday": [5], "sunday": [6]}.get(self.rest_day, []))

    @property
    def pair_hours_per_day(self) -> float:
        return self.pairs * self.hours_per_day


class SnowDepth(models.Model):
    """Snow on the ground in one woodlot, as somebody saw it on one day."""

    # Snow is melted by the time a woodlot goes: nothing worth holding it fast for.
    woodlot = models.ForeignKey(Woodlot, on_delete=models.CASCADE, related_name="snow_depths")
    season = models.PositiveSmallIntegerField()
    seen_on = models.DateField()
    depth_m = models.FloatField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["woodlot", "seen_on"], name="snow_depth_once_per_woodlot_and_day"
            ),
            models.CheckConstraint(condition=SEASON_RANGE, name="snow_depth_season_range"),
            models.CheckConstraint(
                condition=Q(depth_m__gte=0, depth_m__lte=5), name="snow_depth_range"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.woodlot} on {self.seen_on}: {self.depth_m} m"
