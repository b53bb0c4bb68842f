"""Writing down what a gauge showed."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from apps.leaks.actions.errors import AnotherReading, NotYours, SentBefore
from apps.leaks.models import GaugeReading
from apps.operation.models import CrewMember
from apps.woods.models import PumpHouse

# The same number typed twice may differ in its last bits once converted; never by more.
SAME_KPA = 1e-6


@transaction.atomic
def record_gauge_reading(
    *,
    uuid: UUID,
    pump_house: PumpHouse,
    read_at: datetime,
    vacuum_kpa: float,
    crew: CrewMember | None = None,
    note: str = "",
) -> GaugeReading:
    """Write one gauge reading; the same one sent again is the same row, taken back or not.

    SentBefore when the identifier belongs to another reading, AnotherReading when a different
    number stands at that very moment.
    """
    # One gauge, one writer: two sends at once meet here and not at the constraint.
    PumpHouse.objects.select_for_update().get(pk=pump_house.pk)
    # By its identifier first and among all: one taken back must not come again with a late resend.
    if same := GaugeReading.objects.filter(uuid=uuid).first():
        if same.pump_house_id != pump_house.pk or abs(same.vacuum_kpa - vacuum_kpa) > SAME_KPA:
            raise SentBefore(same)
        return same
    # Among those that stand: one taken back leaves its moment to the reading that replaces it.
    reading, is_new = GaugeReading.objects.get_or_create(
        pump_house=pump_house,
        read_at=read_at,
        voided_at__isnull=True,
        defaults={"uuid": uuid, "vacuum_kpa": vacuum_kpa, "note": note, "crew": crew},
    )
    if not is_new and abs(reading.vacuum_kpa - vacuum_kpa) > SAME_KPA:
        raise AnotherReading(reading)
    return reading


def void_gauge_reading(*, reading: GaugeReading, by: CrewMember, at: datetime) -> None:
    """Take a mistyped reading back: its row stays and counts for nothing; done twice it is once."""
    if reading.crew_id != by.pk and not by.is_owner:
        raise NotYours("Only the one who wrote a reading down, or an owner, can take it back.")
    GaugeReading.objects.standing().filter(pk=reading.pk).update(voided_at=at, voided_by=by)
