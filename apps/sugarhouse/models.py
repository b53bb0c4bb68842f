"""The sugarhouse's books: tanks and dips, sap in and out, and what was boiled from it."""

from datetime import datetime
from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from apps.domain import tank as tanks
from apps.sugarhouse.shapes import by_shape

# A season typed as 26 or 20226 is a slip, and would found books of its own.
SEASON_RANGE = Q(season__gte=1900, season__lte=2200)
SIDES = ("diameter", "length", "width", "height")
READ = {"start_reading__isnull": False, "end_reading__isnull": False}


def _with_sides(*needed: str, **shape: object) -> Q:
    """A tank of this shape with these sides and no others."""
    return Q(**shape, **{f"{side}_mm__isnull": side not in needed for side in SIDES})


class Tank(models.Model):
    """One tank for sap, by its inside measures or by its own dip table.

    Without a woodlot it stands at the sugarhouse. A measure its shape does not need is null.
    """

    class Shape(models.TextChoices):
        VERTICAL = "vertical", "Round, standing"
        HORIZONTAL = "horizontal", "Round, on its side"
        OVAL = "oval", "Oval with flat sides"
        BOX = "box", "Four upright sides"
        TABLE = "table", "By its own dip table"

    # Minted with the form: a phone that lost the answer sends it again and meets its own row.
    uuid = models.UUIDField(unique=True, default=uuid4)
    # Crew tell tanks apart by name alone, on paper and in the list they choose from.
    name = models.CharField(max_length=80, unique=True)
    woodlot = models.ForeignKey(
        "woods.Woodlot", on_delete=models.PROTECT, null=True, blank=True, related_name="tanks"
    )
    shape = models.CharField(max_length=10, choices=Shape.choices)
    # Null where the shape has no such side: a zero would read as a tank without room.
    diameter_mm = models.FloatField(null=True, blank=True)
    length_mm = models.FloatField(null=True, blank=True)
    width_mm = models.FloatField(null=True, blank=True)
    height_mm = models.FloatField(null=True, blank=True)

    class Meta:
        constraints = [
            # Django's blank=False binds forms only; a row from elsewhere could still have none.
            models.CheckConstraint(condition=~Q(name=""), name="tank_has_a_name"),
            models.CheckConstraint(
                condition=(
                    _with_sides("diameter", "height", shape="vertical")
                    | _with_sides("diameter", "length", shape="horizontal")
                    | _with_sides("width", "height", "length", shape__in=["oval", "box"])
                    | _with_sides(shape="table")
                ),
                name="tank_has_the_measures_its_shape_needs",
            ),
            *(
                models.CheckConstraint(
                    condition=Q(**{f"{side}_mm__isnull": True})
                    | Q(**{f"{side}_mm__gte": 1, f"{side}_mm__lte": tanks.LARGEST_MM}),
                    name=f"tank_{side}_range",
                )
                # The upper end catches a tank typed in the wrong unit, a hundred times too large.
                for side in SIDES
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def measure(self) -> tanks.Tank:
        """The tank as the arithmetic knows it; DomainError for a table that cannot be read."""
        if self.shape == self.Shape.TABLE:
            return tanks.DipTable(
                tuple(sorted((point.depth_mm, point.litres) for point in self.dip_points.all()))
            )
        return by_shape(
            self.shape,
            diameter_mm=self.diameter_mm or 0.0,
            length_mm=self.length_mm or 0.0,
            width_mm=self.width_mm or 0.0,
            height_mm=self.height_mm or 0.0,
        )


class DipPoint(models.Model):
    """One line of a tank's own dip table: so many litres at such a depth."""

    # Part of its tank, and rewritten as a whole whenever the tank is corrected.
    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="dip_points")
    depth_mm = models.FloatField()
    litres = models.FloatField()

    class Meta:
        constraints = [
            # Two volumes at one depth leave the reading between them open.
            models.UniqueConstraint(fields=["tank", "depth_mm"], name="dip_point_once_per_depth"),
            models.CheckConstraint(
                condition=Q(depth_mm__gte=0, depth_mm__lte=tanks.LARGEST_MM),
                name="dip_point_depth_range",
            ),
            models.CheckConstraint(
                condition=Q(litres__gte=0), name="dip_point_litres_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tank}: {self.depth_mm} mm"


class Dip(models.Model):
    """One look at a tank's depth, with the litres its shape gives at that depth."""

    uuid = models.UUIDField(unique=True, default=uuid4)
    tank = models.ForeignKey(Tank, on_delete=models.PROTECT, related_name="dips")
    at = models.DateTimeField()
    depth_mm = models.FloatField()
    # Kept beside the depth, so that a level is known without its tank's shape; correcting the
    # tank reads every dip again.
    volume_litres = models.FloatField()
    crew = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        constraints = [
            # Two depths at one moment would give a rate of rise over no time at all.
            models.UniqueConstraint(fields=["tank", "at"], name="dip_once_per_tank_and_moment"),
            models.CheckConstraint(
                condition=Q(depth_mm__gte=0, depth_mm__lte=tanks.LARGEST_MM), name="dip_depth_range"
            ),
            models.CheckConstraint(
                condition=Q(volume_litres__gte=0), name="dip_volume_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tank} at {self.at:%Y-%m-%d %H:%M}"


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


class Batch(models.Model):
    """One boil, from lighting up to the last draw-off, and the syrup drawn in it."""

    uuid = models.UUIDField(unique=True, default=uuid4)
    season = models.PositiveSmallIntegerField()
    # Written on the barrels, so it counts from one within each season.
    number = models.PositiveIntegerField()
    boiled_at = models.DateTimeField()
    syrup_litres = models.FloatField()
    syrup_brix = models.FloatField()
    # Sweet carried over, a scorched pan: what explains a recovery that looks wrong.
    note = models.CharField(max_length=200, blank=True)
    crew = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["season", "number"], name="batch_number_once_per_season"
            ),
            models.CheckConstraint(condition=SEASON_RANGE, name="batch_season_range"),
            models.CheckConstraint(condition=Q(number__gte=1), name="batch_number_from_one"),
            models.CheckConstraint(condition=Q(syrup_litres__gt=0), name="batch_syrup_positive"),
            models.CheckConstraint(
                # Wider than any rule of sale: what was drawn too thin or too dense is entered as
                # it was.
                condition=Q(syrup_brix__gte=60, syrup_brix__lte=70),
                name="batch_brix_range",
            ),
        ]

    def __str__(self) -> str:
        return f"Batch {self.number} of {self.season}"


class BatchSap(models.Model):
    """How much of one sap receipt went into one batch."""

    # Parts go with their batch when it is struck out; a load they came from cannot go before
    # them.
    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="sap")
    sap_in = models.ForeignKey(SapIn, on_delete=models.PROTECT, related_name="boiled")
    volume_litres = models.FloatField()

    class Meta:
        constraints = [
            # One row a load, so that striking a batch out gives each load its sap back once.
            models.UniqueConstraint(fields=["batch", "sap_in"], name="batch_sap_once_per_receipt"),
            models.CheckConstraint(
                condition=Q(volume_litres__gt=0), name="batch_sap_volume_positive"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch}: {self.volume_litres:.0f} L"
