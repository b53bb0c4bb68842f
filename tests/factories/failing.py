"""A farm with a good forecast in the store, whose weather service then goes wrong."""

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from apps.operation.queries import constants
from apps.weather import actions, queries
from apps.weather.models import HourlySeries, RefreshAttempt
from apps.woods.models import Woodlot
from tests.factories import weather as made
from tests.factories.woods import woodlot
from tests.standin import StandIn

NEW_YORK = ZoneInfo("America/New_York")
NOW = made.NOW
LATER = NOW + timedelta(hours=6)


@dataclass
class Farm:
    """Woodlots in a row, and whom they ask; `before` is what the store held after `begin`."""

    standin: StandIn
    lots: list[Woodlot]
    sources: list = field(default_factory=list)
    before: dict = field(default_factory=dict)

    def ask(self, now: datetime = LATER, **pace) -> RefreshAttempt:
        self.standin.now = now
        quick = replace(made.QUICK, **pace)
        return actions.refresh(now=now, sources=self.sources, pace=quick)

    def begin(self) -> "Farm":
        assert self.ask(NOW).outcome == "ok"
        self.before = self.held()
        return self

    def held(self, now: datetime = LATER) -> dict:
        """The newest good series by woodlot and model: the run, and every byte of it."""
        rows = HourlySeries.objects.newest_per_model(now).select_related("run")
        return {(row.woodlot_id, row.run.model): (row.run_id, bytes(row.packed)) for row in rows}

    def kinds(self, attempt: RefreshAttempt) -> set[str]:
        return {note["kind"] for asked in attempt.sources.all() for note in asked.findings}

    def row(self, lot=None, now: datetime = LATER, tz=NEW_YORK):
        lot = lot or self.lots[0]
        return queries.freeze_thaw_days([lot], constants(), tz, now)[lot.pk]

    def chances(self, lot=None, now: datetime = LATER, tz=NEW_YORK):
        lot = lot or self.lots[0]
        return queries.day_chances([lot], constants(), tz, now)[lot.pk]

    def kept(self, attempt: RefreshAttempt, kind: str, age: str = "fetched 6 h ago") -> None:
        """Nothing came: the last good series stands byte for byte, with its age and the reason."""
        assert attempt.outcome == "failed"
        assert self.held() == self.before
        assert self.kinds(attempt) == {kind}
        assert actions.KEPT in attempt.detail
        # The reason in words comes after the promise.
        assert len(attempt.detail) > len(actions.KEPT) + 20
        assert all(self.row(lot).staleness.words == age for lot in self.lots)
        assert all(self.row(lot).days for lot in self.lots)


def forecast(standin: StandIn, lots: int = 2) -> Farm:
    return _farm(standin, lots, made.source(made.provider(standin.url)))


def ensemble(standin: StandIn, lots: int = 2, model: str = "ncep_gefs_seamless") -> Farm:
    asked = made.source(made.ensemble(standin.url, model), key="open-meteo-ensemble", members=True)
    return _farm(standin, lots, asked)


def nws(standin: StandIn, lots: int = 2) -> Farm:
    return _farm(standin, lots, made.source(made.nws(standin.url), key="nws"))


def met_norway(standin: StandIn, lots: int = 2) -> Farm:
    return _farm(standin, lots, made.source(made.met_norway(standin.url), key="met-norway"))


def _farm(standin: StandIn, lots: int, source) -> Farm:
    places = [woodlot(f"Lot {number}", latitude=43.9 + number * 0.05) for number in range(lots)]
    return Farm(standin, places, [source])
