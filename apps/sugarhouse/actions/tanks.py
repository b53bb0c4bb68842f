from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from apps.operation.models import CrewMember
from apps.sugarhouse.actions.errors import DipTaken
from apps.sugarhouse.models import Dip, DipPoint, Tank


@transaction.atomic
def save_tank(
    *, tank: Tank | None, points: Sequence[tuple[float, float]], values: dict[str, Any]
) -> Tank:
    """Add or correct a tank and its dip table; its standing dips are read again by the new shape.

    DomainError when a past dip does not fit the new shape. Sap already entered stays as it is.
    """
    # A form sent twice finds the tank it made the first time.
    if tank is None:
        tank = Tank.objects.filter(uuid=values["uuid"]).first() or Tank()
    for name, value in values.items():
        setattr(tank, name, value)
    tank.save()
    # A table is corrected as a whole: matching its old lines to the new ones would guess.
    tank.dip_points.all().delete()
    DipPoint.objects.bulk_create(
        DipPoint(tank=tank, depth_mm=depth_mm, litres=litres) for depth_mm, litres in points
    )
    # Read anew: the row in hand may still carry the old table, prefetched for the form.
    measure = Tank.objects.get(pk=tank.pk).measure()
    # A dip taken back may have been of a depth no shape of this tank could have.
    dips = list(tank.dips.standing())
    for dip in dips:
        dip.volume_litres = measure.volume_litres(dip.depth_mm)
    Dip.objects.bulk_update(dips, ["volume_litres"])
    return tank


def void_dip(*, dip: Dip, by: CrewMember, at: datetime) -> None:
    """Take back a dip read or typed wrong; the tank then stands as at the dip before.

    Anybody may, as with all the sugarhouse's books; who and when stays with the row.
    """
    Dip.objects.standing().filter(pk=dip.pk).update(voided_at=at, voided_by=by)


@transaction.atomic
def record_dip(
    *, uuid: UUID, tank: Tank, at: datetime, depth_mm: float, crew: CrewMember | None
) -> Dip:
    """Enter a dip with the litres the tank's shape gives it; once per uuid, taken back or not.

    DomainError for a depth the tank has not, DipTaken for a second dip at the same moment.
    """
    volume_litres = tank.measure().volume_litres(depth_mm)
    # Before the moment is looked at, or a second submit would clash with its own first.
    if same := Dip.objects.filter(uuid=uuid).first():
        return same
    dip, created = Dip.objects.get_or_create(
        tank=tank,
        at=at,
        voided_at__isnull=True,
        defaults={
            "uuid": uuid,
            "depth_mm": depth_mm,
            "volume_litres": volume_litres,
            "crew": crew,
        },
    )
    if not created:
        raise DipTaken
    return dip
