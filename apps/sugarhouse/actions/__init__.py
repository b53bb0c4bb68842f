"""Everything that writes the sugarhouse's books."""

from apps.sugarhouse.actions.batches import record_batch, undo_batch
from apps.sugarhouse.actions.errors import (
    DipTaken,
    NoSapToBoil,
    NotEnoughSap,
    SapAlreadyUsed,
    SugarhouseError,
    SugarKnown,
)
from apps.sugarhouse.actions.sap import (
    Measurement,
    record_sap_in,
    record_sap_out,
    record_sugar,
    remove_sap_in,
    undo_sap_out,
)
from apps.sugarhouse.actions.tanks import record_dip, save_tank, void_dip

__all__ = [
    "DipTaken",
    "Measurement",
    "NoSapToBoil",
    "NotEnoughSap",
    "SapAlreadyUsed",
    "SugarKnown",
    "SugarhouseError",
    "record_batch",
    "record_dip",
    "record_sap_in",
    "record_sap_out",
    "record_sugar",
    "remove_sap_in",
    "save_tank",
    "undo_batch",
    "undo_sap_out",
    "void_dip",
]
