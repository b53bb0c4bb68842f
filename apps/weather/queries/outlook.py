"""Everything the weather page shows, from the store alone."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from apps.domain.freeze_thaw import FreezeThawDay
from apps.operation.catalogue import BY_KEY
from apps.operation.queries import Constants
from apps.weather.models import ForecastRun, RefreshAttempt
from apps.weather.queries.age import Staleness, last_attempt
from apps.weather.queries.days import WoodlotDays, freeze_thaw_days, oldest_row
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
