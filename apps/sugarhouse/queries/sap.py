"""Sap received and sap still here."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import F, Max, QuerySet, Window
from django.db.models.functions import RowNumber

from apps.domain.blend import Portion, blend
from apps.sugarhouse.models import Batch, SapIn, SapInQuerySet

# Less than any dipstick, meter or dump counter tells: such a rest is rounding, not sap.
CRUMB_LITRES = 0.05


@dataclass(frozen=True)
class Stock:
    """Sap here and not yet boiled, sold or dumped.

    `brix` is of the sap whose sugar was measured, None where there is none of it; `unread_litres`
    is the rest.
    """

    litres: float
    unread_litres: float
    brix: float | None
    loads: tuple[SapIn, ...]

    @property
    def oldest_at(self) -> datetime | None:
        # Loads come oldest first.
        return self.loads[0].at if self.loads else None


def sap_received(season: int) -> SapInQuerySet:
    return SapIn.objects.of_season(season).select_related("woodlot", "from_tank").newest_first()


def receipts() -> SapInQuerySet:
    """Each receipt with all that became of it, for its own page."""
    rows = SapIn.objects.select_related("woodlot", "from_tank", "crew")
    return rows.prefetch_related("outs", "boiled__batch")


def stock(season: int, at: datetime | None = None) -> Stock:
    """What is on hand, oldest first; only what had come in by a moment when one is given."""
    rows = SapIn.objects.of_season(season).in_stock().select_related("woodlot").oldest_first()
    loads = tuple(rows if at is None else rows.until(at))
    read = [Portion(load.remaining_litres, load.brix) for load in loads if load.brix is not None]
    return Stock(
        litres=sum(load.remaining_litres for load in loads),
        unread_litres=sum(load.remaining_litres for load in loads if load.brix is None),
        brix=blend(read).brix if read else None,
        loads=loads,
    )


def all_but_a_crumb(litres: float, there_litres: float) -> float:
    """What is there, exactly, when what is wanted is as good as all of it."""
    # Otherwise each boil of 'all of it' would leave drops in the books that nobody can boil.
    return there_litres if abs(litres - there_litres) <= CRUMB_LITRES else litres


def draw_plan(loads: Iterable[SapIn], litres: float) -> list[tuple[SapIn, float]]:
    """Which loads a draw takes from, in the order given, until it has its litres or they end."""
    plan = []
    left = litres
    for load in loads:
        there_litres = load.remaining_litres
        taken = all_but_a_crumb(min(left, there_litres), there_litres)
        # Oldest first, as sap spoils: what stands longest goes into the pan first.
        plan.append((load, taken))
        left -= taken
        if left <= CRUMB_LITRES:
            break
    return plan


def last_readings(season: int) -> QuerySet[SapIn]:
    """The newest reading of each woodlot's every instrument, to carry on from."""
    newest = Window(
        RowNumber(),
        # Sellers have no id, and one woodlot may have two tanks: each carries on by itself.
        partition_by=[F("woodlot_id"), F("seller"), F("method"), F("from_tank_id")],
        order_by=[F("at").desc(), F("pk").desc()],
    )
    read = SapIn.objects.of_season(season).filter(end_reading__isnull=False)
    return (
        read.annotate(row=newest)
        .filter(row=1)
        .select_related("woodlot", "from_tank")
        .order_by("woodlot__name", "seller", "method")
    )


def seasons_on_record(current: int) -> list[int]:
    """Every season with sap or a batch, newest first, and the one under way."""
    # A batch may have no sap in the books, and a season may have no batch yet.
    found = set(SapIn.objects.values_list("season", flat=True).distinct())
    found |= set(Batch.objects.values_list("season", flat=True).distinct())
    return sorted(found | {current}, reverse=True)


def next_batch_number(season: int) -> int:
    last: int | None = Batch.objects.filter(season=season).aggregate(last=Max("number"))["last"]
    # After the highest and not by counting: a number struck out early stays empty, as barrels of
    # later batches already bear theirs.
    return (last or 0) + 1
