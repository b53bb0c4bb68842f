"""The order to walk the lines in, from what is known of each."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import cast

from django.utils import timezone

from apps.domain import vacuum
from apps.domain.leak_ranking import (
    LineState,
    LineStatus,
    NotRankedReason,
    RankedLine,
    Ranking,
    rank,
)
from apps.leaks import standing
from apps.leaks.models import LeakCheck
from apps.leaks.standing import LineStanding, LineTaps
from apps.operation.queries import Constants
from apps.woods.models import Line, PumpHouse

# The arithmetic knows its own words, so that codes in the database may change without it.
STATUS: dict[str, LineStatus] = {
    "tight": "tight",
    "leak_fixed": "fixed",
    "leak_left": "left",
    "frozen": "frozen",
}
GROUP_OF: dict[NotRankedReason, str] = {
    "frozen": standing.FROZEN,
    "no reading": standing.NO_READING,
    "gauge fault": standing.GAUGE_FAULT,
    "at target": standing.AT_TARGET,
}


@dataclass(frozen=True)
class RankingTerms:
    """The constants behind a ranking, shown beside it."""

    sap_litres_per_tap_day: float
    target_kpa: float
    gain_per_inhg: float
    model: vacuum.LossModel
    walk_minutes: float
    fix_minutes: float
    gauge_slack_kpa: float
    under_ceiling_kpa: float = vacuum.UNDER_CEILING_KPA


def ranking_terms(constants: Constants) -> RankingTerms:
    return RankingTerms(
        sap_litres_per_tap_day=constants.number("leaks.sap_litres_per_tap_day"),
        target_kpa=constants.number("leaks.target_vacuum_kpa"),
        gain_per_inhg=constants.number("leaks.gain_per_inhg"),
        model=cast("vacuum.LossModel", constants.choice("leaks.loss_model")),
        walk_minutes=constants.number("leaks.walk_minutes"),
        fix_minutes=constants.number("leaks.fix_minutes"),
        gauge_slack_kpa=constants.number("leaks.gauge_slack_kpa"),
    )


@dataclass(frozen=True)
class Seen:
    """What is known of some lines; the mappings are by line id and lack what is not known."""

    lines: Sequence[Line]
    pump_houses: Mapping[int, PumpHouse]
    taps: Mapping[int, tuple[LineTaps, int | None]]
    walked_at: Mapping[int, datetime]
    latest: Mapping[int, LeakCheck]
    readings: Mapping[int, LeakCheck]
    open_leaks: Mapping[int, int]
    today: date
    across: Mapping[int, int] = field(default_factory=dict)

    def days_since(self, at: datetime | None) -> int | None:
        """Whole local days: yesterday evening is 1, whatever the hour now."""
        return None if at is None else (self.today - timezone.localtime(at).date()).days

    def reading_kpa(self, line: Line) -> float | None:
        # Put on the row by LeakCheckQuerySet.about_vacuum.
        return getattr(self.readings.get(line.pk), "reading_kpa", None)

    def pump_house(self, line: Line) -> PumpHouse | None:
        return self.pump_houses.get(self.taps[line.pk][1] or 0)

    def ceiling_kpa(self, line: Line) -> float:
        return ceiling_kpa(self.pump_house(line), line.woodlot.elevation_m)


def ceiling_kpa(pump_house: PumpHouse | None, woodlot_elevation_m: float) -> float:
    """By the pump house's own height where it is known, else by the woodlot's."""
    # The pump makes the vacuum, so the air at the pump is what it can draw against.
    if pump_house is not None and pump_house.elevation_m is not None:
        return vacuum.ceiling_kpa(pump_house.elevation_m)
    return vacuum.ceiling_kpa(woodlot_elevation_m)


def walking_order(seen: Seen, terms: RankingTerms) -> list[LineStanding]:
    """Every line once, in the order of its group and within it of what a walk is worth."""
    states = [_state(line, seen, terms) for line in seen.lines]
    places = _Places(
        rank(
            states,
            target_kpa=terms.target_kpa,
            sap_litres_per_tap_day=terms.sap_litres_per_tap_day,
            k_per_inhg=terms.gain_per_inhg,
            model=terms.model,
            gauge_slack_kpa=terms.gauge_slack_kpa,
        )
    )
    rows = [
        _standing(line, state, places, seen, terms)
        for line, state in zip(seen.lines, states, strict=True)
    ]
    # Within a group that has no ranks the days unwalked decide.
    return sorted(rows, key=_order)


def _state(line: Line, seen: Seen, terms: RankingTerms) -> LineState:
    latest = seen.latest.get(line.pk)
    return LineState(
        # Names may say the same of two lines, "A in B" in C and A in "B in C"; keys never do.
        line_id=str(line.pk),
        name=f"{line.label} in {line.woodlot.name}",
        taps=seen.taps[line.pk][0].taps,
        reading_kpa=seen.reading_kpa(line),
        # The newest look of any season: a line frozen or never seen is told from one that is fine.
        state=STATUS[latest.state] if latest else "unchecked",
        # Never nought in the database: what is falsy is unknown, and the usual walk stands in.
        walk_minutes=line.walk_minutes or terms.walk_minutes,
        fix_minutes=terms.fix_minutes,
        ceiling_kpa=seen.ceiling_kpa(line),
    )


class _Places:
    """Where each line came out of a ranking."""

    def __init__(self, ranking: Ranking) -> None:
        self.ranked = {row.line_id: row for row in ranking.ranked}
        self.nth = {row.line_id: nth for nth, row in enumerate(ranking.ranked, start=1)}
        self.reasons = {row.line_id: row.reason for row in ranking.not_ranked}

    def of(self, state: LineState) -> tuple[str, RankedLine | None, int | None]:
        """Its group, and its row and rank where it has one."""
        reason = self.reasons.get(state.line_id)
        if reason is None:
            return standing.RANKED, self.ranked[state.line_id], self.nth[state.line_id]
        # Without taps no reading costs sap: that says nothing of the vacuum being good.
        if reason == "at target" and state.taps == 0:
            return standing.NO_TAPS, None, None
        return GROUP_OF[reason], None, None


def _standing(
    line: Line, state: LineState, places: _Places, seen: Seen, terms: RankingTerms
) -> LineStanding:
    group, ranked, nth = places.of(state)
    walked_at, reading = seen.walked_at.get(line.pk), seen.readings.get(line.pk)
    ceiling = seen.ceiling_kpa(line)
    return LineStanding(
        line=line,
        pump_house=seen.pump_house(line),
        taps=seen.taps[line.pk][0],
        latest=seen.latest.get(line.pk),
        walked_at=walked_at,
        days_since_walked=seen.days_since(walked_at),
        reading_kpa=state.reading_kpa,
        reading_at=reading.observed_at if reading else None,
        days_since_reading=seen.days_since(reading.observed_at if reading else None),
        ceiling_kpa=ceiling,
        target_kpa=vacuum.default_target_kpa(ceiling, terms.target_kpa),
        walk_minutes=state.walk_minutes,
        fix_minutes=state.fix_minutes,
        open_leaks=seen.open_leaks.get(line.pk, 0),
        group=group,
        ranked=ranked,
        rank=nth,
        across=seen.across.get(line.pk, 0),
    )


def _order(row: LineStanding) -> tuple[int, float]:
    """Sorting is stable, so equal lines stay by woodlot and label."""
    group = list(standing.GROUPS).index(row.group)
    if row.rank is not None:
        return group, row.rank
    # Never walked goes before the longest unwalked.
    return group, float("-inf") if row.days_since_walked is None else -row.days_since_walked
