"""The hours gone by in each woodlot: as measured there, else as last forecast for it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from apps.operation.queries import Constants
from apps.outlook.likelihood import DAY, HOUR, Span, middle
from apps.weather.models import HourlySeries
from apps.weather.queries.grid import to_woodlot
from apps.weather.queries.readings import own_records
from apps.woods.models import Woodlot

# Ensembles are large: they stand in only for the few days that bear on today's likelihood.
DAYS_OF_ENSEMBLES = 4


@dataclass(frozen=True, eq=False)
class GoneBy:
    """Hours up to now, NaN where nobody knows, and how many are from where."""

    hours: Span
    measured: int
    forecast: int


def gone_by(
    woodlots: Sequence[Woodlot], start_at: datetime, constants: Constants, now: datetime
) -> dict[int, GoneBy]:
    """The hours of each woodlot from `start_at`, a whole UTC hour, by its id.

    As many questions for one woodlot as for sixty.
    """
    lapse = constants.number("weather.lapse_c_per_m")
    records = own_records(woodlots)
    runs = _runs(woodlots, start_at, now)
    return {
        lot.pk: _joined(
            [Span(one.start_at, one.temps_c) for one in [records.get(lot.pk)] if one],
            [_at_woodlot(row, lot, lapse) for row in runs.get(lot.pk, [])],
            start_at,
            max(0, (now - start_at) // HOUR),
        )
        for lot in woodlots
    }


def _joined(
    measured: Iterable[Span], forecast: Iterable[Span], start_at: datetime, hours: int
) -> GoneBy:
    seen, told = np.full(hours, np.nan), np.full(hours, np.nan)
    for known, spans in ((seen, measured), (told, forecast)):
        for span in spans:
            # The first to know an hour has the word on it.
            np.copyto(known, span.laid_on(start_at, hours), where=np.isnan(known))
    whole = np.where(np.isnan(seen), told, seen)
    by_measure = int((~np.isnan(seen)).sum())
    return GoneBy(Span(start_at, whole), by_measure, int((~np.isnan(whole)).sum()) - by_measure)


def _runs(
    woodlots: Sequence[Woodlot], start_at: datetime, now: datetime
) -> dict[int, list[HourlySeries]]:
    """The last run of each day, the newest first: the later a run, the less was forecast in it."""
    rows = HourlySeries.objects.filter(
        woodlot__in=woodlots, run__fetched_at__range=(start_at, now)
    ).order_by("run__fetched_at", "pk")
    columns = ("pk", "woodlot_id", "start_at", "members", "run__fetched_at")
    last_of_day: dict[tuple[int, object], int] = {}
    # Sorted by time, later rows replace earlier ones; of two kinds the single forecast is smaller.
    for pk, lot, begins, members, fetched in sorted(rows.values_list(*columns), key=_few_last):
        if members == 1 or now - fetched <= DAYS_OF_ENSEMBLES * DAY:
            last_of_day[lot, begins.date()] = pk
    found: dict[int, list[HourlySeries]] = {}
    chosen = HourlySeries.objects.filter(pk__in=last_of_day.values())
    for row in chosen.order_by("-start_at", "-pk"):
        found.setdefault(row.woodlot_id, []).append(row)
    return found


def _few_last(row: tuple[int, int, datetime, int, datetime]) -> tuple[bool, datetime]:
    return row[3] == 1, row[4]


def _at_woodlot(row: HourlySeries, woodlot: Woodlot, lapse_c_per_m: float) -> Span:
    return Span(
        row.start_at,
        to_woodlot(
            middle(row.temps_c()),
            row.elevation_used_m,
            woodlot,
            lapse_c_per_m,
            woodlot.temperature_offset_c,
        ),
    )
