"""Tanks and the dips taken of them."""

from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.domain import tank as tanks
from apps.operation.taken_back import StandingQuerySet, TakenBack, voided_by_somebody
from apps.sugarhouse.shapes import by_shape

SIDES = ("diameter", "length", "width", "height")


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


class DipQuerySet(StandingQuerySet["Dip"]):
    """Dips, those taken back among them."""


class Dip(TakenBack):
    """One look at a tank's depth, with the litres its shape gives at that depth.

    One read or typed wrong is taken back: its row stays, and the tank is as at the dip before.
    """

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

    objects = DipQuerySet.as_manager()

    class Meta:
        constraints = [
            # Two depths at one moment would give a rate of rise over no time at all. Of those that
            # stand: a slip must not hold its minute against the dip that mends it.
            models.UniqueConstraint(
                fields=["tank", "at"],
                condition=Q(voided_at__isnull=True),
                name="dip_once_per_tank_and_moment",
            ),
            voided_by_somebody("dip"),
            models.CheckConstraint(
                condition=Q(depth_mm__gte=0, depth_mm__lte=tanks.LARGEST_MM), name="dip_depth_range"
            ),
            models.CheckConstraint(
                condition=Q(volume_litres__gte=0), name="dip_volume_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tank} at {self.at:%Y-%m-%d %H:%M}"
