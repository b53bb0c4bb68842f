"""The invented crew in the woods: tapping, walking lines, reading gauges."""

import random
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from apps.demo.generator.year import Day, fit_for_tapping
from apps.domain import units
from apps.leaks import actions as leaks
from apps.leaks.models import Leak, Position
from apps.operation.models import CrewMember
from apps.tapping import actions as tapping
from apps.woods.models import Line, PumpHouse, Woodlot

ZONE = ZoneInfo("America/New_York")
FIRST_TAPPING_DAY = {
    2023: date(2023, 2, 2), 2024: date(2024, 2, 1), 2025: date(2025, 2, 10),
    2026: date(2026, 2, 5),
}  # fmt: skip
TAPS_PER_PAIR_HOUR, HOURS_A_DAY = 82, 6
# Twice what is met twice as often; nobody writes a cause down every time.
CAUSES = ("chew", "chew", "limb", "limb", "spout", "saddle", "tee", "fitting", "")
# What a mend of that cause takes along; a leak of no known cause is mended with a connector.
PARTS = {
    "chew": ("lateral", "connector"), "limb": ("mainline", "main_fitting", "wire_tie"),
    "spout": ("spout", "drop"), "saddle": ("saddle",), "tee": ("tee", "drop"),
    "fitting": ("main_fitting", "clamp"), "": ("connector",),
}  # fmt: skip
# The season from which on phones went along.
PHONES_SINCE = 2025
Days = dict[str, dict[date, Day]]


def at(day: date, hour: int, minute: int = 0) -> datetime:
    """A local wall-clock time as UTC."""
    return datetime.combine(day, time(hour, minute), tzinfo=ZONE).astimezone(UTC)


def new_uuid(rng: random.Random) -> UUID:
    """The same identifiers from the same seed."""
    return UUID(int=rng.getrandbits(128), version=4)


@dataclass
class Woods:
    """What the crew knows of the woods while a season goes on."""

    rng: random.Random
    season: int
    days: Days
    crew: list[CrewMember]
    until: datetime
    lines: list[tuple[Line, int]] = field(default_factory=list)
    walked: dict[int, date] = field(default_factory=dict)
    # Where the leak still open on a line is: its fix is at the same drop.
    open_places: dict[int, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        # What phones add has chances of its own: with or without it the crew walks the same lines.
        self.phones = random.Random(f"phones of {self.season}")  # noqa: S311
        rows = (
            Line.objects.filter(tap_counts__season=self.season)
            .select_related("woodlot")
            .prefetch_related("tap_counts")
            .order_by("woodlot_id", "pk")
        )
        self.lines = [
            (row, next(c.planned_taps for c in row.tap_counts.all() if c.season == self.season))
            for row in rows
        ]

    def person(self) -> CrewMember:
        return self.rng.choice(self.crew)


def tap(woods: Woods) -> None:
    """Two pairs, a day's taps at a time; in 2026 the last lines are never reached."""
    waiting = list(woods.lines)
    if woods.season == 2026:
        waiting = waiting[:-3]
    day = FIRST_TAPPING_DAY[woods.season]
    while waiting:
        weather = woods.days["Home Hill"][day]
        done = 0
        while waiting and fit_for_tapping(weather) and done < 2 * TAPS_PER_PAIR_HOUR * HOURS_A_DAY:
            line, planned = waiting.pop(0)
            done += planned
            _tally(woods, line, planned, day)
        day += timedelta(days=1)


def _tally(woods: Woods, line: Line, planned: int, day: date) -> None:
    moment = at(day, 15, woods.rng.randrange(60))
    if moment > woods.until or planned == 0:
        return
    # A tree has died here and there, or one has grown to size.
    # No line is tallied as none: that would be a line not tapped.
    taps = max(1, planned + woods.rng.choice((0, 0, 0, 0, -1, 1)))
    tapping.record_tally(
        uuid=new_uuid(woods.rng),
        line=line,
        tallied_on=day,
        crew=woods.person(),
        now=moment,
        taps_set=taps,
        drops_renewed=taps if line.drops_installed_season == woods.season else 0,
        pair_hours=round(taps / (TAPS_PER_PAIR_HOUR * woods.rng.uniform(0.85, 1.15)), 2),
        finishes_line=True,
    )


def walk(woods: Woods) -> None:
    """Two people walk lines on most days that are warm enough, those longest not walked first."""
    day = FIRST_TAPPING_DAY[woods.season] + timedelta(days=16)
    while day <= date(woods.season, 4, 14):
        weather = woods.days["Home Hill"][day]
        if day.weekday() != 6 and weather.maximum_c > -2:
            for line, _ in _next_lines(woods, 9 if weather.litres_per_tap else 4):
                frozen = weather.maximum_c < 0.5 and woods.rng.random() < 0.5
                _check(woods, line, day, frozen=frozen)
        day += timedelta(days=1)


def _next_lines(woods: Woods, count: int) -> list[tuple[Line, int]]:
    def waiting(row: tuple[Line, int]) -> tuple[bool, date, float]:
        line = row[0]
        # A known leak is gone back to before its turn, though not always at once.
        urgent = line.pk in woods.open_places and woods.rng.random() < 0.35
        return (not urgent, woods.walked.get(line.pk, date.min), woods.rng.random())

    return sorted(woods.lines, key=waiting)[:count]


def _check(woods: Woods, line: Line, day: date, *, frozen: bool) -> None:
    moment = at(day, woods.rng.randint(8, 15), woods.rng.randrange(60))
    if moment > woods.until:
        return
    state, place = ("frozen", None) if frozen else _found(woods, line)
    before, after = _readings(woods.rng, state)
    # Drawn in this order since the first demo: the story stays the same.
    uuid, minutes_late = new_uuid(woods.rng), woods.rng.choice((1, 2, 45, 190))
    crew, cause = woods.person(), woods.rng.choice(CAUSES) if place is not None else ""
    leaks.record_check(
        uuid=uuid,
        line=line,
        state=state,
        observed_at=moment,
        received_at=moment + timedelta(minutes=minutes_late),
        crew=crew,
        vacuum_before_kpa=before,
        vacuum_after_kpa=after,
        place_drops=place,
        cause=cause,
        position=position_on(woods, line),
        parts=_parts(woods, cause) if state == "leak_fixed" else None,
    )
    if not frozen:
        woods.walked[line.pk] = day


def _parts(woods: Woods, cause: str) -> dict[str, int]:
    """Mends whose parts somebody took the time to name."""
    if woods.phones.random() < 0.3:
        return {}
    return {part: woods.phones.choice((1, 1, 1, 2, 3)) for part in PARTS[cause]}


def position_on(woods: Woods, line: Line) -> Position | None:
    """Where a phone says it is on a line; under trees or in a pocket it often does not say."""
    if woods.season < PHONES_SINCE or woods.phones.random() < 0.4:
        return None
    # Each line has one place, whenever it is walked: drawn from its own name.
    spot = random.Random(f"{line.woodlot.name} {line.label}")  # noqa: S311
    accuracy_m = woods.phones.choice((5, 8, 8, 12, 20, 35, 90))
    # A ten-thousandth of a degree is some ten metres.
    wide = accuracy_m * 0.5e-5
    return Position(
        round(line.woodlot.latitude + spot.uniform(-3e-3, 3e-3) + woods.phones.gauss(0, wide), 6),
        round(line.woodlot.longitude + spot.uniform(-4e-3, 4e-3) + woods.phones.gauss(0, wide), 6),
        float(accuracy_m),
    )


def _found(woods: Woods, line: Line) -> tuple[str, int | None]:
    """What the walker finds, and where in drops up the line."""
    # A leak found and left is the first thing the next walker meets.
    known = woods.open_places.get(line.pk)
    if known is not None:
        if woods.rng.random() < 0.2:
            return "leak_left", known
        return "leak_fixed", woods.open_places.pop(line.pk)
    if woods.rng.random() > 0.28:
        return "tight", None
    place = woods.rng.randint(1, 40)
    if woods.rng.random() < 0.75:
        return "leak_fixed", place
    woods.open_places[line.pk] = place
    return "leak_left", place


def mend_in_summer(woods: Woods) -> None:
    """What the season left open is mended in August, with the lines down."""
    day = date(woods.season, 8, 3)
    for leak in Leak.objects.still_open().filter(opened_at__year=woods.season).order_by("pk"):
        moment = at(day, woods.rng.randint(8, 15), woods.rng.randrange(60))
        if moment <= woods.until:
            leaks.record_check(
                uuid=new_uuid(woods.rng),
                line=leak.line,
                state="leak_fixed",
                observed_at=moment,
                received_at=moment,
                crew=woods.person(),
                note="Summer repair",
            )
        day += timedelta(days=woods.rng.choice((0, 0, 1)))


def _readings(rng: random.Random, state: str) -> tuple[float | None, float | None]:
    """Inches by halves as a dial is read; one walk in four carries no gauge."""
    if state == "frozen" or rng.random() < 0.25:
        return None, None
    tight = rng.choice((24.5, 25.0, 25.5, 26.0))
    if state == "tight":
        return float(units.kpa_from_inhg(tight)), None
    low = tight - rng.choice((1.0, 1.5, 2.0, 3.0, 4.5, 7.0))
    after = float(units.kpa_from_inhg(tight)) if state == "leak_fixed" else None
    return float(units.kpa_from_inhg(low)), after


def read_gauges(woods: Woods) -> None:
    """Each pump house morning and afternoon while sap runs; one dial read wrong in April."""
    houses = {
        woodlot.name: woodlot.pump_houses.get()
        for woodlot in Woodlot.objects.prefetch_related("pump_houses")
    }
    for name, house in houses.items():
        for day in woods.days[name].values():
            if day.litres_per_tap > 0:
                _read(woods, house, day.day)


def _read(woods: Woods, house: PumpHouse, day: date) -> None:
    for hour in (7, 15):
        inches = 24.0 + woods.rng.choice((0.5, 1.0, 1.5, 2.0, 2.0))
        if (day.month, day.day, hour) == (4, 2, 7) and house.name.startswith("Cold"):
            inches = 30.0  # a dial that stuck: over what the air itself allows at that height
        moment = at(day, hour, 30)
        if moment <= woods.until:
            leaks.record_gauge_reading(
                uuid=new_uuid(woods.rng),
                pump_house=house,
                read_at=moment,
                vacuum_kpa=float(units.kpa_from_inhg(inches)),
                crew=woods.person(),
            )
