"""Kept forecasts replayed as the pages stated them, beside what came."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from apps.domain.errors import DomainError
from apps.domain.freeze_thaw import FreezeThawDay
from apps.domain.sap_run.scoring import Tenth
from apps.domain.tapping import season_of
from apps.operation.queries import Constants
from apps.outlook.came import Came, came, first_of_each_day
from apps.outlook.likelihood import local_midnight
from apps.outlook.scoring import (
    LeadScore,
    Pair,
    by_lead,
    chances_known,
    days_by_source,
    tenths,
)
from apps.weather.models import HourlySeries
from apps.weather.queries import DayChance, StoredSeries
from apps.weather.queries.chances import woodlot_chances
from apps.woods.models import Woodlot

# A forecast is kept to the day and scored as far as the pages show one.
LONGEST_LEAD = 14


@dataclass(frozen=True)
class Scores:
    """How good this season's kept forecasts of one woodlot were."""

    woodlot: Woodlot
    season: int
    forecasts: int
    first: date | None
    last: date | None
    pairs: tuple[Pair, ...]
    leads: tuple[LeadScore, ...]
    tenths: tuple[Tenth, ...] | None
    came: Came

    @property
    def days(self) -> int:
        return len({pair.date for pair in self.pairs})

    @property
    def by_source(self) -> dict[str, int]:
        return days_by_source(self.pairs)

    @property
    def chances(self) -> int:
        return len(chances_known(self.pairs))

    def stated_ahead(self, lead_days: int) -> list[Pair]:
        return sorted(
            (pair for pair in self.pairs if pair.lead_days == lead_days),
            key=lambda pair: pair.date,
        )


def scores(woodlot: Woodlot, constants: Constants, zone: ZoneInfo, now: datetime) -> Scores:
    """Score every kept forecast of the season; the pages' own rules, as of each morning.

    The number of questions is the same however many forecasts there are.
    """
    season = season_of(now.astimezone(zone).date())
    since = local_midnight(date(season - 1, 12, 1), zone)
    kept = first_of_each_day([woodlot], since, zone, now)
    truth = came([woodlot], since, constants, now, kept)[woodlot.pk]
    try:
        days = truth.days(
            zone, constants.number("weather.freeze_c"), constants.number("weather.thaw_c")
        )
    except DomainError:
        # Limits set against each other: the weather page says so, nothing can be judged.
        days = {}
    mornings = _by_morning(kept, zone)
    pairs = tuple(_pairs(woodlot, mornings, days, constants, zone, now))
    scored = [pair.date for pair in pairs]
    found = tenths(pairs)
    return Scores(
        woodlot=woodlot,
        season=season,
        forecasts=len(mornings),
        first=min(scored, default=None),
        last=max(scored, default=None),
        pairs=pairs,
        leads=tuple(by_lead(pairs)),
        tenths=None if found is None else tuple(found),
        came=truth,
    )


def _by_morning(kept: Sequence[HourlySeries], zone: ZoneInfo) -> dict[date, list[HourlySeries]]:
    mornings: dict[date, list[HourlySeries]] = {}
    for row in kept:
        mornings.setdefault(row.run.fetched_at.astimezone(zone).date(), []).append(row)
    return mornings


def _pairs(
    woodlot: Woodlot,
    mornings: Mapping[date, Sequence[HourlySeries]],
    days: Mapping[date, tuple[str, FreezeThawDay]],
    constants: Constants,
    zone: ZoneInfo,
    now: datetime,
) -> Iterator[Pair]:
    today = now.astimezone(zone).date()
    for rows in mornings.values():
        # The moment it was read: what was withheld as too old that day is withheld here too.
        as_of = max(row.run.fetched_at for row in rows)
        stored = [_stored(row) for row in rows]
        for stated in woodlot_chances(woodlot, stored, constants, zone, as_of):
            # Today is partly over when it is stated, and a day under way is not known yet.
            ahead = 1 <= stated.lead_days <= LONGEST_LEAD
            if ahead and stated.date < today and stated.date in days:
                yield _pair(stated, *days[stated.date])


def _pair(stated: DayChance, source: str, day: FreezeThawDay) -> Pair:
    assert day.minimum_c is not None  # noqa: S101 - a day with known hours has both
    assert day.maximum_c is not None  # noqa: S101
    return Pair(
        date=stated.date,
        lead_days=stated.lead_days,
        stated_minimum_c=stated.minimum_c,
        stated_maximum_c=stated.maximum_c,
        probability=stated.probability,
        verdict=stated.verdict,
        minimum_c=day.minimum_c,
        maximum_c=day.maximum_c,
        came=None if day.verdict == "unknown" else day.verdict == "yes",
        source=source,
    )


def _stored(row: HourlySeries) -> StoredSeries:
    return StoredSeries(
        woodlot_id=row.woodlot_id,
        members_c=row.temps_c(),
        start_at=row.start_at,
        run=row.run,
        elevation_used_m=row.elevation_used_m,
        issued_at=row.issued_at,
        checked_at=row.checked_at,
        coarse_from=row.coarse_from,
        coarse_step_hours=row.coarse_step_hours,
    )
