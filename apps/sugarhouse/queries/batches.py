"""Batches with what their sap promised beside what was drawn."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from apps.domain.blend import Blend, Portion, blend
from apps.domain.sugar import sugar_mass_kg
from apps.sugarhouse.models import Batch
from apps.sugarhouse.prediction import Equivalent, equivalent, restated_litres, total


@dataclass(frozen=True)
class BatchSource:
    """One source's part in a batch; `woodlot_id` is None for bought sap."""

    woodlot_id: int | None
    name: str
    litres: float
    sugar_kg: float
    sugar_share: float


@dataclass(frozen=True)
class BatchAccount:
    """A batch, its sap, the syrup predicted from it, and recovery = drawn / predicted.

    Where no sap was recorded for a batch, its blend, prediction and recovery are unknown. Syrup
    drawn at another density than `syrup_brix` enters recovery as `drawn_litres`, restated.
    """

    batch: Batch
    sources: tuple[BatchSource, ...]
    blend: Blend | None
    predicted: Equivalent | None
    drawn_litres: float

    @property
    def sap_litres(self) -> float | None:
        return sum(source.litres for source in self.sources) if self.sources else None

    @property
    def recovery(self) -> float | None:
        return self.drawn_litres / self.predicted.litres if self.predicted else None

    @property
    def other_recovery(self) -> float | None:
        if self.predicted is None or not self.predicted.other_litres:
            return None
        return self.drawn_litres / self.predicted.other_litres

    @property
    def restated(self) -> bool:
        return self.drawn_litres != self.batch.syrup_litres


def batches_of(season: int) -> QuerySet[Batch]:
    return Batch.objects.filter(season=season).order_by("-number")


def batch_accounts(
    batches: "QuerySet[Batch] | Iterable[Batch]", syrup_brix: float
) -> list[BatchAccount]:
    """Accounts of batches whose sap, its receipt and its woodlot are prefetched or few."""
    return [_account(batch, syrup_brix) for batch in batches]


def with_sap(batches: QuerySet[Batch]) -> QuerySet[Batch]:
    return batches.prefetch_related("sap__sap_in__woodlot").select_related("crew")


def _account(batch: Batch, syrup_brix: float) -> BatchAccount:
    portions = [(part.volume_litres, part.sap_in.brix) for part in batch.sap.all()]
    return BatchAccount(
        batch=batch,
        sources=_sources(batch),
        blend=blend([Portion(*portion) for portion in portions]) if portions else None,
        predicted=(
            total(equivalent(litres, brix, syrup_brix) for litres, brix in portions)
            if portions
            else None
        ),
        drawn_litres=(
            batch.syrup_litres
            if batch.syrup_brix == syrup_brix
            else restated_litres(batch.syrup_litres, batch.syrup_brix, syrup_brix)
        ),
    )


def _sources(batch: Batch) -> tuple[BatchSource, ...]:
    """One entry a woodlot and one for all bought sap, by name, bought last."""
    found: dict[tuple[bool, str, int | None], tuple[float, float]] = {}
    for part in batch.sap.all():
        woodlot = part.sap_in.woodlot
        key = (False, woodlot.name, woodlot.pk) if woodlot else (True, "Bought sap", None)
        litres, sugar_kg = found.get(key, (0.0, 0.0))
        sugar_kg += sugar_mass_kg(part.volume_litres, part.sap_in.brix)
        found[key] = (litres + part.volume_litres, sugar_kg)
    whole_kg = sum(sugar_kg for _, sugar_kg in found.values())
    return tuple(
        BatchSource(key[2], key[1], litres, sugar_kg, sugar_kg / whole_kg)
        for key, (litres, sugar_kg) in sorted(found.items(), key=lambda item: item[0][:2])
    )
