"""The season's yield: what each woodlot gave, what became of it, its part of the syrup drawn.

Every column adds up in the unit shown, because totals are sums of the figures shown. Syrup drawn
is shared out batch by batch, by the sugar each source brought, by largest remainder.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from apps.season.queries.rows import ZERO, SourceYield, source_row, summed, summed_taps
from apps.season.queries.shown import Steps, percent_shares
from apps.season.queries.taps import UNKNOWN, taps_by_woodlot
from apps.sugarhouse import queries as sugarhouse
from apps.sugarhouse.prediction import Equivalent, total
from apps.sugarhouse.queries import BatchAccount
from apps.woods.models import Woodlot


@dataclass(frozen=True)
class Recovery:
    """Syrup drawn over syrup predicted, over the batches whose sap and its sugar are known.

    Litres are of syrup at the density of comparison, so that batches of any density add up.
    """

    drawn_litres: float
    as_drawn_litres: float
    predicted: Equivalent
    batches: int
    batches_without_sap: int
    batches_unread: int

    @property
    def restated(self) -> bool:
        return self.drawn_litres != self.as_drawn_litres

    @property
    def share(self) -> float | None:
        return self.drawn_litres / self.predicted.litres if self.predicted.litres else None

    @property
    def other_share(self) -> float | None:
        if not self.predicted.other_litres:
            return None
        return self.drawn_litres / self.predicted.other_litres


@dataclass(frozen=True)
class SeasonYield:
    """A season's review.

    `untraced` is the syrup of batches without sap in the books; `unshared` that of batches from
    several sources where the sugar of some sap is unknown, so that nobody can say whose it is.
    """

    season: int
    unit: str
    woodlots: tuple[SourceYield, ...]
    all_woodlots: SourceYield
    bought: SourceYield | None
    operation: SourceYield
    untraced: Decimal
    unshared: Decimal
    drawn: Decimal
    recovery: Recovery
    astray_litres: float

    @property
    def is_empty(self) -> bool:
        return not self.operation.receipts and not self.drawn


def season_yield(season: int, unit_system: str, syrup_brix: float) -> SeasonYield:
    """Read the season's books into rows that add up."""
    accounts = sugarhouse.season_accounts(season, syrup_brix)
    # Every figure below comes from these two reads, so that no two tables can disagree.
    ledgers = sugarhouse.sap_by_source(season, syrup_brix)
    taps = taps_by_woodlot(season)
    steps = Steps(unit_system, 2)
    allocated = allocate(accounts, steps)
    sources = [
        # Every woodlot, with sap or without: one that gave none is a finding.
        *Woodlot.objects.order_by("name").values_list("pk", "name"),
        (None, "Bought sap"),
    ]
    rows = [
        source_row(
            name,
            source,
            taps.get(source or 0, UNKNOWN),
            ledgers.get(source),
            allocated.get(source, steps.amount(0)),
            unit_system,
        )
        for source, name in sources
    ]
    # Shares are of all the syrup drawn, so bought sap has to be among them.
    *own, bought = _with_shares(rows)
    return SeasonYield(
        season=season,
        unit=steps.unit,
        woodlots=tuple(own),
        all_woodlots=summed("All woodlots", own, summed_taps(own)),
        bought=bought if None in ledgers else None,
        # The operation has no taps of its own: part of its sap came from other people's.
        operation=summed("Operation", [*own, bought], UNKNOWN),
        untraced=_drawn((row for row in accounts if not row.sources), steps),
        unshared=_drawn((row for row in accounts if row.sources and not row.shares_known), steps),
        drawn=_drawn(accounts, steps),
        recovery=_recovery(accounts),
        astray_litres=sum(ledger.astray_litres for ledger in ledgers.values()),
    )


def allocate(accounts: Iterable[BatchAccount], steps: Steps) -> dict[int | None, Decimal]:
    """Syrup drawn by source (None: bought sap); each batch's parts sum to the batch as shown."""
    found: dict[int | None, Decimal] = {}
    for account in accounts:
        if not account.shares_known:
            continue
        weights = [source.sugar_share or 0.0 for source in account.sources]
        # Batch by batch: each is a sale-able amount that somebody can check against the barrel.
        parts = steps.split(account.batch.syrup_litres, weights)
        for source, part in zip(account.sources, parts, strict=True):
            # Decimals of whole steps add up without a rest.
            found[source.woodlot_id] = found.get(source.woodlot_id, ZERO) + part
    return found


def _with_shares(rows: Sequence[SourceYield]) -> list[SourceYield]:
    shares = percent_shares([row.allocated for row in rows])
    return [replace(row, share_percent=share) for row, share in zip(rows, shares, strict=True)]


def _drawn(accounts: Iterable[BatchAccount], steps: Steps) -> Decimal:
    # The sum of the batches as read, not the batches' sum as rounded.
    return sum((steps.shown(row.batch.syrup_litres) for row in accounts), ZERO)


def _recovery(accounts: Sequence[BatchAccount]) -> Recovery:
    # A batch that promises nothing known would put its syrup over no sap.
    traced = [row for row in accounts if row.predicted is not None]
    return Recovery(
        drawn_litres=sum(row.drawn_litres for row in traced),
        as_drawn_litres=sum(row.batch.syrup_litres for row in traced),
        predicted=total(row.predicted for row in traced if row.predicted is not None),
        batches=len(accounts),
        batches_without_sap=sum(not row.sources for row in accounts),
        batches_unread=sum(row.unread_litres > 0 for row in accounts),
    )
