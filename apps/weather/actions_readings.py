"""Keeping what was measured: imported hours, readings as they are sent, a woodlot's offset."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from apps.operation.actions import add_device, note_device_seen
from apps.operation.queries import Constants
from apps.weather.models import RecordedYear, SetAside, Thermometer, ThermometerReading
from apps.weather.packing import pack
from apps.weather.payload import HourlyRecord, Reading, Refused
from apps.weather.queries.offset import offset_suggestions
from apps.weather.queries.readings import ImportPlan, plan_import
from apps.woods.actions import save_woodlot
from apps.woods.models import Woodlot

BATCH = 500
LARGEST_OFFSET_C = 10.0


class RecordRefused(Exception):
    """The record has no woodlot to go to; the message says what to do."""


class OffsetRefused(Exception):
    """The offset was not set; the message says why."""


@dataclass(frozen=True)
class Place:
    """Where a record without a woodlot was measured."""

    latitude: float
    longitude: float
    elevation_m: float


def woodlot_for_record(*, name: str, place: Place | None = None) -> Woodlot:
    """The woodlot of that name, made first where a place is given and it is not there.

    Raises RecordRefused for a name nobody knows, and for one that stands somewhere else.
    """
    woodlot = Woodlot.objects.filter(name=name).first()
    if place is None:
        if woodlot is None:
            raise RecordRefused(f"There is no woodlot called {name}.")
        return woodlot
    if woodlot is None:
        return save_woodlot(
            name=name,
            latitude=place.latitude,
            longitude=place.longitude,
            elevation_m=place.elevation_m,
        )
    # The same command again finds its own woodlot, and nobody else's.
    if Place(woodlot.latitude, woodlot.longitude, woodlot.elevation_m) != place:
        raise RecordRefused(f"There is already a woodlot called {name}, at another place.")
    return woodlot


@transaction.atomic
def import_hours(*, woodlot: Woodlot, record: HourlyRecord, now: datetime) -> ImportPlan:
    """Store the hours of a record as its woodlot's own; importing it again changes nothing."""
    # Two imports into one woodlot take turns: both rewrite whole years.
    Woodlot.objects.select_for_update().get(pk=woodlot.pk)
    plan = plan_import(woodlot, record)
    for year, hours in plan.years.items():
        RecordedYear.objects.update_or_create(
            woodlot=woodlot, year=year, defaults={"packed": pack(hours), "imported_at": now}
        )
    _note_set_aside(woodlot, record, now)
    return plan


def _note_set_aside(woodlot: Woodlot, record: HourlyRecord, now: datetime) -> None:
    first, last = record.moment(0), record.moment(-1)
    doubted = {(row.at, row.value_c): row.reason for row in record.set_aside}
    hours = set(record.unix_hours.tolist())
    earlier = SetAside.objects.filter(
        woodlot=woodlot, source=SetAside.Source.IMPORTED, at__gte=first, at__lte=last
    )
    # An hour the record speaks of again is as the record now has it.
    settled = [
        row.pk
        for row in earlier
        if (row.at, row.value_c) not in doubted and int(row.at.timestamp()) // 3600 in hours
    ]
    for start in range(0, len(settled), BATCH):
        SetAside.objects.filter(pk__in=settled[start : start + BATCH]).delete()
    _set_aside(woodlot, SetAside.Source.IMPORTED, doubted, now)


def _set_aside(
    woodlot: Woodlot, source: str, doubted: dict[tuple[datetime, float], str], now: datetime
) -> None:
    SetAside.objects.bulk_create(
        [
            SetAside(woodlot=woodlot, source=source, at=at, value_c=value, reason=why, noted_at=now)
            for (at, value), why in doubted.items()
        ],
        ignore_conflicts=True,
        batch_size=BATCH,
    )


@dataclass(frozen=True)
class NewThermometer:
    """A thermometer just added, with the token that is shown this once."""

    thermometer: Thermometer
    token: str


@transaction.atomic
def add_thermometer(*, name: str, woodlot: Woodlot, now: datetime) -> NewThermometer:
    """Raises apps.operation.actions.DeviceRefused for a name already used."""
    new = add_device(name=name, now=now)
    return NewThermometer(Thermometer.objects.create(device=new.device, woodlot=woodlot), new.token)


@dataclass(frozen=True)
class Verdict:
    """What became of one reading: kept, known already, or refused with the reason."""

    place: int
    status: str
    reason: str = ""


@transaction.atomic
def take_readings(
    *, thermometer: Thermometer, sent: Sequence[Reading | Refused], now: datetime
) -> list[Verdict]:
    """Keep each reading by itself; the same batch again changes nothing.

    The first reading of a moment stands: another value for it is refused.
    """
    good = [one for one in sent if isinstance(one, Reading)]
    known = _known(thermometer, good)
    fresh: dict[datetime, float] = {}
    verdicts = []
    for one in sent:
        if isinstance(one, Refused):
            verdicts.append(Verdict(one.place, "refused", one.reason))
            continue
        verdicts.append(_verdict(one, known))
        if verdicts[-1].status == "kept":
            fresh[one.at] = known[one.at] = one.temp_c
    _keep(thermometer, fresh, now)
    refused = (one for one in sent if isinstance(one, Refused))
    doubted = {one.doubtful: one.reason for one in refused if one.doubtful}
    _set_aside(thermometer.woodlot, SetAside.Source.THERMOMETER, doubted, now)
    note_device_seen(device=thermometer.device, now=now)
    return verdicts


def _known(thermometer: Thermometer, good: Iterable[Reading]) -> dict[datetime, float]:
    ats = [one.at for one in good]
    rows = ThermometerReading.objects.filter(thermometer=thermometer, at__in=ats)
    return dict(rows.values_list("at", "temp_c"))


def _verdict(reading: Reading, known: dict[datetime, float]) -> Verdict:
    before = known.get(reading.at)
    if before is None:
        return Verdict(reading.place, "kept")
    if before == reading.temp_c:
        return Verdict(reading.place, "known")
    return Verdict(reading.place, "refused", f"{before:g} C is kept for that moment already")


def _keep(thermometer: Thermometer, fresh: dict[datetime, float], now: datetime) -> None:
    ThermometerReading.objects.bulk_create(
        [
            ThermometerReading(thermometer=thermometer, at=at, temp_c=temp_c, received_at=now)
            for at, temp_c in fresh.items()
        ],
        # The same batch may be under way twice: whichever comes second adds nothing.
        ignore_conflicts=True,
        batch_size=BATCH,
    )


def use_offset(
    *, woodlot: Woodlot, against: str, shown_c: str, in_use: Constants, now: datetime
) -> None:
    """Take the offset suggested against one model as the woodlot's own.

    Reckoned anew: raises OffsetRefused unless the readings still say what was shown, over enough
    hours, and something a place can differ by.
    """
    found = offset_suggestions(woodlot, in_use, now)
    suggestion = next((one for one in found if one.against == against), None)
    if suggestion is None or f"{suggestion.median_c:.2f}" != shown_c:
        raise OffsetRefused("The readings say something else by now: look again.")
    if not suggestion.enough:
        raise OffsetRefused(f"Only {suggestion.hours} hours overlap: too few to tell by.")
    if abs(suggestion.median_c) > LARGEST_OFFSET_C:
        raise OffsetRefused("No place differs by that much: look at the thermometer.")
    woodlot.temperature_offset_c = suggestion.median_c
    woodlot.save(update_fields=["temperature_offset_c"])
