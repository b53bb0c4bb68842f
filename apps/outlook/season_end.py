"""Whether to stay open another day: nights, warmth and sugar by woodlot, and a day's worth."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import numpy as np

from apps.domain import sap_run
from apps.domain.freeze_thaw import local_day_edges
from apps.domain.sap_run import Week
from apps.domain.season_end import (
    DayWorth,
    NightsLeft,
    Span,
    SugarTrend,
    Warmth,
    day_worth,
    nights_left,
    sugar_trend,
    warmth_since_freeze,
)
from apps.domain.tapping import season_of
from apps.operation.queries import Constants
from apps.outlook.runs import WoodlotRuns, days_ahead
from apps.sugarhouse.models import SapIn
from apps.sugarhouse.queries import sap_by_day
from apps.weather.queries import ModelMembers
from apps.woods.models import Woodlot

DAY = timedelta(days=1)
NIGHTS_AHEAD = 14
WEEK_DAYS = 7
# Long enough for a slope, short enough that mid-season says nothing of its end. Common practice.
TREND_DAYS = 21
FEWEST_MEMBERS = 10


@dataclass(frozen=True)
class SugarDay:
    """One day's sap of one woodlot: its mean sugar by volume, and the litres it is of."""

    date: date
    brix: float
    litres: float


@dataclass(frozen=True, eq=False)
class WoodlotEnd:
    """What speaks for and against another day in one woodlot; None where it is not known."""

    runs: WoodlotRuns
    dates: tuple[date, ...]
    nights: NightsLeft | None
    warmth: Warmth | None
    sugar: tuple[SugarDay, ...]
    trend: SugarTrend | None

    @property
    def woodlot(self) -> Woodlot:
        return self.runs.woodlot

    @property
    def chances(self) -> list[float | None]:
        """Of a freeze on each date; none from too few members for a percentage."""
        if self.nights is None or self.nights.members < FEWEST_MEMBERS:
            return [None] * len(self.dates)
        return [None if np.isnan(one) else float(one) for one in self.nights.chances]

    @property
    def last_likely(self) -> date | None:
        """The last date that at least half the members freeze on."""
        if self.nights is None:
            return None
        likely = zip(self.dates, self.nights.chances, strict=True)
        return max((day for day, chance in likely if chance >= 0.5), default=None)

    @property
    def week(self) -> Week | None:
        """Tomorrow's week by the published rule."""
        return next((day.week for day in self.runs.days if day.lead_days == 1), None)


@dataclass(frozen=True)
class Expectation:
    """Tomorrow's sap over all woodlots, with where the range comes from."""

    litres: Span
    source: str


@dataclass(frozen=True, eq=False)
class SeasonEnd:
    """The page; `worth` is None while anything in `lacking` is."""

    season: int
    tomorrow: date
    rows: tuple[WoodlotEnd, ...]
    dates: tuple[date, ...]
    sap: Expectation | None
    brix: Span | None
    price_per_litre: float | None
    day_cost: float | None
    worth: DayWorth | None

    @property
    def lacking(self) -> list[str]:
        known = {
            "sap gathered in the last week": self.sap,
            "sap with its sugar measured in the last week": self.brix,
            "what syrup fetches (Settings)": self.price_per_litre,
            "what a day costs you (Settings)": self.day_cost,
        }
        return [words for words, value in known.items() if value is None]


def season_end(
    woodlots: Sequence[Woodlot], constants: Constants, zone: ZoneInfo, now: datetime
) -> SeasonEnd:
    """From the store alone, in as many questions for one woodlot as for sixty."""
    today = now.astimezone(zone).date()
    season = season_of(today)
    dates = tuple(today + DAY * number for number in range(1, NIGHTS_AHEAD + 1))
    sugar = _sugar_by_woodlot(season, today, zone, now)
    ahead = days_ahead(woodlots, constants, zone, now).rows
    freeze_c = constants.number("weather.freeze_c")
    rows = tuple(
        _woodlot_end(runs, dates, sugar.get(runs.woodlot.pk, ()), freeze_c, zone) for runs in ahead
    )
    sap, brix = _sap(rows, season, today, zone), _brix(sugar.values(), today)
    price, cost = constants.own("season.syrup_price"), constants.own("season.day_cost")
    syrup_brix = constants.number("sugarhouse.syrup_brix")
    return SeasonEnd(
        season=season,
        tomorrow=dates[0],
        rows=rows,
        dates=dates,
        sap=sap,
        brix=brix,
        price_per_litre=price,
        day_cost=cost,
        worth=_worth(sap, brix, price, cost, syrup_brix),
    )


def _woodlot_end(
    runs: WoodlotRuns,
    dates: tuple[date, ...],
    sugar: Sequence[SugarDay],
    freeze_c: float,
    zone: ZoneInfo,
) -> WoodlotEnd:
    lows = [_minima(model, dates, zone) for model in runs.models]
    recent = [day for day in sugar if day.date >= dates[0] - DAY * TREND_DAYS]
    return WoodlotEnd(
        runs=runs,
        dates=dates,
        nights=nights_left(lows, freeze_c),
        warmth=warmth_since_freeze(runs.past.hours.temps_c, freeze_c),
        sugar=tuple(recent),
        trend=sugar_trend(
            [(day.date - dates[0]).days for day in recent], [day.brix for day in recent]
        ),
    )


def _minima(model: ModelMembers, dates: Sequence[date], zone: ZoneInfo) -> np.ndarray:
    """(members, dates) minima of whole days, NaN where the model does not know one in full."""
    edges = local_day_edges(model.start_at, model.temps_c.shape[-1], zone)
    days = sap_run.days_from_hours(model.temps_c, edges)
    places = {day: place for place, day in enumerate(days.dates)}
    lows = np.full((model.temps_c.shape[0], len(dates)), np.nan)
    for at, day in enumerate(dates):
        if day in places:
            lows[:, at] = days.minimum_c[:, places[day]]
    return lows


def _sugar_by_woodlot(
    season: int, today: date, zone: ZoneInfo, now: datetime
) -> dict[int, list[SugarDay]]:
    """Days with sugar measured, oldest first; loads of one day are one day's mean by volume."""
    loads: dict[tuple[int, date], list[tuple[float, float]]] = {}
    rows = SapIn.objects.of_season(season).until(now).filter(woodlot__isnull=False)
    columns = ("woodlot_id", "at", "volume_litres", "brix")
    for pk, at, litres, brix in rows.values_list(*columns):
        if brix is None:  # nobody measured it: no word on the sugar
            continue
        loads.setdefault((pk, at.astimezone(zone).date()), []).append((litres, brix))
    found: dict[int, list[SugarDay]] = {}
    for (pk, day), parts in sorted(loads.items()):
        found.setdefault(pk, []).append(SugarDay(day, *_mean(parts)))
    return found


def _mean(parts: Iterable[tuple[float, float]]) -> tuple[float, float]:
    """Mean Brix by volume, and the volume."""
    rows = list(parts)
    litres = sum(volume for volume, _ in rows)
    return sum(volume * brix for volume, brix in rows) / litres, litres


def _sap(
    rows: Sequence[WoodlotEnd], season: int, today: date, zone: ZoneInfo
) -> Expectation | None:
    """By the fit where it covers every woodlot that has taps, else what the last week gave."""
    tapped = [row.runs for row in rows if row.runs.taps]
    tomorrow = [
        one for runs in tapped for one in runs.sap if one is not None and one.day == today + DAY
    ]
    # Part of the woodlots would be a sum that looks like the whole.
    if tapped and len(tomorrow) == len(tapped):
        return Expectation(
            Span(
                sum(one.low_litres for one in tomorrow),
                sum(one.litres for one in tomorrow),
                sum(one.high_litres for one in tomorrow),
            ),
            "the fit to your own sap, every woodlot at its low end together, or at its high",
        )
    by_day = sap_by_day([season], zone)[season]
    # Today is left out: its sap is not all in before the evening.
    week = [by_day.get(today - DAY * number, 0.0) for number in range(1, WEEK_DAYS + 1)]
    if not any(week):
        return None
    return Expectation(
        Span(min(week), sum(week) / WEEK_DAYS, max(week)),
        "the last seven days: the least, the mean and the most of a day; none on the books is none",
    )


def _brix(by_woodlot: Iterable[Sequence[SugarDay]], today: date) -> Span | None:
    """The least, the mean by volume and the most of the last week's daily sugar."""
    recent = [
        day for days in by_woodlot for day in days if today - DAY * WEEK_DAYS <= day.date <= today
    ]
    if not recent:
        return None
    mean, _ = _mean((day.litres, day.brix) for day in recent)
    sugars = [day.brix for day in recent]
    # Of equal days the mean may differ by its last bit.
    return Span(min(sugars), min(max(mean, min(sugars)), max(sugars)), max(sugars))


def _worth(
    sap: Expectation | None,
    brix: Span | None,
    price: float | None,
    cost: float | None,
    syrup_brix: float,
) -> DayWorth | None:
    if sap is None or brix is None or price is None or cost is None:
        return None
    return day_worth(
        sap.litres,
        brix,
        price_per_litre=Decimal(str(price)),
        day_cost=Decimal(str(cost)),
        syrup_brix=syrup_brix,
    )


def by_day_chances(rows: Sequence[WoodlotEnd]) -> Mapping[str, list[float | None]]:
    """Woodlot name to chances, of the woodlots that have any."""
    return {
        row.woodlot.name: row.chances
        for row in rows
        if any(chance is not None for chance in row.chances)
    }
