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
    """One source's part in a batch; `woodlot_id` is None for bought sap.

    Sugar is None where some of the source's sap was not measured, its share where any sap of the
    batch was not: unless it is the only source, which then has all of it.
    """

    woodlot_id: int | None
    name: str
    litres: float
    sugar_kg: float | None
    sugar_share: float | None


@dataclass(frozen=True)
class BatchAccount:
    """A batch, its sap, the syrup predicted from it, and recovery = drawn / predicted.

    Where no sap was recorded for a batch, or the sugar of some of it is unknown (`unread_litres`),
    its blend, prediction and recovery are unknown: part of the sap predicts no whole. Syrup drawn
    at another density than `syrup_brix` enters recovery as `drawn_litres`, restated.
    """

    batch: Batch
    sources: tuple[BatchSource, ...]
    blend: Blend | None
    predicted: Equivalent | None
    drawn_litres: float
    unread_litres: float = 0.0

    @property
    def shares_known(self) -> bool:
        """Whether its syrup can be shared among its sources by the sugar each brought."""
        return bool(self.sources) and all(row.sugar_share is not None for row in self.sources)

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
    # Grouped here: a prefetch would name every batch in its query, hundreds in a season.
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
    parts = list(parts)
    unread_litres = sum(part.volume_litres for part in parts if part.sap_in.brix is None)
    portions = _portions(parts)
    drawn_litres = batch.syrup_litres
    # Only then, so that a batch at the density of comparison stays the figure that was typed.
    if batch.syrup_brix != syrup_brix:
        drawn_litres = restated_litres(batch.syrup_litres, batch.syrup_brix, syrup_brix)
    expected = total(equivalent(row.volume_litres, row.brix, syrup_brix) for row in portions)
    return BatchAccount(
        batch=batch,
        sources=_sources(parts),
        blend=blend(portions) if portions else None,
        predicted=expected if portions else None,
        drawn_litres=drawn_litres,
        unread_litres=unread_litres,
    )


def _portions(parts: Iterable[BatchSap]) -> list[Portion]:
    """The batch's sap by its sugar; none at all unless all of it was measured."""
    found = []
    for part in parts:
        if part.sap_in.brix is None:
            # Part of the sap promises part of the syrup; set beside all of it, recovery would
            # flatter.
            return []
        found.append(Portion(part.volume_litres, part.sap_in.brix))
    return found


def _sources(parts: Iterable[BatchSap]) -> tuple[BatchSource, ...]:
    """One entry a woodlot and one for all bought sap, by name, bought last."""
    found: dict[tuple[bool, str, int | None], list[BatchSap]] = {}
    for part in parts:
        woodlot = part.sap_in.woodlot
        # Whoever sold it, bought sap is one source: shares are for the woodlots' sake.
        key = (False, woodlot.name, woodlot.pk) if woodlot else (True, "Bought sap", None)
        found.setdefault(key, []).append(part)
    sugar = {key: _sugar_kg(parts) for key, parts in found.items()}
    return tuple(
        BatchSource(
            woodlot_id=key[2],
            name=key[1],
            litres=sum(part.volume_litres for part in found[key]),
            sugar_kg=sugar[key],
            sugar_share=_share(sugar[key], list(sugar.values())),
        )
        for key in sorted(found, key=lambda key: key[:2])
    )


def _sugar_kg(parts: Iterable[BatchSap]) -> float | None:
    kilograms = 0.0
    for part in parts:
        if part.sap_in.brix is None:
            return None
        kilograms += sugar_mass_kg(part.volume_litres, part.sap_in.brix)
    return kilograms


def _share(sugar_kg: float | None, all_kg: list[float | None]) -> float | None:
    # The only source has all of the syrup, however sweet its sap was.
    if len(all_kg) == 1:
        return 1.0
    known = [kilograms for kilograms in all_kg if kilograms is not None]
    if sugar_kg is None or len(known) < len(all_kg):
        return None
    return sugar_kg / sum(known)
