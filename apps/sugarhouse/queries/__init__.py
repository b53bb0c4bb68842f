"""What the sugarhouse's books say, for its own pages and the season's."""

from apps.sugarhouse.queries.batches import (
    BatchAccount,
    BatchSource,
    batch_accounts,
    batches_of,
    season_accounts,
    with_sap,
)
from apps.sugarhouse.queries.ledger import (
    FATES,
    SourceLedger,
    sap_by_day,
    sap_by_source,
    sap_by_woodlot,
)
from apps.sugarhouse.queries.sap import (
    Stock,
    draw_plan,
    last_readings,
    receipts,
    sap_received,
    seasons_on_record,
    stock,
)
from apps.sugarhouse.queries.tanks import TankNow, dips_of, full_litres, tanks, tanks_now

__all__ = [
    "FATES",
    "BatchAccount",
    "BatchSource",
    "SourceLedger",
    "Stock",
    "TankNow",
    "batch_accounts",
    "batches_of",
    "dips_of",
    "draw_plan",
    "full_litres",
    "last_readings",
    "receipts",
    "sap_by_day",
    "sap_by_source",
    "sap_by_woodlot",
    "sap_received",
    "season_accounts",
    "seasons_on_record",
    "stock",
    "tanks",
    "tanks_now",
    "with_sap",
]
