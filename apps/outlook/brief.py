"""The morning brief: the board in plain text, for a mail or a screen reader.

Every part names where its figures come from and how old they are; what is unknown is called so.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from zoneinfo import ZoneInfo

from django.utils import timezone

from apps.domain.tapping import season_of
from apps.leaks import queries as leaks
from apps.leaks.standing import RANKED, LineStanding
from apps.operation import display
from apps.operation.models import CrewMember, Operation
from apps.operation.queries import Constants, constants
from apps.outlook.models import BriefSent
from apps.outlook.runs import WoodlotRuns, days_ahead
from apps.outlook.start import start_answer
from apps.outlook.verdict import shown_day
from apps.sugarhouse.queries import TankNow, tanks_now
from apps.tapping.queries import progress
from apps.weather.models import ForecastRun
from apps.weather.queries import weather_strip
from apps.woods.queries import woodlots

DAYS_SHOWN = 3
LINES_SHOWN = 3
LEAKS_SHOWN = 5
# A machine switched on after lunch sends no morning brief.
MORNING_ENDS_HOUR = 12


@dataclass(frozen=True)
class Brief:
    """One morning's brief, ready to send or to show."""

    subject: str
    text: str


@dataclass(frozen=True)
class _Writer:
    """What every part needs to put numbers into words."""

    operation: Operation
    now: datetime
    in_use: Constants
    demo: bool

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.operation.time_zone)

    @property
    def season(self) -> int:
        return season_of(self.now.astimezone(self.zone).date())

    def show(self, value_si: float | None, quantity: str, decimals: int | None = None) -> str:
        return display.shown(value_si, quantity, self.operation.unit_system, decimals)

    def clock(self, moment: datetime) -> str:
        here = moment.astimezone(self.zone)
        return f"{here:%H:%M} on {here:%a} {here.day} {here:%B}"


def write(*, operation: Operation, now: datetime, demo: bool) -> Brief:
    """The brief of this moment; in the demo it says that its weather is invented."""
    writer = _Writer(operation, now, constants(), demo)
    here = now.astimezone(writer.zone)
    today = f"{here:%A} {here.day} {here:%B}"
    parts = (_weather, _runs, _start, _walk, _open_leaks, _tanks, _taps)
    # Records below read the day in the operation's own zone, as they do for a page.
    with timezone.override(writer.zone):
        # A part with nothing to ask for, such as the start in March, is left out whole.
        written = [text for part in parts if (text := "\n".join(part(writer)))]
    head = f"{operation.name}, {today}, {here:%H:%M}"
    foot = "Thawline advises; local codes and licensed practice decide."
    text = "\n\n".join([head, *written, foot])
    return Brief(subject=f"{operation.name}: {today}", text=text + "\n")


def readers() -> list[CrewMember]:
    """The owners who may sign in and have an address."""
    # Somebody who has left keeps the records and gets no mail.
    owners = CrewMember.objects.filter(role=CrewMember.Role.OWNER, is_active=True)
    return list(owners.exclude(email="").order_by("username"))


def is_due(here: datetime) -> bool:
    """Whether it is morning, past the hour wanted, and somebody lacks today's brief.

    `here` is the moment in the operation's own zone.
    """
    from_hour = constants().number("outlook.brief_hour")
    morning = from_hour <= here.hour + here.minute / 60 < MORNING_ENDS_HOUR
    had = BriefSent.objects.went_out(here.date()).values_list("reader", flat=True)
    return morning and bool({reader.pk for reader in readers()} - set(had))


def _weather(writer: _Writer) -> Iterator[str]:
    yield "FREEZE AND THAW"
    strip = weather_strip(writer.in_use, writer.zone, writer.now)
    if not strip.days:
        why = f"the forecast is {strip.staleness.words}" if strip.staleness else "none is stored"
        yield f"Nothing to go by: {why}. Refresh the weather."
        return
    for day in strip.days[:DAYS_SHOWN]:
        said = f"freezes and thaws in {day.tally.yes} of {day.woodlots} woodlots"
        unknown = f" ({day.tally.unknown} unknown)" if day.tally.unknown else ""
        low, high = (writer.show(one, "temperature") for one in (day.minimum_c, day.maximum_c))
        yield f"{day.date:%a} {day.date.day}: {said}{unknown}; low {low}, high {high}"
    if strip.without:
        plural = "" if strip.without == 1 else "s"
        yield f"{strip.without} woodlot{plural} without a forecast that can be shown."
    if strip.staleness and strip.run:
        yield f"Forecast {strip.staleness.words}. {_source(strip.run, writer)}"


def _runs(writer: _Writer) -> Iterator[str]:
    yield "WILL SAP RUN TODAY?"
    rows = days_ahead(list(woodlots()), writer.in_use, writer.zone, writer.now).rows
    if not rows:
        yield "No woodlots yet."
    for row in rows:
        yield f"{row.woodlot.name}: {_likelihood(row)}"
    if rows:
        yield "From the weather alone, by a rule fitted to one open record; rough."


def _likelihood(row: WoodlotRuns) -> str:
    today = next((day for day in row.days if day.lead_days == 0), None)
    if today is None or today.word is None:
        return "unknown"
    share = today.likelihood.percentage
    return today.word if share is None else f"{today.word} ({100 * share:.0f} %)"


def _start(writer: _Writer) -> Iterator[str]:
    """The start-date page's own answer, in its own words; nothing while nobody asks."""
    answer = start_answer(constants=writer.in_use, zone=writer.zone, now=writer.now)
    if answer is None:
        return
    yield "WHEN TO START TAPPING"
    yield answer.headline
    if answer.runner_up:
        yield f"Runner-up: {shown_day(answer.runner_up.row.start)}."
    if answer.rests_on:
        yield answer.rests_on


def _walk(writer: _Writer) -> Iterator[str]:
    yield "WALK NEXT"
    standings = leaks.ranked_lines(season=writer.season, now=writer.now, constants=writer.in_use)
    chosen = leaks.next_lines(standings, LINES_SHOWN)
    if not chosen:
        yield "No line is known to be worth a walk." if standings else "No lines yet."
    for row in chosen:
        yield f"{row.line.woodlot.name} {row.line.label}: {_worth(row, writer)}; {row.walked}"
    worth = sum(row.group == RANKED for row in standings)
    if standings:
        yield f"{worth} of {len(standings)} lines worth a walk by this season's readings."


def _worth(row: LineStanding, writer: _Writer) -> str:
    if row.ranked is None:
        return "no reading yet, what it loses is unknown"
    return f"{writer.show(row.ranked.litres_per_day, 'volume')} of sap a day"


def _open_leaks(writer: _Writer) -> Iterator[str]:
    yield "OPEN LEAKS"
    found = leaks.open_leaks()
    count = found.count()
    if not count:
        yield "None on record, which is not the same as tight."
        return
    for leak in islice(found, LEAKS_SHOWN):
        opened = leak.opened_at.astimezone(writer.zone)
        left = f"left {opened.day} {opened:%B %Y}"
        yield f"{leak.line.woodlot.name} {leak.line.label}: {left}"
    yield f"{count} in all, oldest first, by the checks."


def _tanks(writer: _Writer) -> Iterator[str]:
    yield "TANKS"
    rows = tanks_now(writer.now, writer.in_use.number("sugarhouse.usable_share"))
    if not rows:
        yield "No tanks yet."
    for row in rows:
        yield f"{row.tank.name}: {_tank(row, writer)}"
    if rows:
        yield "From the last two dips of each, carried on at the same rate."


def _tank(row: TankNow, writer: _Writer) -> str:
    if row.last is None:
        return "no dip yet, level unknown"
    held = f"{writer.show(row.last.volume_litres, 'volume')} at {writer.clock(row.last.at)}"
    if row.state == "filling":
        return f"{held}, full in {writer.show(row.hours_left, 'hours')}"
    # Shouted, as it is the one line that cannot wait for the second coffee.
    words = {"full": "FULL BY NOW: look at it", "dip again": "hauled from since: dip again"}
    return f"{held}, {words.get(row.state, row.state)}"


def _taps(writer: _Writer) -> Iterator[str]:
    yield "TAPS"
    rows = progress(writer.season)
    done = sum(row.taps_set for row in rows)
    left = _known(row.taps_left for row in rows)
    planned = _known(row.planned_taps for row in rows)
    if left is None:
        yield f"{done:,} set; none planned, so what is left is unknown."
        return
    yield f"{left:,} left: {done:,} set of {planned:,} planned, season {writer.season}."
    unplanned = sum(row.lines_unplanned for row in rows)
    if unplanned:
        have, are = ("line has", "is") if unplanned == 1 else ("lines have", "are")
        yield f"{unplanned} {have} no planned taps and {are} not in it."


def _known(values: Iterable[int | None]) -> int | None:
    known = [value for value in values if value is not None]
    return sum(known) if known else None


def _source(run: ForecastRun, writer: _Writer) -> str:
    # The stand-in answers in the name of a real service: its name here would mislead.
    if writer.demo:
        return "Demo weather, invented: decide nothing by it."
    return f"{run.attribution}; {run.provider}, {run.model}."
