"""Everything the page of the days ahead shows, read for a handful of woodlots at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from apps.domain.sap_run import Lacking, Week, YieldFit
from apps.domain.sap_run.likelihood import DAYS_BEFORE
from apps.domain.tapping import season_of
from apps.operation.queries import Constants
from apps.outlook.likelihood import DAY, RunDay, Span, local_midnight, run_days
from apps.outlook.sap_expected import SapToCome, fitted, sap_to_come, taps_of
from apps.outlook.strip import Strip, strip
from apps.outlook.winter import GoneBy, gone_by
from apps.sugarhouse.queries import TankNow, tanks_now
from apps.weather.queries import ModelMembers, Staleness, members
from apps.woods.models import Woodlot

# The least flattering age is the one to say.
LEVELS = ("fresh", "recent", "old", "withheld")


@dataclass(frozen=True, eq=False)
class WoodlotRuns:
    """One woodlot's days ahead; without a model there are none."""

    woodlot: Woodlot
    models: tuple[ModelMembers, ...]
    past: GoneBy
    taps: int | None
    days: tuple[RunDay, ...] = ()
    sap: tuple[SapToCome, ...] = ()
    tanks: tuple[TankNow, ...] = ()

    @property
    def member_count(self) -> int:
        return sum(len(model.temps_c) for model in self.models)

    @property
    def oldest(self) -> ModelMembers | None:
        return max(self.models, key=_age, default=None)

    @property
    def staleness(self) -> Staleness | None:
        return self.oldest.staleness if self.oldest else None

    @property
    def weeks(self) -> list[Week]:
        """The weeks of the published rule that the days ahead fall in."""
        found = {day.week.start: day.week for day in self.days if day.week}
        return list(found.values())

    @property
    def strip(self) -> Strip:
        return strip(self.days)

    @property
    def tonight(self) -> SapToCome | None:
        """Today's sap, which is what tonight's work has to deal with."""
        return next((one for one in self.sap if one.day == self.days[0].date), None)

    @property
    def room_litres(self) -> float | None:
        """What its own tanks can still take by their last dips; None when any is unknown."""
        rooms = [_room(tank) for tank in self.tanks]
        known = [room for room in rooms if room is not None]
        return sum(known) if rooms and len(known) == len(rooms) else None


@dataclass(frozen=True)
class DaysAhead:
    """The page: its woodlots, and the fit that turns a likelihood into litres or what it lacks."""

    rows: tuple[WoodlotRuns, ...]
    fit: YieldFit | Lacking

    @property
    def models(self) -> list[ModelMembers]:
        """Each model once, by the oldest run that any woodlot goes by."""
        found: dict[tuple[str, str, str], ModelMembers] = {}
        for model in sorted((one for row in self.rows for one in row.models), key=_age):
            found[model.provider, model.product, model.model] = model
        return list(found.values())

    @property
    def lacking(self) -> Lacking | None:
        return self.fit if isinstance(self.fit, Lacking) else None

    @property
    def yields(self) -> YieldFit | None:
        return None if isinstance(self.fit, Lacking) else self.fit


def days_ahead(
    woodlots: Sequence[Woodlot], constants: Constants, zone: ZoneInfo, now: datetime
) -> DaysAhead:
    """From the store alone, in as many questions for one woodlot as for a page of them."""
    today = now.astimezone(zone).date()
    first = min(date(today.year, 1, 1), today - DAYS_BEFORE * DAY)
    models = members(woodlots, constants, now)
    past = gone_by(woodlots, local_midnight(first, zone), constants, now)
    taps, fit = taps_of(season_of(today)), fitted(constants, zone, now)
    tanks = tanks_now(now, constants.number("sugarhouse.usable_share"))

    def row(lot: Woodlot) -> WoodlotRuns:
        days = _days(models[lot.pk], past[lot.pk], constants, zone, now)
        stated = [sap_to_come(lot, day, taps, fit) for day in days]
        return WoodlotRuns(
            woodlot=lot,
            models=tuple(models[lot.pk]),
            past=past[lot.pk],
            taps=taps.get(lot.pk),
            days=days,
            sap=tuple(one for one in stated if one),
            tanks=tuple(tank for tank in tanks if tank.tank.woodlot_id == lot.pk),
        )

    return DaysAhead(tuple(row(lot) for lot in woodlots), fit)


def _days(
    models: Sequence[ModelMembers],
    past: GoneBy,
    constants: Constants,
    zone: ZoneInfo,
    now: datetime,
) -> tuple[RunDay, ...]:
    if not models:
        return ()
    return run_days(
        [Span(one.start_at, one.temps_c) for one in models],
        past.hours,
        today=now.astimezone(zone).date(),
        zone=zone,
        now=now,
        freeze_c=constants.number("weather.freeze_c"),
    )


def most_tapped(constants: Constants, zone: ZoneInfo, now: datetime) -> WoodlotRuns | None:
    """The woodlot with the most taps, for a board that has room for one; None without any."""
    taps = taps_of(season_of(now.astimezone(zone).date()))
    lots = sorted(Woodlot.objects.all(), key=lambda lot: (-taps.get(lot.pk, 0), lot.name))
    rows = days_ahead(lots[:1], constants, zone, now).rows
    return rows[0] if rows else None


def _age(model: ModelMembers) -> tuple[int, float]:
    return LEVELS.index(model.staleness.level), -model.run.fetched_at.timestamp()


def _room(tank: TankNow) -> float | None:
    if tank.full_litres is None or tank.last is None or tank.hauled_since:
        return None
    return max(0.0, tank.full_litres - tank.last.volume_litres)
