"""Kept forecasts replayed as the pages stated them, beside what came."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from apps.domain.errors import DomainError
from apps.domain.freeze_thaw import FreezeThawDay
from apps.domain.tapping import season_of
from apps.operation.queries import Constants
from apps.outlook.came import Came, came, first_of_each_day
from apps.outlook.kept import in_season, season_days
from apps.outlook.likelihood import local_midnight
from apps.outlook.scoring import LeadScore, Pair, by_lead, distinct_days, woodlot_days
from apps.outlook.scoring_tenths import Judged, SaidTenth, chances_said, judged_by, tenths
from apps.weather.models import HourlySeries
from apps.weather.queries import DayChance, StoredSeries
from apps.weather.queries.chances import woodlot_chances
from apps.woods.models import Woodlot

# A forecast is kept to the day and scored as far as the pages show one.
LONGEST_LEAD = 14

Days = Mapping[date, tuple[str, FreezeThawDay]]


@dataclass(frozen=True)
class Scores:
    """How good the kept forecasts of these woodlots were over these seasons, taken together."""

    woodlots: tuple[Woodlot, ...]
    seasons: tuple[int, ...]
    mornings: int
    pairs: tuple[Pair, ...]
    leads: tuple[LeadScore, ...]
    tenths: tuple[SaidTenth, ...] | None
    judged: tuple[Judged, ...]

    @property
    def pooled(self) -> bool:
        return len(self.woodlots) > 1

    @property
    def first(self) -> date | None:
        return min((pair.date for pair in self.pairs), default=None)

    @property
    def last(self) -> date | None:
        return max((pair.date for pair in self.pairs), default=None)

    @property
    def days(self) -> int:
        return distinct_days(self.pairs)

    @property
    def woodlot_days(self) -> int:
        return woodlot_days(self.pairs)

    @property
    def chances(self) -> int:
        return chances_said(self.pairs)

    @property
    def judges(self) -> list[tuple[Judged, list[str]]]:
        """Each source of what came, with the names of the woodlots it was asked about."""
        return [
            (row, [lot.name for lot in self.woodlots if lot.pk in row.woodlot_ids])
            for row in self.judged
        ]

    def stated_ahead(self, lead_days: int) -> list[Pair]:
        return sorted(
            (pair for pair in self.pairs if pair.lead_days == lead_days),
            key=lambda pair: pair.date,
        )


def scores(
    woodlots: Sequence[Woodlot],
    seasons: Sequence[int],
    constants: Constants,
    zone: ZoneInfo,
    now: datetime,
) -> Scores:
    """Score every kept forecast of the seasons; the pages' own rules, as of each morning.

    The number of questions is the same however many woodlots, seasons and forecasts there are.
    """
    since = local_midnight(season_days(min(seasons))[0], zone)
    # A season that is over is judged by what was known of it then, not by the summer after.
    over = local_midnight(season_days(max(seasons))[1] + timedelta(days=1), zone)
    until = min(now, over)
    replay = _Replay(woodlots, constants, zone)
    rows = first_of_each_day(woodlots, since, zone, until)
    # One reading of the store serves both: what was stated, and what was later said of it.
    truth = came(woodlots, since, constants, until, replay.passing(rows))
    today = now.astimezone(zone).date()
    pairs = tuple(_pairs(replay.stated, _days(truth, constants, zone), frozenset(seasons), today))
    found = tenths(pairs)
    return Scores(
        woodlots=tuple(woodlots),
        seasons=tuple(seasons),
        mornings=replay.mornings,
        pairs=pairs,
        leads=tuple(by_lead(pairs)),
        tenths=None if found is None else tuple(found),
        judged=tuple(judged_by(pairs)),
    )


class _Replay:
    """Rows let through once, morning by morning, leaving behind what the pages stated of each."""

    def __init__(self, woodlots: Iterable[Woodlot], constants: Constants, zone: ZoneInfo) -> None:
        self.lots = {lot.pk: lot for lot in woodlots}
        self.constants, self.zone = constants, zone
        self.stated: list[tuple[int, DayChance]] = []
        self.mornings = 0

    def passing(self, rows: Iterable[HourlySeries]) -> Iterator[HourlySeries]:
        # Oldest first, so that the rows of a morning come one after the other.
        for _, of_day in groupby(rows, self._local_day):
            by_lot: dict[int, list[HourlySeries]] = {}
            for row in of_day:
                by_lot.setdefault(row.woodlot_id, []).append(row)
                yield row
            self.mornings += 1
            for pk, kept in by_lot.items():
                self.stated += [(pk, day) for day in self._chances(self.lots[pk], kept)]

    def _local_day(self, row: HourlySeries) -> date:
        return row.run.fetched_at.astimezone(self.zone).date()

    def _chances(self, woodlot: Woodlot, kept: Sequence[HourlySeries]) -> list[DayChance]:
        # The moment it was read: what was withheld as too old that day is withheld here too.
        as_of = max(row.run.fetched_at for row in kept)
        stored = [_stored(row) for row in kept]
        stated = woodlot_chances(woodlot, stored, self.constants, self.zone, as_of)
        # Today is partly over when it is stated.
        return [day for day in stated if 1 <= day.lead_days <= LONGEST_LEAD]


def _days(truth: Mapping[int, Came], constants: Constants, zone: ZoneInfo) -> dict[int, Days]:
    freeze_c, thaw_c = constants.number("weather.freeze_c"), constants.number("weather.thaw_c")
    try:
        return {pk: one.days(zone, freeze_c, thaw_c) for pk, one in truth.items()}
    except DomainError:
        # Limits set against each other: the weather page says so, nothing can be judged.
        return {pk: {} for pk in truth}


def _pairs(
    stated: Iterable[tuple[int, DayChance]],
    days: Mapping[int, Days],
    seasons: frozenset[int],
    today: date,
) -> Iterator[Pair]:
    for pk, day in stated:
        asked = in_season(day.date) and season_of(day.date) in seasons
        # A day under way is not known yet.
        if asked and day.date < today and day.date in days[pk]:
            yield _pair(pk, day, *days[pk][day.date])


def _pair(woodlot_id: int, stated: DayChance, source: str, day: FreezeThawDay) -> Pair:
    assert day.minimum_c is not None  # noqa: S101 - a day with known hours has both
    assert day.maximum_c is not None  # noqa: S101
    return Pair(
        woodlot_id=woodlot_id,
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
