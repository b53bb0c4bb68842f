"""Everything the weather page shows, from the store alone."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from apps.domain.freeze_thaw import FreezeThawDay
from apps.operation.catalogue import BY_KEY
from apps.operation.queries import Constants
from apps.weather.models import ForecastRun, RefreshAttempt, SourceAttempt
from apps.weather.queries.age import Staleness, last_attempt
from apps.weather.queries.chances import DayChance, woodlot_chances
from apps.weather.queries.days import WoodlotDays, oldest_row, woodlot_days
from apps.weather.queries.series import StoredSeries, best_series, newest_series, source_rank
from apps.woods.models import Woodlot


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
class Cell:
    """One woodlot on one date: what the single forecast says, and the chance where there is one."""

    date: date
    day: FreezeThawDay | None
    chance: DayChance | None

    @property
    def word(self) -> str:
        return self.day.verdict if self.day else "unknown"

    @property
    def percent(self) -> str:
        """Whole per cent; nothing that some member says is told as none or all."""
        share = self.chance.probability if self.chance else None
        if share is None:
            return ""
        if 0 < share < 0.01:
            return "under 1 %"
        return "over 99 %" if 0.99 < share < 1 else f"{share:.0%}".replace("%", " %")

    @property
    def minimum_c(self) -> float | None:
        source = self.chance or self.day
        return source.minimum_c if source else None

    @property
    def maximum_c(self) -> float | None:
        source = self.chance or self.day
        return source.maximum_c if source else None


@dataclass(frozen=True)
class Used:
    """One model the page rests on, with how old it is and how many members it gives."""

    run: ForecastRun
    staleness: Staleness
    members: int


@dataclass(frozen=True)
class Outlook:
    """A page of woodlots by day; `run` and `staleness` are those of the oldest row shown."""

    rows: tuple[WoodlotDays, ...]
    chances: dict[int, dict[date, DayChance]]
    dates: tuple[date, ...]
    run: ForecastRun | None
    staleness: Staleness | None
    used: tuple[Used, ...]
    attempt: RefreshAttempt | None
    remarks: tuple[str, ...]

    @property
    def sources(self) -> list[ForecastRun]:
        """One run for each attribution that is owed."""
        owed = {one.run.attribution: one.run for one in reversed(self.used)}
        return list(reversed(owed.values()))

    @property
    def models(self) -> str:
        """How many models give members, in words."""
        count = sum(one.members > 1 for one in self.used)
        return f"{count} model{'' if count == 1 else 's'}" if count else "the models"

    @property
    def table(self) -> list[tuple[WoodlotDays, list[Cell]]]:
        """Each row with a cell for every date of the page."""
        return [(row, self.cells(row)) for row in self.rows]

    @property
    def stated(self) -> dict[str, list[float | None]]:
        """Woodlot name to the chance stated for each date of the page."""
        return {
            row.woodlot.name: [
                cell.chance.probability if cell.chance else None for cell in self.cells(row)
            ]
            for row in self.rows
        }

    def cells(self, row: WoodlotDays) -> list[Cell]:
        days = {day.date: day for day in row.days}
        chances = self.chances.get(row.woodlot.pk, {})
        return [Cell(one, days.get(one), chances.get(one)) for one in self.dates]

    @property
    def asked(self) -> list[SourceAttempt]:
        """How each model answered the last time, in the order asked."""
        return list(self.attempt.sources.order_by("pk")) if self.attempt else []

    def choose(self, woodlot_id: str | None) -> WoodlotDays | None:
        """The row asked for by id, else the first that has days, else the first."""
        by_id = {str(row.woodlot.pk): row for row in self.rows}
        with_days = (row for row in self.rows if row.days)
        return by_id.get(woodlot_id or "") or next(with_days, None) or next(iter(self.rows), None)


def outlook(
    woodlots: Sequence[Woodlot], constants: Constants, tz: ZoneInfo, now: datetime
) -> Outlook:
    """Everything the page shows, from the store alone."""
    found = newest_series(woodlots, now)
    rows = tuple(
        woodlot_days(lot, best_series(found.get(lot.pk, []), now, tz), constants, tz, now)
        for lot in woodlots
    )
    chances = {
        lot.pk: {
            day.date: day for day in woodlot_chances(lot, found.get(lot.pk, []), constants, tz, now)
        }
        for lot in woodlots
    }
    # One age for the page, and the least flattering one.
    oldest = oldest_row(rows)
    days = {day.date for row in rows for day in row.days}
    return Outlook(
        rows=rows,
        chances=chances,
        dates=tuple(sorted(days.union(*chances.values()))),
        run=oldest.series.run if oldest and oldest.series else None,
        staleness=oldest.staleness if oldest else None,
        used=_used(rows, found, now, tz),
        attempt=last_attempt(now),
        remarks=_remarks(rows),
    )


def _used(
    rows: Iterable[WoodlotDays],
    found: dict[int, list[StoredSeries]],
    now: datetime,
    tz: ZoneInfo,
) -> tuple[Used, ...]:
    """The models behind the page: ensembles young enough, and what the days were judged by."""
    shown = {}
    for row in rows:
        for series in found.get(row.woodlot.pk, []):
            age = series.staleness(now, tz)
            judged_by = row.series is not None and row.series.run.pk == series.run.pk
            if judged_by or (series.gives_chances and not age.withheld):
                shown[series.run.pk] = Used(series.run, age, len(series.members_c))
    return tuple(sorted(shown.values(), key=lambda one: (source_rank(one.run), one.run.pk)))


def _remarks(rows: Iterable[WoodlotDays]) -> tuple[str, ...]:
    """What the checks remarked on the series shown, said of the woodlot by name."""
    return tuple(
        f"{row.woodlot.name}: {note['detail']}"
        for row in rows
        if row.series
        for note in row.series.run.findings
        if note["woodlot"] == row.woodlot.pk
    )
