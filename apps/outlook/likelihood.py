"""The days ahead in one woodlot: how likely sap runs, from every model's members.

Nothing here reads the database or a clock. Hours are C at the woodlot's height, NaN missing. Hours
gone by are taken from what was measured, where it was: the two days before today count toward
today's likelihood, and a forecast often starts too late to know them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

import numpy as np
import numpy.typing as npt

from apps.domain import sap_run
from apps.domain.freeze_thaw import local_day_edges
from apps.domain.sap_run import Ensemble, Week, Word
from apps.domain.sap_run.likelihood import DAYS_BEFORE

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
DAYS_SHOWN = 10
# Today is the first day; from the eighth on a forecast says little more than the season does.
SURE_DAYS = 7
# From June on the weekly rule, which opens seasons, has nothing to say.
LAST_MONTH = 5

Hours = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Span:
    """Hours in a row from a whole UTC hour, (hours,) or (members, hours)."""

    start_at: datetime
    temps_c: Hours

    @property
    def stop_at(self) -> datetime:
        return self.start_at + HOUR * int(self.temps_c.shape[-1])

    def laid_on(self, start_at: datetime, hours: int) -> Hours:
        """The same values from another start, NaN where this span has none."""
        shift = (self.start_at - start_at) // HOUR
        laid = np.full((*self.temps_c.shape[:-1], hours), np.nan)
        first, stop = max(0, shift), min(hours, shift + self.temps_c.shape[-1])
        if first < stop:
            laid[..., first:stop] = self.temps_c[..., first - shift : stop - shift]
        return laid


@dataclass(frozen=True)
class RunDay:
    """One day of one woodlot. `word` is None while the likelihood is unknown.

    The thaw degree-hours are of the day and the day before, the coldest of the day itself; both
    are medians over the members, None when no member knows them. `froze` of `known` members have
    a night at or under the freeze limit.
    """

    date: date
    lead_days: int
    likelihood: Ensemble
    word: Word | None
    thaw_degree_hours: float | None
    coldest_c: float | None
    froze: int
    known: int
    week: Week | None = None

    @property
    def unsure(self) -> bool:
        """Whether it lies beyond the days a forecast is good for."""
        return self.lead_days >= SURE_DAYS

    @property
    def freezes(self) -> bool | None:
        """Whether at least half the members freeze that night; None when none knows."""
        return 2 * self.froze >= self.known if self.known else None


def run_days(
    models: Sequence[Span], past: Span, *, today: date, zone: tzinfo, now: datetime, freeze_c: float
) -> tuple[RunDay, ...]:
    """The next ten days from the (members, hours) of each model and the hours gone by."""
    start_at = local_midnight(today - DAYS_BEFORE * DAY, zone)
    hours = (local_midnight(today + DAYS_SHOWN * DAY, zone) - start_at) // HOUR
    laid = [_with_past(model, past, start_at, hours, now) for model in models]
    edges = local_day_edges(start_at, hours, zone)
    weather = [sap_run.days_from_hours(members, edges) for members in laid]
    likely = sap_run.over_members([sap_run.run_probability(days) for days in weather])
    # Stacked, every member counts once; only the likelihood weighs the models alike.
    lows = np.concatenate([days.minimum_c for days in weather])
    thaws = np.concatenate([sap_run.warmth_and_cold(days)[0] for days in weather])
    weeks = _weeks(laid, past, start_at, today, zone)
    return tuple(
        _run_day(day.date, today, likely[at], thaws[:, at], lows[:, at], freeze_c, weeks)
        for at, day in enumerate(edges)
        if day.date >= today
    )


def middle(members: Hours) -> Hours:
    """The median of the known members hour by hour, NaN where there is none."""
    heard = ~np.isnan(members).all(axis=0)
    middle = np.full(members.shape[-1], np.nan)
    middle[heard] = np.nanmedian(members[:, heard], axis=0)
    return middle


def local_midnight(day: date, zone: tzinfo) -> datetime:
    """The first whole UTC hour of a local day."""
    midnight = datetime.combine(day, time(0), tzinfo=zone).astimezone(UTC)
    return midnight + timedelta(minutes=-midnight.minute % 60)


def _with_past(model: Span, past: Span, start_at: datetime, hours: int, now: datetime) -> Hours:
    members = model.laid_on(start_at, hours)
    measured = past.laid_on(start_at, hours)
    gone_by = np.arange(hours) < (now - start_at) / HOUR
    return np.where(gone_by & ~np.isnan(measured), measured, members)


def _run_day(
    day: date,
    today: date,
    likelihood: Ensemble,
    thaws: Hours,
    lows: Hours,
    freeze_c: float,
    weeks: Sequence[Week],
) -> RunDay:
    known = lows[~np.isnan(lows)]
    return RunDay(
        date=day,
        lead_days=(day - today).days,
        likelihood=likelihood,
        word=None if likelihood.probability is None else sap_run.words(likelihood.probability),
        thaw_degree_hours=_median(thaws),
        coldest_c=_median(lows),
        # Compared at 0.01 C, as every limit of a freeze is.
        froze=int((np.round(known, 2) <= freeze_c).sum()),
        known=known.size,
        week=next((week for week in weeks if week.start <= day <= week.end), None),
    )


def _weeks(
    laid: Sequence[Hours], past: Span, start_at: datetime, today: date, zone: tzinfo
) -> list[Week]:
    """The published weekly rule over the winter so far and the middle of the members ahead."""
    if today.month > LAST_MONTH:
        return []
    new_year = local_midnight(date(today.year, 1, 1), zone)
    ahead = Span(start_at, middle(np.concatenate(laid)))
    hours = (ahead.stop_at - new_year) // HOUR
    gone, coming = past.laid_on(new_year, hours), ahead.laid_on(new_year, hours)
    whole = np.where(np.isnan(coming), gone, coming)
    days = local_day_edges(new_year, hours, zone)
    return sap_run.season_open_weekly(sap_run.days_from_hours(whole, days, 20), today.year)


def _median(values: Hours) -> float | None:
    known = values[~np.isnan(values)]
    return float(np.median(known)) if known.size else None
