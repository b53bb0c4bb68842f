from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from django.db import transaction

from apps.operation.models import CrewMember
from apps.sugarhouse.actions.errors import NoSapToBoil, NotEnoughSap
from apps.sugarhouse.actions.sap import give_back, take
from apps.sugarhouse.models import Batch, BatchSap, SapIn
from apps.sugarhouse.queries.sap import CRUMB_LITRES, all_but_a_crumb, draw_plan, next_batch_number


@transaction.atomic
def record_batch(
    *,
    uuid: UUID,
    season: int,
    boiled_at: datetime,
    syrup_litres: float,
    syrup_brix: float,
    crew: CrewMember | None,
    sap_litres: float | None = None,
    draws: Mapping[int, float] | None = None,
    note: str = "",
) -> Batch:
    """Enter a boil once and draw its sap: `draws` by load id, else `sap_litres` oldest first.

    NotEnoughSap when less had come in by then, NoSapToBoil when nothing is asked for.
    """
    # Locked in the order they are drawn, so that two boils at once wait and do not deadlock.
    loads = _loads_on_hand(season, boiled_at)
    # Asked after the lock, so that the second of two equal submits finds the first one's row.
    if same := Batch.objects.filter(uuid=uuid).first():
        return same
    plan = _plan(loads, sap_litres or 0.0, draws or {})
    batch = Batch.objects.create(
        uuid=uuid,
        season=season,
        # Inside the lock, so that two boils at once do not both become number 7.
        number=next_batch_number(season),
        boiled_at=boiled_at,
        syrup_litres=syrup_litres,
        syrup_brix=syrup_brix,
        note=note,
        crew=crew,
    )
    # Lowered first: a load that cannot give this much refuses before any part is written.
    for load, litres in plan:
        take(load, litres)
    BatchSap.objects.bulk_create(
        BatchSap(batch=batch, sap_in=load, volume_litres=litres) for load, litres in plan
    )
    return batch


@transaction.atomic
def undo_batch(*, batch: Batch) -> None:
    """Strike out a batch entered by mistake and give its sap back to where it came from."""
    # Read from the database and not from the batch in hand: struck out twice, there are no parts
    # left to give back.
    for part in BatchSap.objects.filter(batch=batch).select_for_update():
        give_back(part.sap_in_id, part.volume_litres)
    Batch.objects.filter(pk=batch.pk).delete()


def _loads_on_hand(season: int, boiled_at: datetime) -> list[SapIn]:
    """Locked where the database can, so that two boils cannot plan on the same sap."""
    rows = SapIn.objects.of_season(season).in_stock().until(boiled_at).oldest_first()
    return list(rows.select_for_update())


def _plan(
    loads: list[SapIn], sap_litres: float, draws: Mapping[int, float]
) -> list[tuple[SapIn, float]]:
    if draws:
        by_id = {load.pk: load for load in loads}
        # Named while the form was open and used up by somebody since, or not yet in by then.
        if missing := set(draws) - set(by_id):
            raise NotEnoughSap(sum(draws[pk] for pk in missing), 0.0)
        return [
            (by_id[pk], all_but_a_crumb(litres, by_id[pk].remaining_litres))
            for pk, litres in draws.items()
            if litres > 0
        ]
    if sap_litres <= 0:
        raise NoSapToBoil
    there_litres = sum(load.remaining_litres for load in loads)
    # The figure shown is rounded; typed back, it may lie a crumb over what is there.
    if sap_litres - there_litres > CRUMB_LITRES:
        raise NotEnoughSap(sap_litres, there_litres)
    return draw_plan(loads, sap_litres)
