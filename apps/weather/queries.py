"""What the stored forecast says, per woodlot and local day, and how far it may be trusted."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError
from apps.domain.freeze_thaw import (
    FreezeThawDay,
    Tally,
    correct_temperature,
    judge_days,
    tally,
)
from apps.operation.catalogue import BY_KEY
from apps.operation.queries import Constants
from apps.weather.models import ForecastRun, HourlySeries, RefreshAttempt
from apps.woods.models import Woodlot

HOUR = timedelta(hours=1)
# Our own limits: how old a forecast may be and still be called so. Common practice, no source.
FRESH, RECENT, OLD = timedelta(hours=9), timedelta(hours=24), timedelta(hours=72)
FEWEST_HOURS_LEFT = 48
DAYS_SHOWN = 15
DAYS_IN_STRIP = 7

Hours = npt.NDArray[np.float64]


@dataclass(frozen=True)
class StoredSeries:
    """A woodlot's last good hours as the service gave them (C, NaN missing), with their source."""

    woodlot_id: int
    temps_c: Hours
    start_at: datetime
    run: ForecastRun
    elevation_used_m: float | None

    def known_until(self) -> datetime | None:
        """The end of the last hour that is known, None when none is."""
        known = np.flatnonzero(~np.isnan(self.temps_c))
        return self.start_at + HOUR * (int(known[-1]) + 1) if known.size else None


@dataclass(frozen=True)
class Staleness:
    """How far a forecast may be trusted: fresh, recent, old or withheld, and the words for it."""

    level: str
    words: str

    @property
    def withheld(self) -> bool:
        return self.level == "withheld"


@dataclass(frozen=True)
class WoodlotDays:
    """One woodlot's local days from today on; `temps_c` are at the woodlot's own height.

    `problem` says in words why there are no days, where there are none.
    """

    woodlot: Woodlot
    tz: ZoneInfo
    series: StoredSeries | None = None
    staleness: Staleness | None = None
    days: tuple[FreezeThawDay, ...] = ()
    temps_c: Hours | None = None
    problem: str = ""

    @property
    def tally(self) -> Tally:
        return tally(self.days)

    def hours(self) -> list[tuple[datetime, float | None]]:
        """The hours of the days shown: UTC and C at the woodlot's height, None where missing."""
        if self.series is None or self.temps_c is None or not self.days:
            return []
        start, tz = self.series.start_at, self.tz
        stamped = [
            (start + HOUR * index, None if np.isnan(value) else float(value))
            for index, value in enumerate(self.temps_c)
        ]
        first, last = self.days[0].date, self.days[-1].date
        return [pair for pair in stamped if first <= pair[0].astimezone(tz).date() <= last]


def latest_series(woodlots: Iterable[Woodlot], now: datetime) -> dict[int, StoredSeries]:
    """The last good hours of each woodlot that has any, member 0, by woodlot id."""
    rows = HourlySeries.objects.newest_per_woodlot(now).filter(woodlot__in=list(woodlots))
    return {
        row.woodlot_id: StoredSeries(
            woodlot_id=row.woodlot_id,
            temps_c=row.temps_c()[0],
            start_at=row.start_at,
            run=row.run,
            elevation_used_m=row.elevation_used_m,
        )
        for row in rows.select_related("run")
    }


def freeze_thaw_days(
    woodlots: Sequence[Woodlot], constants: Constants, tz: ZoneInfo, now: datetime
) -> dict[int, WoodlotDays]:
    """Each woodlot's days, by id, in the order given; one without a forecast says so."""
    stored = latest_series(woodlots, now)
    return {
        woodlot.pk: _woodlot_days(woodlot, stored.get(woodlot.pk), constants, tz, now)
        for woodlot in woodlots
    }


def staleness(
    now: datetime, fetched_at: datetime, known_until: datetime | None, tz: ZoneInfo
) -> Staleness:
    """By the time we fetched it: Open-Meteo gives no time of issue."""
    age = now - fetched_at
    left = known_until - now if known_until else timedelta()
    if age > OLD:
        return Staleness("withheld", f"{_span(age)} old: too old to go by")
    if left < HOUR * FEWEST_HOURS_LEFT:
        return Staleness("withheld", f"{_span(age)} old, with under {FEWEST_HOURS_LEFT} hours left")
    if age > RECENT:
        return Staleness("old", f"{_span(age)} old: go by it with care, and refresh")
    if age > FRESH:
        return Staleness("recent", f"{_from_when(now, fetched_at, tz)}, {_span(age)} old")
    if age < timedelta(minutes=1):
        return Staleness("fresh", "fetched just now")
    return Staleness("fresh", f"fetched {_span(age)} ago")


def last_attempt(now: datetime) -> RefreshAttempt | None:
    return RefreshAttempt.objects.filter(started_at__lte=now).order_by("-started_at", "-pk").first()


def _woodlot_days(
    woodlot: Woodlot,
    series: StoredSeries | None,
    constants: Constants,
    tz: ZoneInfo,
    now: datetime,
) -> WoodlotDays:
    if series is None:
        return WoodlotDays(woodlot, tz, problem="No forecast yet: refresh the weather.")
    age = staleness(now, series.run.fetched_at, series.known_until(), tz)
    if age.withheld:
        return WoodlotDays(
            woodlot, tz, series, age, problem=f"Withheld: the forecast is {age.words}."
        )
    try:
        temps_c = at_woodlot(series, woodlot, constants.number("weather.lapse_c_per_m"))
        days = judge_days(
            temps_c,
            series.start_at,
            tz,
            freeze_c=constants.number("weather.freeze_c"),
            thaw_c=constants.number("weather.thaw_c"),
        )
    except DomainError as error:
        # Limits an owner set against each other must not take the page down.
        return WoodlotDays(woodlot, tz, series, age, problem=f"Cannot be judged: {error}.")
    # Yesterday was asked for so that today is whole; it is not shown.
    first = now.astimezone(tz).date()
    last = first + timedelta(days=DAYS_SHOWN - 1)
    shown = tuple(day for day in days if first <= day.date <= last)
    return WoodlotDays(woodlot, tz, series, age, shown, temps_c)


def at_woodlot(series: StoredSeries, woodlot: Woodlot, lapse_c_per_m: float) -> Hours:
    """Move the hours once, from the height the service says it used to the woodlot's own.

    The woodlot's own offset, how much warmer it is there, is added. A height that was not given
    moves nothing: the run's findings say so.
    """
    used_m = series.elevation_used_m
    moved = correct_temperature(
        series.temps_c,
        from_elevation_m=woodlot.elevation_m if used_m is None else used_m,
        to_elevation_m=woodlot.elevation_m,
        lapse_c_per_m=lapse_c_per_m,
        offset_c=woodlot.temperature_offset_c,
    )
    return np.asarray(moved, dtype=np.float64)


@dataclass(frozen=True)
class Limit:
    """One constant a page of days stands on, with where it came from."""

    value_si: float
    source: str


@dataclass(frozen=True)
class Limits:
    freeze: Limit
    thaw: Limit
    lapse: Limit


def limits(constants: Constants) -> Limits:
    return Limits(
        *(
            Limit(constants.number(key), _source(key, constants))
            for key in ("weather.freeze_c", "weather.thaw_c", "weather.lapse_c_per_m")
        )
    )


def _source(key: str, constants: Constants) -> str:
    return "set by the owner" if key in constants.changed else BY_KEY[key].source


@dataclass(frozen=True)
class Outlook:
    """A page of woodlots by day; `run` and `staleness` are those of the oldest row shown."""

    rows: tuple[WoodlotDays, ...]
    dates: tuple[date, ...]
    run: ForecastRun | None
    staleness: Staleness | None
    attempt: RefreshAttempt | None
    remarks: tuple[str, ...]

    @property
    def table(self) -> list[tuple[WoodlotDays, list[FreezeThawDay | None]]]:
        """Each row with a cell for every date of the page, None where it has no such day."""
        by_date = [(row, {day.date: day for day in row.days}) for row in self.rows]
        return [(row, [days.get(one) for one in self.dates]) for row, days in by_date]

    def choose(self, woodlot_id: str | None) -> WoodlotDays | None:
        """The row asked for by id, else the first that has days."""
        by_id = {str(row.woodlot.pk): row for row in self.rows}
        with_days = (row for row in self.rows if row.days)
        return by_id.get(woodlot_id or "") or next(with_days, None)


def outlook(
    woodlots: Sequence[Woodlot], constants: Constants, tz: ZoneInfo, now: datetime
) -> Outlook:
    """Everything the page shows, from the store alone."""
    rows = tuple(freeze_thaw_days(woodlots, constants, tz, now).values())
    # One age for the page, and the least flattering one.
    oldest = oldest_row(rows)
    return Outlook(
        rows=rows,
        dates=tuple(sorted({day.date for row in rows for day in row.days})),
        run=oldest.series.run if oldest and oldest.series else None,
        staleness=oldest.staleness if oldest else None,
        attempt=last_attempt(now),
        remarks=_remarks(rows),
    )


def _remarks(rows: Iterable[WoodlotDays]) -> tuple[str, ...]:
    """What the checks remarked on the series shown, said of the woodlot by name."""
    return tuple(
        f"{row.woodlot.name}: {note['detail']}"
        for row in rows
        if row.series
        for note in row.series.run.findings
        if note["woodlot"] == row.woodlot.pk
    )


@dataclass(frozen=True)
class StripDay:
    """One local day over all woodlots: how many say what, and the extremes of the known hours."""

    date: date
    tally: Tally
    minimum_c: float | None
    maximum_c: float | None

    @property
    def woodlots(self) -> int:
        return self.tally.known + self.tally.unknown


@dataclass(frozen=True)
class Strip:
    """The next days in one line for the board; empty when there is nothing to go by."""

    days: tuple[StripDay, ...]
    run: ForecastRun | None
    staleness: Staleness | None
    without: int


def weather_strip(constants: Constants, tz: ZoneInfo, now: datetime) -> Strip:
    """Woodlots counted by day; `without` of them have no forecast that can be shown."""
    rows = list(freeze_thaw_days(list(Woodlot.objects.all()), constants, tz, now).values())
    by_date: dict[date, list[FreezeThawDay]] = {}
    for row in rows:
        for day in row.days[:DAYS_IN_STRIP]:
            by_date.setdefault(day.date, []).append(day)
    oldest = oldest_row(rows)
    return Strip(
        days=tuple(_strip_day(day, by_date[day]) for day in sorted(by_date)),
        run=oldest.series.run if oldest and oldest.series else None,
        staleness=oldest.staleness if oldest else None,
        without=sum(not row.days for row in rows),
    )


def oldest_row(rows: Iterable[WoodlotDays]) -> WoodlotDays | None:
    """The row whose forecast was fetched longest ago: its age is the one to say first."""
    fetched = [
        # The place breaks ties, so that rows themselves are never compared.
        (row.series.run.fetched_at, place, row)
        for place, row in enumerate(rows)
        if row.series is not None
    ]
    return min(fetched)[2] if fetched else None


def _strip_day(day: date, judged: list[FreezeThawDay]) -> StripDay:
    lows = [one.minimum_c for one in judged if one.minimum_c is not None]
    highs = [one.maximum_c for one in judged if one.maximum_c is not None]
    return StripDay(day, tally(judged), min(lows, default=None), max(highs, default=None))


def _span(age: timedelta) -> str:
    """'40 min', '11 h' or '3 days', cut down to what has fully passed."""
    minutes = max(0, int(age.total_seconds() // 60))
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 48 * 60:
        return f"{minutes // 60} h"
    return f"{minutes // (24 * 60)} days"


def _from_when(now: datetime, fetched_at: datetime, tz: ZoneInfo) -> str:
    here, then = now.astimezone(tz), fetched_at.astimezone(tz)
    part = next(name for until, name in _PARTS_OF_DAY if then.hour < until)
    if here.date() == then.date():
        return f"from this {part}" if part != "night" else "from last night"
    # Before dawn belongs to the night that began the evening before.
    return "from last night" if part in {"evening", "night"} else f"from yesterday {part}"


_PARTS_OF_DAY = ((5, "night"), (12, "morning"), (17, "afternoon"), (24, "evening"))
