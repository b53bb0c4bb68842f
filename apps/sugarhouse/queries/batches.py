"""Batches with what their sap promised beside what was drawn."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from apps.domain.blend import Blend, Portion, blend
from apps.domain.sugar import sugar_mass_kg
from apps.sugarhouse.models import Batch, BatchSap
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


def batch_accounts(batches: Iterable[Batch], syrup_brix: float) -> list[BatchAccount]:
    """Accounts of batches read through with_sap."""
    return [_account(batch, batch.sap.all(), syrup_brix) for batch in batches]


def season_accounts(season: int, syrup_brix: float) -> list[BatchAccount]:
    """Accounts of every batch of a season, in two queries, neither naming them one by one."""
    parts: dict[int, list[BatchSap]] = {}
    for part in _parts().filter(batch__season=season):
        parts.setdefault(part.batch_id, []).append(part)
    batches = batches_of(season)
    return [_account(batch, parts.get(batch.pk, []), syrup_brix) for batch in batches]


def with_sap(batches: QuerySet[Batch]) -> QuerySet[Batch]:
    return batches.prefetch_related(Prefetch("sap", _parts())).select_related("crew")


def _parts() -> QuerySet[BatchSap]:
    return BatchSap.objects.select_related("sap_in__woodlot").order_by("sap_in__at", "pk")


def _account(batch: Batch, parts: Iterable[BatchSap], syrup_brix: float) -> BatchAccount:
    portions = [(part.volume_litres, part.sap_in.brix) for part in parts]
    drawn_litres = batch.syrup_litres
    if batch.syrup_brix != syrup_brix:
        drawn_litres = restated_litres(batch.syrup_litres, batch.syrup_brix, syrup_brix)
    expected = total(equivalent(litres, brix, syrup_brix) for litres, brix in portions)
    return BatchAccount(
        batch=batch,
        sources=_sources(parts),
        blend=blend([Portion(*portion) for portion in portions]) if portions else None,
        predicted=expected if portions else None,
        drawn_litres=drawn_litres,
    )


def _sources(parts: Iterable[BatchSap]) -> tuple[BatchSource, ...]:
    """One entry a woodlot and one for all bought sap, by name, bought last."""
    found: dict[tuple[bool, str, int | None], tuple[float, float]] = {}
    for part in parts:
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
