"""What was measured in the woods: own thermometers and imported records, hour by hour."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from django.db.models import Count, Max, QuerySet

from apps.operation.models import Device
from apps.weather.models import RecordedYear, SetAside, Thermometer, ThermometerReading
from apps.weather.packing import PACKED, Hours, empty_year, first_hour_of_year
from apps.weather.payload import HourlyRecord
from apps.woods.models import Woodlot

HOUR = timedelta(hours=1)
HOUR_S = 3600
NOTHING = "no thermometer and no imported record"
# A whole hour since 1970 and the temperature sent in it.
Sent = tuple[int, float]


@dataclass(frozen=True)
class Observed:
    """Hours as measured in a woodlot, (hours,) NaN missing, and in words by what."""

    start_at: datetime
    temps_c: Hours
    source: str

    @property
    def known_hours(self) -> int:
        return int(np.isfinite(self.temps_c).sum())


def observed_hours(woodlot: Woodlot, start_at: datetime, hours: int) -> Observed:
    """The hours from `start_at`, a whole UTC hour, as measured in the woodlot.

    An hour is the mean of what the woodlot's thermometers sent in it; where they sent nothing,
    the value of an imported record.
    """
    first = _unix_hour(start_at)
    readings = ThermometerReading.objects.filter(
        thermometer__woodlot=woodlot, at__gte=start_at, at__lt=start_at + hours * HOUR
    )
    sent = [(_unix_hour(at), temp_c) for at, temp_c in readings.values_list("at", "temp_c")]
    years = range(_moment(first).year, _moment(first + hours).year + 1)
    imported = RecordedYear.objects.filter(woodlot=woodlot, year__in=years)
    return _observed(first, _means(sent, first, hours), _laid_out(imported, first, hours))


def whole_record(woodlot: Woodlot) -> Observed | None:
    """Everything measured in the woodlot, from the first known hour to the last."""
    return own_records([woodlot]).get(woodlot.pk)


def own_records(woodlots: Iterable[Woodlot]) -> dict[int, Observed]:
    """The whole record of each woodlot that has one, by its id, in two questions."""
    lots = list(woodlots)
    imported: dict[int, list[RecordedYear]] = {}
    for row in RecordedYear.objects.filter(woodlot__in=lots):
        imported.setdefault(row.woodlot_id, []).append(row)
    sent: dict[int, list[Sent]] = {}
    readings = ThermometerReading.objects.filter(thermometer__woodlot__in=lots)
    for pk, at, temp_c in readings.values_list("thermometer__woodlot_id", "at", "temp_c"):
        sent.setdefault(pk, []).append((_unix_hour(at), temp_c))
    records = {lot.pk: _joined(imported.get(lot.pk, []), sent.get(lot.pk, [])) for lot in lots}
    return {pk: record for pk, record in records.items() if record is not None}


def _joined(imported: list[RecordedYear], sent: list[Sent]) -> Observed | None:
    firsts = [first_hour_of_year(row.year) for row in imported] + [hour for hour, _ in sent]
    stops = [first_hour_of_year(row.year + 1) for row in imported]
    stops += [hour + 1 for hour, _ in sent]
    if not firsts:
        return None
    first, hours = min(firsts), max(stops) - min(firsts)
    seen = _observed(first, _means(sent, first, hours), _laid_out(imported, first, hours))
    known = np.flatnonzero(np.isfinite(seen.temps_c))
    if not known.size:
        return None
    kept = seen.temps_c[known[0] : known[-1] + 1]
    return Observed(_moment(first + int(known[0])), kept, seen.source)


@dataclass(frozen=True)
class ImportPlan:
    """What an import would do: whole years as they would stand, and the hours counted."""

    record: HourlyRecord
    years: dict[int, Hours]
    added: int
    changed: int
    emptied: int
    unchanged: int

    @property
    def changes_nothing(self) -> bool:
        return not (self.added or self.changed or self.emptied)


def plan_import(woodlot: Woodlot | None, record: HourlyRecord) -> ImportPlan:
    """Compare a record with what is stored; the record has the word on every hour it has a row for.

    Values are compared as they are stored, so that the same file again changes nothing.
    """
    stored = {row.year: row.temps_c() for row in RecordedYear.objects.filter(woodlot=woodlot)}
    of_year = record.unix_hours.astype("datetime64[h]").astype("datetime64[Y]").astype(int) + 1970
    told = record.temps_c.astype(PACKED).astype(np.float64)
    before, years = np.full(told.size, np.nan), {}
    for year in np.unique(of_year).tolist():
        rows = of_year == year
        places = record.unix_hours[rows] - first_hour_of_year(year)
        hours = stored.get(year, empty_year(year))
        before[rows] = hours[places]
        hours[places] = told[rows]
        years[year] = hours
    was, now_is = np.isfinite(before), np.isfinite(told)
    return ImportPlan(
        record,
        years,
        added=int((~was & now_is).sum()),
        changed=int((was & now_is & (before != told)).sum()),
        emptied=int((was & ~now_is).sum()),
        unchanged=int((was & now_is & (before == told)).sum()),
    )


@dataclass(frozen=True)
class Recorded:
    """One woodlot's row on the readings page."""

    woodlot: Woodlot
    years: tuple[int, ...]
    thermometers: tuple[Thermometer, ...]
    set_aside: int

    @property
    def offset_c(self) -> float:
        return self.woodlot.temperature_offset_c


def recorded(woodlots: Iterable[Woodlot]) -> list[Recorded]:
    """What there is for each woodlot, in the order given, in three questions."""
    lots = list(woodlots)
    years: dict[int, list[int]] = {}
    stored = RecordedYear.objects.filter(woodlot__in=lots).order_by("year")
    for woodlot_id, year in stored.values_list("woodlot_id", "year"):
        years.setdefault(woodlot_id, []).append(year)
    standing: dict[int, list[Thermometer]] = {}
    for row in thermometers().filter(woodlot__in=lots):
        standing.setdefault(row.woodlot_id, []).append(row)
    doubted = dict(
        SetAside.objects.filter(woodlot__in=lots)
        .values_list("woodlot_id")
        .annotate(count=Count("pk"))
        .values_list("woodlot_id", "count")
    )
    return [
        Recorded(
            lot,
            tuple(years.get(lot.pk, ())),
            tuple(standing.get(lot.pk, ())),
            doubted.get(lot.pk, 0),
        )
        for lot in lots
    ]


def thermometers() -> QuerySet[Thermometer]:
    """With the moment of the last reading as `last_at`."""
    rows = Thermometer.objects.select_related("device", "woodlot")
    return rows.annotate(last_at=Max("readings__at")).order_by("device__name")


def thermometer_of(device: Device) -> Thermometer | None:
    return Thermometer.objects.select_related("woodlot").filter(device=device).first()


def set_aside(woodlot: Woodlot) -> QuerySet[SetAside]:
    """The newest first."""
    return SetAside.objects.filter(woodlot=woodlot).order_by("-at", "value_c")


def _observed(first: int, sent: Hours, imported: Hours) -> Observed:
    temps_c = np.where(np.isfinite(sent), sent, imported)
    return Observed(_moment(first), temps_c, _source(sent, imported))


def _means(sent: list[Sent], first: int, hours: int) -> Hours:
    """The mean of the readings in each hour; NaN where none was sent."""
    places = np.array([hour - first for hour, _ in sent], dtype=np.intp)
    values = np.array([temp_c for _, temp_c in sent], dtype=np.float64)
    count = np.bincount(places, minlength=hours)
    total = np.bincount(places, weights=values, minlength=hours)
    mean: Hours = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return mean


def _laid_out(imported: Iterable[RecordedYear], first: int, hours: int) -> Hours:
    out = np.full(hours, np.nan)
    for row in imported:
        temps_c, shift = row.temps_c(), first_hour_of_year(row.year) - first
        low, high = max(0, shift), min(hours, shift + temps_c.size)
        if low < high:
            out[low:high] = temps_c[low - shift : high - shift]
    return out


def _source(sent: Hours, imported: Hours) -> str:
    """Which hours came from where, counted, so that two sources are never one in silence."""
    by_sending = int(np.isfinite(sent).sum())
    by_import = int((np.isfinite(imported) & ~np.isfinite(sent)).sum())
    parts = []
    if by_sending:
        parts.append(f"{by_sending:,} h from the woodlot's own thermometer")
    if by_import:
        parts.append(f"{by_import:,} h from an imported record")
    return " and ".join(parts) or NOTHING


def _unix_hour(moment: datetime) -> int:
    return int(moment.timestamp()) // HOUR_S


def _moment(unix_hour: int) -> datetime:
    return datetime.fromtimestamp(unix_hour * HOUR_S, UTC)
