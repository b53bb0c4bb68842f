"""Write the whole demo operation, up to one moment."""

import random
from datetime import date, datetime

from django.db import models, transaction

from apps.demo.generator import farm
from apps.demo.generator.forecast_work import keep_forecasts
from apps.demo.generator.phone_work import meet, pull, storms, write_notes
from apps.demo.generator.sugar_work import Sugarhouse, dip_tanks, run
from apps.demo.generator.weather_work import measure, remember_winters
from apps.demo.generator.woods_work import Days, Woods, mend_in_summer, read_gauges, tap, walk
from apps.demo.generator.year import Place, days
from apps.leaks.models import (
    Clearing,
    GaugeReading,
    Leak,
    LeakCheck,
    Obstruction,
    PartUsed,
    Photo,
)
from apps.operation.models import CrewMember, Device
from apps.sugarhouse.models import Batch, Dip, SapIn, SapOut, Tank
from apps.tapping import actions as tapping
from apps.tapping.models import CrewPlan, FirstRun, SnowDepth, TapPull, TapTally
from apps.weather.models import (
    ArchiveWinter,
    ForecastRun,
    HistoryFetch,
    HourlySeries,
    RecordedYear,
    RefreshAttempt,
    SetAside,
    Thermometer,
    ThermometerReading,
)
from apps.woods.models import Landowner, Lease, Line, Note, PumpHouse, TapCount, Woodlot

SEED = 20260316

# Children before their parents, so that no protected row is ever asked to go first.
_EMPTIED: tuple[type[models.Model], ...] = (
    HourlySeries, ForecastRun, RefreshAttempt,
    ThermometerReading, Thermometer, Device, SetAside, RecordedYear, ArchiveWinter, HistoryFetch,
    SapOut, Batch, SapIn, Dip, Tank,
    Photo, Clearing, Obstruction, PartUsed, Leak, LeakCheck, GaugeReading, Note,
    TapPull, TapTally, FirstRun, CrewPlan, SnowDepth,
    TapCount, Lease,
)  # fmt: skip


@transaction.atomic
def rebuild(until: datetime) -> None:
    """Replace every record by those of the invented operation up to `until`; people stay."""
    _empty()
    rng = random.Random(SEED)  # noqa: S311 - invented records, no secrets
    farm.build(rng)
    for season in farm.SEASONS:
        _season(random.Random(SEED + season), season, until)  # noqa: S311
    write_notes(until)
    _plan_of_the_season_under_way()
    measure(random.Random(SEED), until)  # noqa: S311
    remember_winters(until)
    keep_forecasts(SEED, until)
    farm.own_figures(until)


def _empty() -> None:
    for model in _EMPTIED:
        model._default_manager.all().delete()
    while leaves := Line.objects.filter(branches__isnull=True):
        leaves.delete()
    for rest in (PumpHouse, Woodlot, Landowner):
        rest.objects.all().delete()


def _season(rng: random.Random, season: int, until: datetime) -> None:
    story = _days(season)
    crew = list(CrewMember.objects.filter(username__in=[name for name, _, _ in farm.CREW]))
    woods = Woods(rng, season, story, crew, until)
    tap(woods)
    walk(woods)
    storms(woods)
    meet(woods)
    mend_in_summer(woods)
    pull(woods)
    read_gauges(woods)
    house = Sugarhouse(rng, season, story, crew, until)
    run(house)
    if season == farm.SEASONS[-1]:
        dip_tanks(house)
    _first_runs(season)


def _days(season: int) -> Days:
    return {
        row.name: days(Place(row.name, row.latitude, row.longitude, row.elevation_m), season)
        for row in Woodlot.objects.all()
    }


def _first_runs(season: int) -> None:
    """The days sap was first gathered, as the books of that season have them."""
    firsts: dict[Woodlot, date] = {}
    rows = SapIn.objects.of_season(season).exclude(woodlot=None).select_related("woodlot")
    for row in rows.oldest_first():
        if row.woodlot is not None:
            firsts.setdefault(row.woodlot, row.at.date())
    for woodlot, day in firsts.items():
        tapping.record_first_run(date=day, woodlot=woodlot)
    if firsts:
        tapping.record_first_run(date=min(firsts.values()))


def _plan_of_the_season_under_way() -> None:
    for row in farm.rows("first_runs"):
        tapping.record_first_run(date=date.fromisoformat(row["date"]))
    season = farm.SEASONS[-1]
    for number, woodlot in enumerate(Woodlot.objects.order_by("elevation_m")):
        SnowDepth.objects.create(
            woodlot=woodlot,
            season=season,
            seen_on=date(season, 1, 25),
            depth_m=0.0254 * (8, 10, 13, 15, 26)[number],
        )
