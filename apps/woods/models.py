"""The ground: who owns it, the woodlots, their pump houses and the tree of lines."""

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from apps.operation.taken_back import StandingQuerySet, TakenBack, voided_by_somebody


class Landowner(models.Model):
    """One person or family whose land is tapped under a lease."""

    name = models.CharField(max_length=120, unique=True)
    # As people write it, with its own spaces and brackets: dialled, never reckoned with.
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(name=""), name="landowner_has_a_name")]

    def __str__(self) -> str:
        return self.name


class Woodlot(models.Model):
    """One stand tapped for sap; without a landowner it is the operation's own land."""

    class Aspect(models.TextChoices):
        NORTH = "N", "North"
        NORTH_EAST = "NE", "North-east"
        EAST = "E", "East"
        SOUTH_EAST = "SE", "South-east"
        SOUTH = "S", "South"
        SOUTH_WEST = "SW", "South-west"
        WEST = "W", "West"
        NORTH_WEST = "NW", "North-west"

    name = models.CharField(max_length=80, unique=True)
    landowner = models.ForeignKey(
        Landowner, on_delete=models.PROTECT, null=True, blank=True, related_name="woodlots"
    )
    # Decimal degrees as a phone shows them; the grid of a forecast is far coarser than a float.
    latitude = models.FloatField()
    longitude = models.FloatField()
    elevation_m = models.FloatField()
    aspect = models.CharField(max_length=2, choices=Aspect.choices, blank=True)
    # Unknown until somebody says so: nought would be an answer.
    area_ha = models.FloatField(null=True, blank=True)
    maple_share = models.FloatField(null=True, blank=True)
    # How much warmer it is here than a forecast moved to this height says; a frost pocket is < 0.
    temperature_offset_c = models.FloatField(default=0)
    access = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="woodlot_has_a_name"),
            models.CheckConstraint(
                condition=Q(latitude__gte=-90, latitude__lte=90), name="woodlot_latitude_range"
            ),
            models.CheckConstraint(
                condition=Q(longitude__gte=-180, longitude__lte=180),
                name="woodlot_longitude_range",
            ),
            models.CheckConstraint(
                condition=Q(elevation_m__gte=-100, elevation_m__lte=5000),
                name="woodlot_elevation_range",
            ),
            models.CheckConstraint(
                condition=Q(area_ha__isnull=True) | Q(area_ha__gt=0), name="woodlot_area_positive"
            ),
            models.CheckConstraint(
                condition=Q(maple_share__isnull=True) | Q(maple_share__gte=0, maple_share__lte=1),
                name="woodlot_maple_share_range",
            ),
            models.CheckConstraint(
                condition=Q(temperature_offset_c__gte=-10, temperature_offset_c__lte=10),
                name="woodlot_offset_range",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Lease(models.Model):
    """One agreement to tap a woodlot: its rule and the terms that rule needs."""

    class Rule(models.TextChoices):
        FIXED = "fixed", "Fixed rate per counted tap"
        INDEXED = "indexed", "Rate per counted tap, indexed"
        SHARE = "share", "Share of gross sales"

    woodlot = models.ForeignKey(Woodlot, on_delete=models.PROTECT, related_name="leases")
    landowner = models.ForeignKey(Landowner, on_delete=models.PROTECT, related_name="leases")
    rule = models.CharField(max_length=8, choices=Rule.choices)
    # Leases name tenths of a cent, and money is never a float.
    rate_per_tap = models.DecimalField(max_digits=8, decimal_places=4, null=True, blank=True)
    index_then = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    gross_share = models.DecimalField(max_digits=5, decimal_places=4, null=True, blank=True)
    starts_on = models.DateField()
    # Never open-ended: a lease that cannot run out could not warn that it has.
    ends_on = models.DateField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_on__gt=F("starts_on")), name="lease_ends_after_it_starts"
            ),
            models.CheckConstraint(
                # A check whose outcome is NULL passes, so "is there" must be asked by itself.
                condition=(
                    Q(rule="fixed", rate_per_tap__isnull=False, rate_per_tap__gte=0)
                    | Q(
                        rule="indexed",
                        rate_per_tap__isnull=False,
                        rate_per_tap__gte=0,
                        index_then__isnull=False,
                        index_then__gt=0,
                    )
                    | Q(
                        rule="share",
                        gross_share__isnull=False,
                        gross_share__gt=0,
                        gross_share__lte=1,
                    )
                ),
                name="lease_has_the_terms_its_rule_needs",
            ),
            models.UniqueConstraint(
                # A lease renewed starts on another day; two of one day are one typed twice.
                fields=["woodlot", "starts_on"],
                name="lease_once_per_woodlot_and_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.woodlot}: {self.get_rule_display()}"

    @property
    def rate_shown(self) -> str:
        """At least cents, and the tenths of a cent that a lease may name."""
        # Without its idle noughts first, or every rate would show all four decimals.
        rate = (self.rate_per_tap or Decimal()).normalize()
        return f"{rate:.{max(2, -int(rate.as_tuple().exponent))}f}"

    @property
    def share_percent_shown(self) -> str:
        # Asked for in plain figures: normalize alone would write ten per cent as 1E+1.
        return f"{((self.gross_share or Decimal()) * 100).normalize():f}"


class PumpHouse(models.Model):
    """One place where vacuum is made and sap is let out, in a woodlot."""

    woodlot = models.ForeignKey(Woodlot, on_delete=models.PROTECT, related_name="pump_houses")
    name = models.CharField(max_length=80)
    elevation_m = models.FloatField(null=True, blank=True)
    pump = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["woodlot", "name"], name="pump_house_once_per_woodlot"),
            models.CheckConstraint(condition=~Q(name=""), name="pump_house_has_a_name"),
            models.CheckConstraint(
                condition=Q(elevation_m__isnull=True)
                | Q(elevation_m__gte=-100, elevation_m__lte=5000),
                name="pump_house_elevation_range",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Line(models.Model):
    """One stretch of tubing; its parent is the line it runs into, on the way to the pump."""

    class Kind(models.TextChoices):
        WET = "wet", "Wet conductor"
        DRY = "dry", "Dry conductor"
        MAINLINE = "main", "Mainline"
        LATERAL = "lateral", "Lateral"

    woodlot = models.ForeignKey(Woodlot, on_delete=models.PROTECT, related_name="lines")
    pump_house = models.ForeignKey(
        PumpHouse, on_delete=models.PROTECT, null=True, blank=True, related_name="lines"
    )
    parent = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="branches"
    )
    label = models.CharField(max_length=24)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    diameter_mm = models.FloatField(null=True, blank=True)
    length_m = models.FloatField(null=True, blank=True)
    fall_m = models.FloatField(null=True, blank=True)
    walk_minutes = models.FloatField(null=True, blank=True)
    installed_season = models.PositiveSmallIntegerField(null=True, blank=True)
    drops_installed_season = models.PositiveSmallIntegerField(null=True, blank=True)
    # From the pump end outwards, each point as RFC 7946 orders it: longitude, latitude and, where
    # known, metres above the sea. None while nobody has mapped the line.
    geometry = models.JSONField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                # The tag in the woods carries the label alone: there it must name one line.
                fields=["woodlot", "label"],
                name="line_label_once_per_woodlot",
            ),
            models.CheckConstraint(condition=~Q(label=""), name="line_has_a_label"),
            models.CheckConstraint(
                condition=Q(kind__in=["wet", "dry", "main", "lateral"]), name="line_kind_known"
            ),
            models.CheckConstraint(
                # Longer rings no constraint can see; the action that moves a line refuses those.
                condition=Q(parent__isnull=True) | ~Q(parent=F("id")),
                name="line_is_not_its_own_parent",
            ),
            models.CheckConstraint(
                condition=Q(diameter_mm__isnull=True) | Q(diameter_mm__gt=0),
                name="line_diameter_positive",
            ),
            models.CheckConstraint(
                condition=Q(length_m__isnull=True) | Q(length_m__gt=0), name="line_length_positive"
            ),
            models.CheckConstraint(
                # The ranking of lines knows no walk longer than a day and stops at one.
                condition=Q(walk_minutes__isnull=True)
                | Q(walk_minutes__gt=0, walk_minutes__lte=1440),
                name="line_walk_within_a_day",
            ),
            models.CheckConstraint(
                condition=Q(installed_season__isnull=True)
                | Q(installed_season__gte=1900, installed_season__lte=2200),
                name="line_installed_season_range",
            ),
            models.CheckConstraint(
                condition=Q(drops_installed_season__isnull=True)
                | Q(drops_installed_season__gte=1900, drops_installed_season__lte=2200),
                name="line_drops_season_range",
            ),
            models.CheckConstraint(
                # What each point may be, no constraint can say on both databases; the action does.
                condition=Q(geometry__isnull=True)
                | Q(geometry__1__isnull=False, geometry__2000__isnull=True),
                name="line_geometry_two_to_2000_points",
            ),
        ]

    def __str__(self) -> str:
        return self.label


class TapCount(models.Model):
    """How many taps are planned on one line itself, not on its branches, in one season."""

    # A plan is worth nothing without its line; what was done there, tallies and checks, holds
    # the line fast instead.
    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="tap_counts")
    season = models.PositiveSmallIntegerField()
    # No row means nobody counted; 0 means somebody did, and there are none.
    planned_taps = models.PositiveIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["line", "season"], name="tap_count_once_per_season"),
            models.CheckConstraint(
                condition=Q(season__gte=1900, season__lte=2200), name="tap_count_season_range"
            ),
            models.CheckConstraint(
                condition=Q(planned_taps__lte=20000), name="tap_count_believable"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.line} {self.season}: {self.planned_taps}"


class NoteQuerySet(StandingQuerySet["Note"]):
    """Notes, those taken back among them."""


class Note(TakenBack):
    """Something one person wanted remembered of a line, of a woodlot, or of neither."""

    # Made by the phone, so that however often it is sent it is one note.
    uuid = models.UUIDField(unique=True)
    woodlot = models.ForeignKey(
        Woodlot, on_delete=models.PROTECT, null=True, blank=True, related_name="notes"
    )
    line = models.ForeignKey(
        Line, on_delete=models.PROTECT, null=True, blank=True, related_name="notes"
    )
    text = models.TextField()
    noted_at = models.DateTimeField()
    received_at = models.DateTimeField()
    crew = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects = NoteQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(text=""), name="note_says_something"),
            models.CheckConstraint(
                # A line has its woodlot already; a second one beside it could be another.
                condition=Q(woodlot__isnull=True) | Q(line__isnull=True),
                name="note_of_a_line_or_a_woodlot",
            ),
            voided_by_somebody("note"),
        ]

    def __str__(self) -> str:
        return f"{self.line or self.woodlot or 'Anywhere'}: {self.text[:40]}"
