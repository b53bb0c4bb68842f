"""What the gauges showed, against what their place can hold."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from apps.domain import vacuum
from apps.leaks import walk
from apps.leaks.models import GaugeReading
from apps.leaks.walk import RankingTerms, ranking_terms
from apps.operation.queries import Constants
from apps.woods.models import Woodlot


@dataclass(frozen=True)
class GaugeRow:
    """One gauge reading against what its place can hold and what is wanted there."""

    reading: GaugeReading
    ceiling_kpa: float
    target_kpa: float
    is_fault: bool

    @property
    def place(self) -> str:
        return f"{self.reading.pump_house.woodlot.name}: {self.reading.pump_house.name}"

    @property
    def short_kpa(self) -> float:
        """How far under the target; a reading at or over it is short of nothing."""
        return max(0.0, self.target_kpa - self.reading.vacuum_kpa)


def gauge_readings(woodlot: Woodlot | None = None) -> QuerySet[GaugeReading]:
    """Every reading, newest first, faulty ones and those taken back among them."""
    readings = GaugeReading.objects.select_related(
        "pump_house__woodlot", "crew", "voided_by"
    ).order_by("-read_at", "pump_house__name", "-id")
    return readings if woodlot is None else readings.filter(pump_house__woodlot=woodlot)


def gauge_rows(readings: Iterable[GaugeReading], constants: Constants) -> list[GaugeRow]:
    terms = ranking_terms(constants)
    return [_gauge_row(reading, terms) for reading in readings]


def _gauge_row(reading: GaugeReading, terms: RankingTerms) -> GaugeRow:
    house = reading.pump_house
    # The same ceiling as the lines of that house are ranked by.
    ceiling = walk.ceiling_kpa(house, house.woodlot.elevation_m)
    return GaugeRow(
        reading=reading,
        ceiling_kpa=ceiling,
        target_kpa=vacuum.default_target_kpa(ceiling, terms.target_kpa),
        is_fault=vacuum.is_gauge_fault(reading.vacuum_kpa, ceiling, terms.gauge_slack_kpa),
    )
