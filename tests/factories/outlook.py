"""The woods, the seasons and the weather of the start-date paper, for tests.

Worked on paper in tests/integration/test_outlook_start_date.py.
"""

from datetime import UTC, date, datetime

from tests.factories import tapping, weather, woods

INCH_M = 0.0254
MIDNIGHT = datetime(2026, 2, 16, 5, 0, tzinfo=UTC)  # of Monday 16 February in New York
FIRST_RUNS = (
    date(2016, 3, 2),
    date(2017, 2, 18),
    date(2018, 2, 21),
    date(2019, 3, 12),
    date(2020, 2, 24),
    date(2021, 3, 6),
    date(2022, 3, 1),
    date(2023, 2, 28),
    date(2024, 3, 3),
    date(2025, 3, 9),
)
LOTS = (("Tamarack Hollow", 1150, 8), ("Beech Ridge", 1000, 18), ("Swamp Lot", 600, 30))
FREEZE_THAW = (-5.0,) * 12 + (6.0,) * 12


def late_january() -> datetime:
    return datetime(2026, 1, 26, 12, 0, tzinfo=UTC)


def mid_february() -> datetime:
    return datetime(2026, 2, 16, 12, 0, tzinfo=UTC)


def summer() -> datetime:
    return datetime(2025, 7, 4, 12, 0, tzinfo=UTC)


def stand_at(settings, clock) -> None:
    settings.THAWLINE_CLOCK = f"{__name__}.{clock.__name__}"


def lots():
    """Three woodlots of one line each: name, planned taps, inches of snow on 20 January."""
    rows = []
    for name, taps, inches in LOTS:
        lot = woods.woodlot(name)
        woods.line(lot, "1", planned_taps=taps)
        tapping.snow_depth(lot, inches * INCH_M, seen_on=date(2026, 1, 20))
        rows.append(lot)
    return rows


def ten_seasons() -> None:
    for day in FIRST_RUNS:
        tapping.first_run(day)


def steady(temp_c):
    """A day of the same temperature."""
    return [temp_c] * 24


def forecast(lots, days, *, fetched_at=MIDNIGHT, **fields) -> None:
    """One run for all these woodlots; `days` are whole days of hours from 16 February."""
    run = weather.run(fetched_at=fetched_at)
    for lot in lots:
        hours = [hour for day in days for hour in day]
        weather.stored(run, lot, hours, start_at=MIDNIGHT, **fields)
