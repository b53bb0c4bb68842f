"""The sugarhouse's books: tanks and dips, sap in and out, and what was boiled from it."""

from apps.sugarhouse.models.batches import Batch, BatchSap
from apps.sugarhouse.models.sap import SapIn, SapInQuerySet, SapOut
from apps.sugarhouse.models.tanks import Dip, DipPoint, DipQuerySet, Tank

__all__ = [
    "Batch",
    "BatchSap",
    "Dip",
    "DipPoint",
    "DipQuerySet",
    "SapIn",
    "SapInQuerySet",
    "SapOut",
    "Tank",
]
