from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Case, F, When

from apps.operation.models import CrewMember
from apps.sugarhouse import readings
from apps.sugarhouse.actions.errors import NotEnoughSap, SapAlreadyUsed, SugarKnown
from apps.sugarhouse.models import SapIn, SapOut, Tank
from apps.sugarhouse.queries.sap import all_but_a_crumb
from apps.woods.models import Woodlot

# Far under any crumb, far over the rounding of a sum of floats.
HAIR_LITRES = 1e-6


@dataclass(frozen=True)
class Measurement:
    """How an amount of sap was measured: a volume for a load, readings for an instrument."""

    method: str
    volume_litres: float | None = None
    tank: Tank | None = None
    start: float | None = None
    end: float | None = None
    rolls_over_at: float | None = None
    litres_per_count: float | None = None
    share: float = 1.0
    share_rule: str = ""

    @property
    def litres(self) -> float:
        """The whole measured, times the share meant here; DomainError for impossible readings."""
        return self._whole_litres * self.share

    @property
    def _whole_litres(self) -> float:
        if self.volume_litres is not None:
            return self.volume_litres
        # A reading missing here goes on as 0; the database refuses the row for want of it.
        pair = readings.Readings(self.start or 0.0, self.end or 0.0, self.rolls_over_at)
        if self.method == SapIn.Method.TANK_RISE and self.tank is not None:
            return readings.tank_rise_litres(self.tank.measure(), pair)
        if self.method == SapIn.Method.METER:
            return readings.meter_litres(pair)
        return readings.dump_litres(pair, self.litres_per_count or 0.0)


def record_sap_in(
    *,
    uuid: UUID,
    season: int,
    at: datetime,
    measured: Measurement,
    brix: float | None,
    crew: CrewMember | None,
    woodlot: Woodlot | None = None,
    seller: str = "",
) -> SapIn:
    """Enter sap once; the same uuid again changes nothing and gives the first row back."""
    litres = measured.litres
    # The uuid is unique in the database: of two equal submits at once, one insert wins and the
    # other reads it.
    return SapIn.objects.get_or_create(
        uuid=uuid,
        defaults={
            "season": season,
            "method": measured.method,
            "woodlot": woodlot,
            "seller": seller,
            "from_tank": measured.tank,
            "at": at,
            "volume_litres": litres,
            "remaining_litres": litres,
            "brix": brix,
            "start_reading": measured.start,
            "end_reading": measured.end,
            "rolls_over_at": measured.rolls_over_at,
            "litres_per_count": measured.litres_per_count,
            "share": measured.share,
            "share_rule": measured.share_rule,
            "crew": crew,
        },
    )[0]


@transaction.atomic
def record_sap_out(
    *, uuid: UUID, sap_in: SapIn, kind: str, at: datetime, volume_litres: float, reason: str
) -> SapOut:
    """Take sap off a load as sold or dumped; NotEnoughSap when the load holds less."""
    # Locked, because whether a figure means all of the load depends on what it holds now.
    held = SapIn.objects.select_for_update().get(pk=sap_in.pk).remaining_litres
    litres = all_but_a_crumb(volume_litres, held)
    row, created = SapOut.objects.get_or_create(
        uuid=uuid,
        defaults={
            "sap_in": sap_in,
            "kind": kind,
            "at": at,
            "volume_litres": litres,
            "reason": reason,
        },
    )
    # Sent again, the row is there already and its sap has left the load.
    if created:
        take(sap_in, litres)
    return row


@transaction.atomic
def undo_sap_out(*, out: SapOut) -> None:
    """Strike out a sale or dumping entered by mistake; its sap is back in its load."""
    # Only the one who deletes the row gives the sap back, however often this is asked.
    if SapOut.objects.filter(pk=out.pk).delete()[0]:
        give_back(out.sap_in_id, out.volume_litres)


def record_sugar(*, sap_in: SapIn, brix: float) -> None:
    """Fill in the sugar of sap entered without it; SugarKnown when it has another reading."""
    # Only over null: every figure already told from a reading would change behind its back.
    unread = SapIn.objects.filter(pk=sap_in.pk, brix__isnull=True)
    if not unread.update(brix=brix) and SapIn.objects.get(pk=sap_in.pk).brix != brix:
        raise SugarKnown


@transaction.atomic
def remove_sap_in(*, sap_in: SapIn) -> None:
    """Strike out a load entered by mistake, while none of it has gone anywhere."""
    # Locked: between a look and a deletion somebody could boil it.
    row = SapIn.objects.select_for_update().filter(pk=sap_in.pk).first()
    if row is None:
        return
    if not row.untouched:
        raise SapAlreadyUsed
    row.delete()


def give_back(sap_in_id: int, litres: float) -> None:
    """Put sap back into the load it came from."""
    back = F("remaining_litres") + litres
    # Sums of parts may round a hair over the whole, which the database would refuse, or a hair
    # under, which would leave a load that is whole again looking used.
    whole = When(volume_litres__lte=back + HAIR_LITRES, then=F("volume_litres"))
    SapIn.objects.filter(pk=sap_in_id).update(remaining_litres=Case(whole, default=back))


def take(sap_in: SapIn, litres: float) -> None:
    """Lower what remains in one statement, so that two takers can never both have the last."""
    there = SapIn.objects.filter(pk=sap_in.pk, remaining_litres__gte=litres)
    if not there.update(remaining_litres=F("remaining_litres") - litres):
        held = SapIn.objects.values_list("remaining_litres", flat=True).get(pk=sap_in.pk)
        raise NotEnoughSap(litres, held)
