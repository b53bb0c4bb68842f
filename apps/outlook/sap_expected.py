"""Litres to expect, fitted to the operation's own sap by woodlot and day, or why none are said.

A woodlot's days count from its first sap of a season to its last; a day between without sap
brought none. Weather of those days is what was measured or archived, never what was forecast.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from hashlib import sha256

import numpy as np
from django.core.cache import cache
from django.db.models import Count, Max, Sum

from apps.domain import sap_run
from apps.domain.freeze_thaw import local_day_edges
from apps.domain.sap_run import DayYield, Expected, Lacking, YieldFit
from apps.domain.sap_run.yields import MOST_LITRES_PER_TAP
from apps.operation.queries import Constants
from apps.outlook.likelihood import DAY, RunDay, Span
from apps.sugarhouse.models import SapIn
from apps.tapping.queries import taps_set_by_woodlot
from apps.weather.models import ArchiveWinter
from apps.weather.queries.history import histories
from apps.woods.models import Woodlot
from apps.woods.queries import planned_taps_by_woodlot

FEWEST_HOURS = 20
# What is tapped or imported meanwhile waits this long; new sap or archive is seen at once.
KEPT_SECONDS = 900


@dataclass(frozen=True)
class SapToCome:
    """A day's sap from one woodlot: litres per tap and in all, with the interval of both."""

    day: date
    taps: int
    expected: Expected

    @property
    def litres(self) -> float:
        return self.taps * self.expected.litres_per_tap

    @property
    def low_litres(self) -> float:
        return self.taps * self.expected.low

    @property
    def high_litres(self) -> float:
        return self.taps * self.expected.high


def sap_to_come(
    woodlot: Woodlot, day: RunDay, taps: Mapping[int, int], fit: YieldFit | Lacking
) -> SapToCome | None:
    """None while nothing is fitted, or the day's likelihood or the woodlot's taps are unknown."""
    likely, count = day.likelihood.probability, taps.get(woodlot.pk)
    if isinstance(fit, Lacking) or likely is None or count is None:
        return None
    return SapToCome(day.date, count, fit.expected(woodlot.pk, likely))


def fitted(constants: Constants, zone: tzinfo, now: datetime) -> YieldFit | Lacking:
    """The fit to all the sap on record up to now, kept for a while."""
    rows = SapIn.objects.until(now).filter(woodlot__isnull=False)
    seen = rows.aggregate(count=Count("pk"), last=Max("pk"), litres=Sum("volume_litres"))
    archive = ArchiveWinter.objects.aggregate(count=Count("pk"), last=Max("fetched_at"))
    key = f"yields:{zone}:{sorted(seen.items())}:{sorted(archive.items())}"
    key = f"outlook.{sha256(key.encode()).hexdigest()}"
    found: YieldFit | Lacking | None = cache.get(key)
    if found is None:
        found = sap_run.fit_yields(_records(constants, zone, now))
        cache.set(key, found, KEPT_SECONDS)
    return found


def _records(constants: Constants, zone: tzinfo, now: datetime) -> list[DayYield]:
    sap: dict[tuple[int, int], dict[date, float]] = {}
    rows = SapIn.objects.until(now).filter(woodlot__isnull=False)
    columns = ("woodlot_id", "season", "at", "volume_litres")
    for woodlot_id, season, at, litres in rows.values_list(*columns):
        of_season = sap.setdefault((woodlot_id, season), {})
        day = at.astimezone(zone).date()
        of_season[day] = of_season.get(day, 0.0) + litres
    lots = Woodlot.objects.filter(pk__in={woodlot_id for woodlot_id, _ in sap})
    weather = {
        pk: {winter: Span(one.start_at, one.temps_c) for winter, one in winters.items()}
        for pk, winters in histories(lots, constants).items()
    }
    taps = {season: taps_of(season) for season in {season for _, season in sap}}
    return day_yields(sap, taps, weather, zone)


def taps_of(season: int) -> dict[int, int]:
    """Taps of each woodlot: those counted as set, the planned ones where none was counted."""
    planned = {pk: total.taps for pk, total in planned_taps_by_woodlot(season).items()}
    known = planned | taps_set_by_woodlot(season)
    return {pk: taps for pk, taps in known.items() if taps > 0}


def day_yields(
    sap: Mapping[tuple[int, int], Mapping[date, float]],
    taps: Mapping[int, Mapping[int, int]],
    weather: Mapping[int, Mapping[int, Span]],
    zone: tzinfo,
) -> list[DayYield]:
    """Records to fit from litres by (woodlot, season) and day, taps by season and woodlot, and
    hours by woodlot and season; days without known taps or weather are left out."""
    return [
        record
        for (woodlot, season), gathered in sorted(sap.items())
        if (count := taps.get(season, {}).get(woodlot))
        and (hours := weather.get(woodlot, {}).get(season)) is not None
        for record in _season_yields(woodlot, season, gathered, count, hours, zone)
    ]


def _season_yields(
    woodlot: int, season: int, gathered: Mapping[date, float], taps: int, hours: Span, zone: tzinfo
) -> Iterator[DayYield]:
    edges = local_day_edges(hours.start_at, hours.temps_c.size, zone)
    days = sap_run.days_from_hours(hours.temps_c, edges, FEWEST_HOURS)
    likely = dict(zip(days.dates, sap_run.run_probability(days).tolist(), strict=True))
    first, last = min(gathered), max(gathered)
    for place in range((last - first).days + 1):
        day = first + place * DAY
        chance, per_tap = likely.get(day, np.nan), gathered.get(day, 0.0) / taps
        # More than any tap gives: the taps or the load are mistyped, and would bend the fit.
        if not np.isnan(chance) and per_tap <= MOST_LITRES_PER_TAP:
            yield DayYield(woodlot, season, chance, per_tap)
