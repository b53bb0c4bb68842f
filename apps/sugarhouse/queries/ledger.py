"""The season's sap by where it came from and where it went."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, tzinfo

from django.db.models import Sum
from django.db.models.functions import TruncDate

from apps.domain.sugar import density_kg_m3, sugar_mass_kg
from apps.sugarhouse.models import BatchSap, SapIn, SapOut
from apps.sugarhouse.prediction import NOTHING, Equivalent, equivalent

FATES = ("boiled", "sold", "dumped", "stock")


@dataclass(frozen=True)
class SourceLedger:
    """One source's sap over a season: litres and syrup-equivalent by what became of it.

    `woodlot_id` is None for bought sap, whoever sold it. `unread` are the litres, of those in
    `litres`, whose sugar nobody measured: they are in no figure of mass, sugar or syrup.
    """

    woodlot_id: int | None
    receipts: int
    shared_receipts: int
    gathered_litres: float
    mass_kg: float
    sugar_kg: float
    litres: Mapping[str, float]
    unread: Mapping[str, float]
    syrup: Mapping[str, Equivalent]

    @property
    def kept(self) -> Equivalent:
        """Syrup-equivalent of all but what was dumped."""
        return self.syrup["boiled"] + self.syrup["sold"] + self.syrup["stock"]

    @property
    def astray_litres(self) -> float:
        """Litres that came in and are nowhere in the books; 0 while the books balance."""
        return self.gathered_litres - sum(self.litres.values())


def sap_by_source(season: int, syrup_brix: float) -> dict[int | None, SourceLedger]:
    """Woodlot id, or None for bought sap, to its ledger; in four queries whatever the season."""
    # By receipt and not by source, because sugar belongs to the receipt.
    fates = _fates(season)
    grouped: dict[int | None, list[SapIn]] = defaultdict(list)
    for row in SapIn.objects.of_season(season).only(
        # A season has hundreds of loads: only the columns that the sums need.
        "woodlot_id",
        "volume_litres",
        "remaining_litres",
        "brix",
        "share",
    ):
        grouped[row.woodlot_id].append(row)
    return {source: _ledger(source, rows, fates, syrup_brix) for source, rows in grouped.items()}


def sap_by_woodlot(season: int, syrup_brix: float) -> dict[int, SourceLedger]:
    """The woodlots' own sap, without what was bought."""
    ledgers = sap_by_source(season, syrup_brix)
    return {source: row for source, row in ledgers.items() if source is not None}


def sap_by_day(seasons: list[int], zone: tzinfo) -> dict[int, dict[date, float]]:
    """Season to local day to litres from the operation's own woodlots."""
    rows = (
        # Bought sap says nothing about how the operation's own trees ran.
        SapIn.objects.filter(season__in=seasons, woodlot__isnull=False)
        .annotate(day=TruncDate("at", tzinfo=zone))
        .values_list("season", "day")
        .annotate(litres=Sum("volume_litres"))
        .order_by("day")
    )
    found: dict[int, dict[date, float]] = {season: {} for season in seasons}
    for season, day, litres in rows:
        found[season][day] = litres
    return found


def _fates(season: int) -> dict[str, dict[int, float]]:
    """What of each receipt was boiled, sold and dumped, by receipt."""
    boiled = BatchSap.objects.filter(sap_in__season=season).values_list("sap_in_id")
    outs = SapOut.objects.filter(sap_in__season=season).values_list("kind", "sap_in_id")
    fates: dict[str, dict[int, float]] = {
        "boiled": dict(boiled.annotate(litres=Sum("volume_litres"))),
        "sold": {},
        "dumped": {},
    }
    for kind, sap_in, litres in outs.annotate(litres=Sum("volume_litres")):
        fates[kind][sap_in] = litres
    return fates


def _ledger(
    source: int | None,
    rows: list[SapIn],
    fates: Mapping[str, Mapping[int, float]],
    syrup_brix: float,
) -> SourceLedger:
    litres = dict.fromkeys(FATES, 0.0)
    unread = dict.fromkeys(FATES, 0.0)
    syrup = dict.fromkeys(FATES, NOTHING)
    for row in rows:
        for fate in FATES:
            # Stock is what the row itself still holds; the rest is read from what was written of
            # it, so that a litre astray shows.
            amount = row.remaining_litres if fate == "stock" else fates[fate].get(row.pk, 0.0)
            litres[fate] += amount
            # By fate, as sap dumped unread is missing from the loss alone.
            unread[fate] += amount if row.brix is None else 0.0
            syrup[fate] += equivalent(amount, row.brix, syrup_brix)
    read = [(row.volume_litres, row.brix) for row in rows if row.brix is not None]
    return SourceLedger(
        woodlot_id=source,
        receipts=len(rows),
        shared_receipts=sum(row.share < 1 for row in rows),
        gathered_litres=sum(row.volume_litres for row in rows),
        mass_kg=sum(litres_in / 1000 * density_kg_m3(brix) for litres_in, brix in read),
        sugar_kg=sum(sugar_mass_kg(litres_in, brix) for litres_in, brix in read),
        litres=litres,
        unread=unread,
        syrup=syrup,
    )
