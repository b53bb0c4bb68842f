"""What each tank holds by its last dip, how fast it fills, and when it is full."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import F, Max, Q, QuerySet, Window
from django.db.models.functions import RowNumber

from apps.domain.errors import DomainError
from apps.domain.tank import hours_to_full
from apps.sugarhouse.models import Dip, Tank

HOUR = timedelta(hours=1)
# Beyond this nobody plans by a rate measured between two dips; and it keeps dates in range.
FARTHEST_HOURS = 24 * 30.0


@dataclass(frozen=True)
class TankNow:
    """A tank at a moment: everything in it is as of the last dip, whose age is given.

    `inflow_litres_per_hour` is None until there are two dips with no load hauled between.
    `full_at` is None when that is unknown or when it never fills at that rate.
    """

    tank: Tank
    full_litres: float | None
    last: Dip | None
    before: Dip | None
    hauled_since: bool
    inflow_litres_per_hour: float | None
    full_at: datetime | None
    hours_left: float | None

    @property
    def share_full(self) -> float | None:
        if self.last is None or not self.full_litres:
            return None
        return self.last.volume_litres / self.full_litres

    @property
    def change_litres_per_hour(self) -> float | None:
        """The rate without its sign, for a page that says whether it rose or fell."""
        rate = self.inflow_litres_per_hour
        return None if rate is None else abs(rate)

    @property
    def state(self) -> str:
        """In one word or two, the most that can honestly be said."""
        if self.last is None:
            return "no dip yet"
        if self.hauled_since:
            return "dip again"
        if self.hours_left is not None:
            return "full" if self.hours_left <= 0 else "filling"
        return "rate unknown" if self.inflow_litres_per_hour is None else "not filling"


def tanks() -> QuerySet[Tank]:
    return Tank.objects.select_related("woodlot").prefetch_related("dip_points").order_by("name")


def dips_of(tank: Tank) -> QuerySet[Dip]:
    """Its dips, newest first, those taken back among them."""
    return tank.dips.select_related("crew", "voided_by").order_by("-at", "-id")


def tanks_now(now: datetime, usable_share: float) -> list[TankNow]:
    """Every tank by its last two dips up to now, in a fixed number of queries."""
    rows = tanks().annotate(
        # Only a hauled load lowers a tank; rises, meters and counters tell of sap going in.
        hauled_at=Max("sap_in__at", filter=Q(sap_in__method="load", sap_in__at__lte=now))
    )
    dips = _last_two_dips(now)
    return [_tank_now(tank, dips.get(tank.pk, []), now, usable_share) for tank in rows]


def _last_two_dips(now: datetime) -> dict[int, list[Dip]]:
    # Two a tank by a window: a query a tank would grow with the farm.
    newest = Window(RowNumber(), partition_by=F("tank_id"), order_by=F("at").desc())
    rows = Dip.objects.standing().filter(at__lte=now).annotate(row=newest).filter(row__lte=2)
    found: dict[int, list[Dip]] = {}
    for dip in rows.order_by("tank_id", "-at"):
        found.setdefault(dip.tank_id, []).append(dip)
    return found


def _tank_now(tank: Tank, dips: list[Dip], now: datetime, usable_share: float) -> TankNow:
    last, before = (*dips, None, None)[:2]
    hauled_at: datetime | None = getattr(tank, "hauled_at", None)
    full = full_litres(tank)
    inflow = _inflow(last, before, hauled_at)
    hauled_since = last is not None and hauled_at is not None and hauled_at > last.at
    full_at = None
    # What the truck left behind, nobody knows until the next dip.
    if full and last and not hauled_since:
        full_at = _full_at(last, full, inflow, usable_share)
    return TankNow(
        tank=tank,
        full_litres=full,
        last=last,
        before=before,
        hauled_since=hauled_since,
        inflow_litres_per_hour=inflow,
        full_at=full_at,
        # Counted from now, not from the dip: an old dip must not promise hours already gone.
        hours_left=None if full_at is None else (full_at - now) / HOUR,
    )


def full_litres(tank: Tank) -> float | None:
    """What it holds to the brim; None for a dip table still too short to be read."""
    try:
        return tank.measure().full_litres
    except DomainError:  # a dip table of fewer than two points
        return None


def _inflow(last: Dip | None, before: Dip | None, hauled_at: datetime | None) -> float | None:
    if last is None or before is None:
        return None
    # A dip in the minute of the haul is taken as after it: it shows what was left.
    if hauled_at is not None and before.at < hauled_at <= last.at:
        return None
    return (last.volume_litres - before.volume_litres) / ((last.at - before.at) / HOUR)


def _full_at(
    last: Dip, full_litres: float, inflow: float | None, usable_share: float
) -> datetime | None:
    # A dip can read a hair over the brim, which the arithmetic refuses.
    held = min(last.volume_litres, full_litres)
    hours = hours_to_full(full_litres, held, inflow or 0.0, usable_share)
    return None if hours is None or hours > FARTHEST_HOURS else last.at + hours * HOUR
