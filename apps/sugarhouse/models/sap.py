"""Sap in and sap out."""

from datetime import datetime
from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from apps.sugarhouse.models.seasons import SEASON_RANGE
from apps.sugarhouse.models.tanks import Tank

READ = {"start_reading__isnull": False, "end_reading__isnull": False}


class SapInQuerySet(models.QuerySet["SapIn"]):
    """Sap received, to be narrowed and put in order."""

    def of_season(self, season: int) -> "SapInQuerySet":
        return self.filter(season=season)

    def in_stock(self) -> "SapInQuerySet":
        return self.filter(remaining_litres__gt=0)

    def oldest_first(self) -> "SapInQuerySet":
        return self.order_by("at", "pk")

    def newest_first(self) -> "SapInQuerySet":
        return self.order_by("-at", "-pk")

    def until(self, moment: datetime) -> "SapInQuerySet":
        return self.filter(at__lte=moment)


class SapIn(models.Model):
    """One amount of sap that came in: a load, a tank's rise, a meter's or dump counter's run.

    It comes from one woodlot or from one seller, never both. What has not been boiled, sold or
    dumped is `remaining_litres`. `start_reading` and `end_reading` are in the instrument's own
    unit: mm of depth for a tank's rise, litres for a meter, counts for a dump counter. A reading
    shared with another source is kept with the `share` of it that is meant here, and why. Sap whose
    sugar was not measured has no `brix`.
    """

    class Method(models.TextChoices):
        LOAD = "load", "Load hauled"
        TANK_RISE = "tank_rise", "Rise in a tank"
        METER = "meter", "Meter"
        DUMP_COUNTER = "dump_counter", "Dump counter"

    uuid = models.UUIDField(unique=True, default=uuid4)
    # Stored and not derived: the operation's local day decides it, which no query knows.
    season = models.PositiveSmallIntegerField()
    method = models.CharField(max_length=12, choices=Method.choices)
    woodlot = models.ForeignKey(
        "woods.Woodlot", on_delete=models.PROTECT, null=True, blank=True, related_name="sap_in"
    )
    # A seller is a name and no row: bought sap is one source, whoever sold it.
    seller = models.CharField(max_length=120, blank=True)
    from_tank = models.ForeignKey(
        Tank, on_delete=models.PROTECT, null=True, blank=True, related_name="sap_in"
    )
    at = models.DateTimeField()
    volume_litres = models.FloatField()
    # A column of its own and no sum over what was taken: only a column can carry the check that
    # two takers at once cannot get past.
    remaining_litres = models.FloatField()
    # Null where nobody measured it: an unknown sugar is never read as some usual one.
    brix = models.FloatField(null=True, blank=True)
    # The readings stay with the litres they gave, so that anybody can reckon them again.
    start_reading = models.FloatField(null=True, blank=True)
    end_reading = models.FloatField(null=True, blank=True)
    litres_per_count = models.FloatField(null=True, blank=True)
    # Where the instrument starts again at zero, if it did between the two readings.
    rolls_over_at = models.FloatField(null=True, blank=True)
    # Each source of a shared tank or meter has a row with its own part, never one row split.
    share = models.FloatField(default=1)
    share_rule = models.CharField(max_length=120, blank=True)
    crew = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    objects = SapInQuerySet.as_manager()

    class Meta:
        # Every list and every draw walks one season by time.
        indexes = [models.Index(fields=["season", "at"], name="sap_in_season_at")]
        # A comparison with null is null, which a check lets pass: hence the isnull beside each.
        constraints = [
            models.CheckConstraint(condition=SEASON_RANGE, name="sap_in_season_range"),
            models.CheckConstraint(
                condition=Q(woodlot__isnull=False, seller="")
                | (Q(woodlot__isnull=True) & ~Q(seller="")),
                name="sap_in_from_a_woodlot_or_a_seller",
            ),
            models.CheckConstraint(condition=Q(volume_litres__gt=0), name="sap_in_volume_positive"),
            models.CheckConstraint(
                # The last guard under every race: sap that is not there cannot be taken by
                # anyone.
                condition=Q(remaining_litres__gte=0, remaining_litres__lte=F("volume_litres")),
                name="sap_in_remaining_within_volume",
            ),
            models.CheckConstraint(
                condition=Q(brix__isnull=True) | Q(brix__gte=0.5, brix__lte=40),
                name="sap_in_brix_range",
            ),
            models.CheckConstraint(
                # Sharing is a judgement and not a measurement: the books must say by what it was
                # made.
                condition=Q(share=1) | (Q(share__gt=0, share__lt=1) & ~Q(share_rule="")),
                name="sap_in_share_says_its_rule",
            ),
            models.CheckConstraint(
                condition=(
                    Q(
                        method="load",
                        start_reading__isnull=True,
                        end_reading__isnull=True,
                        litres_per_count__isnull=True,
                        rolls_over_at__isnull=True,
                    )
                    | Q(
                        # Depths have no rolling over, and without its tank a depth is no volume.
                        method="tank_rise",
                        from_tank__isnull=False,
                        end_reading__gt=F("start_reading"),
                        litres_per_count__isnull=True,
                        rolls_over_at__isnull=True,
                        **READ,
                    )
                    | Q(method="meter", litres_per_count__isnull=True, **READ)
                    | Q(method="dump_counter", litres_per_count__isnull=False, **READ)
                ),
                name="sap_in_has_the_readings_its_method_needs",
            ),
            models.CheckConstraint(
                condition=(
                    # A rise needs no explanation and may carry none, or the figure could be read
                    # either way; a fall needs one that reaches over the start.
                    Q(end_reading__isnull=True)
                    | Q(end_reading__gt=F("start_reading"), rolls_over_at__isnull=True)
                    | Q(
                        end_reading__lt=F("start_reading"),
                        rolls_over_at__isnull=False,
                        rolls_over_at__gt=F("start_reading"),
                    )
                ),
                name="sap_in_readings_rise_or_roll_over",
            ),
            *(
                models.CheckConstraint(
                    condition=Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__gte": low}),
                    name=f"sap_in_{field}_range",
                )
                for field, low in (
                    ("start_reading", 0),
                    ("end_reading", 0),
                    ("litres_per_count", 0.01),
                )
            ),
        ]

    def __str__(self) -> str:
        return f"{self.source_name} {self.at:%Y-%m-%d %H:%M}"

    @property
    def source_name(self) -> str:
        return self.woodlot.name if self.woodlot else f"Bought from {self.seller}"

    @property
    def origin(self) -> str:
        """As it reads after "sap": from a woodlot, or bought from somebody."""
        return f"from {self.woodlot.name}" if self.woodlot else f"bought from {self.seller}"

    @property
    def untouched(self) -> bool:
        return self.remaining_litres == self.volume_litres


class SapOut(models.Model):
    """One amount of sap that left a load unboiled: sold as sap, or dumped and why."""

    class Kind(models.TextChoices):
        SOLD = "sold", "Sold as sap"
        DUMPED = "dumped", "Dumped"

    uuid = models.UUIDField(unique=True, default=uuid4)
    sap_in = models.ForeignKey(SapIn, on_delete=models.PROTECT, related_name="outs")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    at = models.DateTimeField()
    volume_litres = models.FloatField()
    reason = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.CheckConstraint(
                # Choices bind forms only; a third kind would fall out of every sum unseen.
                condition=Q(kind__in=["sold", "dumped"]),
                name="sap_out_kind_known",
            ),
            models.CheckConstraint(
                condition=Q(volume_litres__gt=0), name="sap_out_volume_positive"
            ),
            # A loss nobody can explain a year later is no record.
            models.CheckConstraint(condition=~Q(reason=""), name="sap_out_says_where_or_why"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.volume_litres:.0f} L"
