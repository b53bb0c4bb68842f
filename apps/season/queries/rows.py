"""One row of the season's review, and rows summed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from apps.season.queries.shown import Steps, per_tap
from apps.season.queries.taps import UNKNOWN, Taps
from apps.sugarhouse.queries import FATES, SourceLedger

ZERO = Decimal(0)
# A tap gives gallons of sap and hundredths of syrup: either is told to three figures.
SAP_PER_TAP_DECIMALS = 2
SYRUP_PER_TAP_DECIMALS = 3


@dataclass(frozen=True)
class SourceYield:
    """A woodlot, all woodlots, bought sap or the operation, its volumes in the unit shown.

    `sap` is all that was gathered and `fates` what became of it. `equivalent` is the syrup that
    sap should make, without what was dumped. `allocated` is this source's part of the syrup
    drawn. `mass_kg` and `sugar_kg` are of the sap gathered whose sugar was measured; `unread` is,
    by what became of it, the sap whose sugar was not: no figure of sugar or syrup knows of it.
    """

    name: str
    woodlot_id: int | None
    taps: Taps
    sap: Decimal
    receipts: int
    fates: Mapping[str, Decimal]
    unread: Mapping[str, Decimal]
    equivalent: Decimal
    equivalent_sold: Decimal
    equivalent_dumped: Decimal
    allocated: Decimal
    mass_kg: float
    sugar_kg: float
    shared_receipts: int
    share_percent: Decimal | None = None

    @property
    def mean_brix(self) -> float | None:
        return 100 * self.sugar_kg / self.mass_kg if self.mass_kg else None

    @property
    def unread_sap(self) -> Decimal:
        return sum(self.unread.values(), ZERO)

    @property
    def unread_kept(self) -> Decimal:
        """What `equivalent` leaves out for want of a reading; with it, it is a lower bound."""
        return self.unread_sap - self.unread["dumped"]

    @property
    def sap_per_tap(self) -> Decimal | None:
        return per_tap(self.sap, self.taps.count, SAP_PER_TAP_DECIMALS)

    @property
    def equivalent_per_tap(self) -> Decimal | None:
        return per_tap(self.equivalent, self.taps.count, SYRUP_PER_TAP_DECIMALS)

    @property
    def allocated_per_tap(self) -> Decimal | None:
        return per_tap(self.allocated, self.taps.count, SYRUP_PER_TAP_DECIMALS)


def source_row(
    name: str,
    woodlot_id: int | None,
    taps: Taps,
    ledger: SourceLedger | None,
    allocated: Decimal,
    unit_system: str,
) -> SourceYield:
    """A source's row; without a ledger nothing came from it."""
    sap, syrup = Steps(unit_system, 0), Steps(unit_system, 2)
    gathered = ledger.gathered_litres if ledger else 0.0
    weights = [ledger.litres[fate] for fate in FATES] if ledger else []
    # Rounded one by one, the fates would miss the sum by a gallon: largest remainder.
    parts = sap.split(gathered, weights) if any(weights) else [sap.amount(0)] * len(FATES)
    return SourceYield(
        name=name,
        woodlot_id=woodlot_id,
        taps=taps,
        sap=sap.shown(gathered),
        receipts=ledger.receipts if ledger else 0,
        fates=dict(zip(FATES, parts, strict=True)),
        unread={fate: sap.shown(ledger.unread[fate] if ledger else 0.0) for fate in FATES},
        equivalent=syrup.shown(ledger.kept.litres if ledger else 0.0),
        equivalent_sold=syrup.shown(ledger.syrup["sold"].litres if ledger else 0.0),
        equivalent_dumped=syrup.shown(ledger.syrup["dumped"].litres if ledger else 0.0),
        allocated=allocated,
        mass_kg=ledger.mass_kg if ledger else 0.0,
        sugar_kg=ledger.sugar_kg if ledger else 0.0,
        shared_receipts=ledger.shared_receipts if ledger else 0,
    )


def summed(name: str, rows: Sequence[SourceYield], taps: Taps) -> SourceYield:
    """The sum of the figures shown, column by column."""
    return SourceYield(
        name=name,
        woodlot_id=None,
        taps=taps,
        sap=sum((row.sap for row in rows), ZERO),
        receipts=sum(row.receipts for row in rows),
        fates={fate: sum((row.fates[fate] for row in rows), ZERO) for fate in FATES},
        unread={fate: sum((row.unread[fate] for row in rows), ZERO) for fate in FATES},
        equivalent=sum((row.equivalent for row in rows), ZERO),
        equivalent_sold=sum((row.equivalent_sold for row in rows), ZERO),
        equivalent_dumped=sum((row.equivalent_dumped for row in rows), ZERO),
        allocated=sum((row.allocated for row in rows), ZERO),
        mass_kg=sum(row.mass_kg for row in rows),
        sugar_kg=sum(row.sugar_kg for row in rows),
        shared_receipts=sum(row.shared_receipts for row in rows),
        share_percent=sum((row.share_percent or ZERO for row in rows), ZERO),
    )


def summed_taps(rows: Sequence[SourceYield]) -> Taps:
    """Every woodlot's taps; unknown while any woodlot that gave sap has none known."""
    # Its sap is in the sum, so dividing by the others' taps alone would flatter them all.
    if any(row.taps.count is None and row.sap for row in rows):
        return UNKNOWN
    known = [row.taps for row in rows if row.taps.count is not None]
    if not known:
        return UNKNOWN
    # Counted and planned taps added up is neither: the page names both.
    bases = sorted({taps.basis for taps in known})
    return Taps(
        sum(taps.count or 0 for taps in known),
        " and ".join(bases),
        sum(taps.lines_uncounted for taps in known),
    )
