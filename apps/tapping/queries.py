"""What is tapped, what is left, and what the years before say."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Q, QuerySet, Sum

from apps.domain.tapping import season_of
from apps.operation.queries import Constants
from apps.tapping.models import CrewPlan, FirstRun, SnowDepth, TapPull, TapTally
from apps.woods.models import Line, Woodlot
from apps.woods.queries import label_order, planned_taps_by_line

# Sap is over by the end of May everywhere; whoever drills later drills for next spring.
JUNE = 6
# These carry from line to line and bear no spouts of their own, unless somebody says so.
CONDUCTORS = (Line.Kind.WET, Line.Kind.DRY)


@dataclass(frozen=True)
class LineProgress:
    """One line's season so far; planned taps are None where nobody has counted them."""

    line: Line
    planned_taps: int | None
    taps_set: int
    finished: bool
    branches: bool = False

    @property
    def bears_taps(self) -> bool:
        """Whether taps are to be expected here at all.

        Conductors carry sap or air between lines, and the taps of a line that branches hang on
        its branches; either counts as soon as somebody plans or counts taps on it.
        """
        if self.planned_taps is not None or self.taps_set or self.finished:
            return True
        return self.line.kind not in CONDUCTORS and not self.branches

    @property
    def taps_left(self) -> int | None:
        """0 once the crew calls it finished, whatever was planned; None where no plan says."""
        if self.finished:
            return 0
        if self.planned_taps is None:
            return None
        # A line may take more taps than planned: that never makes another line's taps fewer.
        return max(0, self.planned_taps - self.taps_set)

    @property
    def over_plan(self) -> int:
        return max(0, self.taps_set - self.planned_taps) if self.planned_taps is not None else 0

    @property
    def under_plan(self) -> int:
        """Taps that a finished line did not take; nought while there is work left on it."""
        if not self.finished or self.planned_taps is None:
            return 0
        return max(0, self.planned_taps - self.taps_set)

    @property
    def state(self) -> str:
        if self.taps_left == 0:
            return "done"
        return "under way" if self.taps_set else "not begun"


@dataclass(frozen=True)
class WoodlotProgress:
    """One woodlot's season so far: always the sum of its lines."""

    woodlot: Woodlot
    lines: int
    lines_done: int
    lines_planned: int
    planned_taps: int | None
    taps_set: int
    taps_left: int | None
    observed_taps_per_pair_hour: float | None

    @property
    def lines_unplanned(self) -> int:
        return self.lines - self.lines_planned

    @property
    def begun(self) -> bool:
        return self.taps_set > 0


_ENDS = Q(finishes_line=True)


def season_to_tap(day: date) -> int:
    """The season that tapping on this day is for: from June on, the one to come."""
    return season_of(day) + (JUNE <= day.month <= 11)


def season_to_pull(day: date) -> int:
    """The season whose taps come out on this day: those of the calendar year, until its end."""
    # Not from December on as for sap: who finds a tap at Christmas finds one of the past spring.
    return day.year


def crew_plan(season: int, constants: Constants) -> CrewPlan:
    """The season's own plan; unsaved, and so without a key, while the defaults stand."""
    saved = CrewPlan.objects.filter(season=season).first()
    # Unsaved: looking at a page writes nothing.
    return saved or CrewPlan(
        season=season,
        pairs=round(constants.number("tapping.pairs")),
        hours_per_day=constants.number("tapping.hours_per_day"),
        lost_days=round(constants.number("tapping.lost_days")),
        rest_day=constants.choice("tapping.rest_day"),
        accept_missing=round(constants.number("tapping.accept_missing")),
    )


def taps_set_by_line(season: int) -> dict[int, int]:
    """Taps counted on each line; a line nobody has counted is absent, never 0."""
    # Drops renewed without a tap set are work on the line, but no count of its taps.
    counts = Q(taps_set__gt=0) | _ENDS
    rows = TapTally.objects.of_season(season).standing().filter(counts).values_list("line_id")
    return dict(rows.annotate(taps=Sum("taps_set")).values_list("line_id", "taps"))


def taps_set_by_woodlot(season: int) -> dict[int, int]:
    """Taps counted in each woodlot, only where something was counted."""
    rows = TapTally.objects.of_season(season).standing().values_list("line__woodlot_id")
    # Drops renewed are no taps: a woodlot with nothing else has not begun.
    summed = rows.annotate(taps=Sum("taps_set")).filter(taps__gt=0)
    return dict(summed.values_list("line__woodlot_id", "taps"))


def line_progress(season: int) -> list[LineProgress]:
    """Every line to be tapped, by woodlot and label, in five queries however many there are."""
    # Prefetched rather than joined: thousands of lines share a handful of woodlots.
    lines = Line.objects.defer("geometry").prefetch_related("woodlot")
    planned, counted = planned_taps_by_line(season), taps_set_by_line(season)
    tallies_of_season = TapTally.objects.of_season(season).standing()
    finished = set(tallies_of_season.filter(_ENDS).values_list("line_id", flat=True))
    # From the lines already read: asking each for its branches would be a question a line.
    branching = {line.parent_id for line in lines}
    rows = [
        LineProgress(
            line=line,
            planned_taps=planned.get(line.pk),
            taps_set=counted.get(line.pk, 0),
            finished=line.pk in finished,
            branches=line.pk in branching,
        )
        for line in sorted(lines, key=lambda row: (row.woodlot.name, label_order(row.label)))
    ]
    return [row for row in rows if row.bears_taps]


def find_lines(
    rows: Iterable[LineProgress],
    *,
    woodlot: Woodlot | None = None,
    label: str = "",
    everything: bool = False,
) -> list[LineProgress]:
    """The lines to list: without the finished ones unless everything is asked for."""
    # As it is typed on a phone: with a blank after it and a capital before.
    wanted = label.strip().casefold()
    return [
        row
        for row in rows
        if wanted in row.line.label.casefold()
        and (everything or row.taps_left != 0)
        and woodlot in (None, row.line.woodlot)
    ]


def one_line_progress(season: int, line: Line) -> LineProgress:
    """One line's season so far, whether or not taps are expected on it."""
    standing = TapTally.objects.of_season(season).standing().filter(line=line)
    sums = standing.aggregate(taps=Sum("taps_set", default=0), finished=Count("pk", filter=_ENDS))
    count = line.tap_counts.filter(season=season).first()
    planned = count.planned_taps if count else None
    return LineProgress(line, planned, sums["taps"], finished=sums["finished"] > 0)


def observed_pace_by_woodlot(season: int) -> dict[int, float]:
    """Taps per pair-hour, out of the tallies that say how many hours they took."""
    rows = (
        TapTally.objects.of_season(season)
        .standing()
        .filter(pair_hours__isnull=False)
        .values_list("line__woodlot_id")
        .annotate(taps=Sum("taps_set"), hours=Sum("pair_hours"))
        .values_list("line__woodlot_id", "taps", "hours")
    )
    # Hours without a tap, spent on drops, are no pace of tapping.
    return {woodlot_id: taps / hours for woodlot_id, taps, hours in rows if taps}


def observed_pair_hours_per_day(season: int) -> float | None:
    """Pair-hours on an average day with hours on record; None while there is no such day."""
    rows = TapTally.objects.of_season(season).standing().filter(pair_hours__isnull=False)
    sums = rows.aggregate(hours=Sum("pair_hours"), days=Count("tallied_on", distinct=True))
    return sums["hours"] / sums["days"] if sums["days"] else None


def tallied_on(day: date) -> bool:
    """Whether anything was counted on this day already."""
    return TapTally.objects.standing().filter(tallied_on=day).exists()


def progress(season: int, lines: Iterable[LineProgress] | None = None) -> list[WoodlotProgress]:
    """Each woodlot as the sum of its lines, read already or read here; those without lines too."""
    by_woodlot: dict[int, list[LineProgress]] = {}
    for row in line_progress(season) if lines is None else lines:
        by_woodlot.setdefault(row.line.woodlot_id, []).append(row)
    paces = observed_pace_by_woodlot(season)
    return [
        _woodlot_progress(woodlot, by_woodlot.get(woodlot.id, []), paces.get(woodlot.id))
        for woodlot in Woodlot.objects.order_by("name")
    ]


def _woodlot_progress(
    woodlot: Woodlot, lines: list[LineProgress], pace: float | None
) -> WoodlotProgress:
    planned = [row.planned_taps for row in lines if row.planned_taps is not None]
    left = [row.taps_left for row in lines if row.taps_left is not None]
    return WoodlotProgress(
        woodlot=woodlot,
        lines=len(lines),
        lines_done=sum(row.taps_left == 0 for row in lines),
        lines_planned=len(planned),
        planned_taps=sum(planned) if planned else None,
        taps_set=sum(row.taps_set for row in lines),
        taps_left=sum(left) if left else None,
        observed_taps_per_pair_hour=pace,
    )


def tallies(season: int) -> QuerySet[TapTally]:
    """The season's tallies, newest first, those taken back among them."""
    return (
        TapTally.objects.of_season(season)
        .select_related("line__woodlot", "crew", "voided_by")
        # By when they came in: one sent late shows at the top, where it is looked for.
        .order_by("-received_at", "-id")
    )


def first_runs() -> QuerySet[FirstRun]:
    """Every recorded first run, latest season first."""
    return FirstRun.objects.select_related("woodlot").order_by("-season", "woodlot__name", "id")


def operation_first_runs(before_season: int) -> dict[int, FirstRun]:
    """Season to the first day sap was gathered anywhere, in the seasons before this one.

    Where the operation as a whole has no date, the earliest of its woodlots' dates is that day.
    """
    rows = FirstRun.objects.filter(season__lt=before_season).select_related("woodlot")
    # Later entries replace earlier ones: the operation's own row comes last and stands.
    ordered = sorted(rows, key=lambda row: (row.woodlot_id is None, -row.date.toordinal()))
    return {row.season: row for row in ordered}


def woodlot_first_runs(before_season: int) -> dict[int, dict[int, date]]:
    """Woodlot id to season to date, for the woodlots with dates of their own."""
    rows = FirstRun.objects.filter(season__lt=before_season, woodlot__isnull=False)
    runs: dict[int, dict[int, date]] = {}
    for woodlot_id, season, day in rows.values_list("woodlot_id", "season", "date"):
        runs.setdefault(woodlot_id, {})[season] = day
    return runs


def snow_by_woodlot(season: int) -> Mapping[int, SnowDepth]:
    """The newest snow depth seen in each woodlot this season."""
    rows: Iterable[SnowDepth] = SnowDepth.objects.filter(season=season).order_by("seen_on")
    # Oldest first, so that a later day replaces an earlier one.
    return {row.woodlot_id: row for row in rows}


@dataclass(frozen=True)
class PullProgress:
    """The taps of one line that are still in its trees, as far as was counted."""

    line: Line
    taps_set: int
    taps_pulled: int
    finished: bool

    @property
    def taps_left(self) -> int:
        """0 once somebody calls the line pulled, whatever the counts say."""
        return 0 if self.finished else max(0, self.taps_set - self.taps_pulled)


@dataclass(frozen=True)
class WoodlotPulls:
    """One woodlot's taps still to pull: always the sum of its lines."""

    woodlot: Woodlot
    taps_set: int
    taps_pulled: int
    taps_left: int


def pull_progress(season: int) -> list[PullProgress]:
    """Every line with taps set or pulled, by woodlot and label; nothing is left on the others."""
    taps_set = taps_set_by_line(season)
    pulls = TapPull.objects.of_season(season).standing()
    pulled = dict(
        pulls.values_list("line_id")
        .annotate(taps=Sum("taps_pulled"))
        .values_list("line_id", "taps")
    )
    finished = set(pulls.filter(_ENDS).values_list("line_id", flat=True))
    lines = Line.objects.defer("geometry").filter(pk__in={*taps_set, *pulled})
    rows = [
        PullProgress(line, taps_set.get(line.pk, 0), pulled.get(line.pk, 0), line.pk in finished)
        for line in sorted(
            lines.prefetch_related("woodlot"),
            key=lambda row: (row.woodlot.name, label_order(row.label)),
        )
    ]
    # Drops renewed on a line, or a line called done without a tap, leave nothing to pull.
    return [row for row in rows if row.taps_set or row.taps_pulled]


def pulls_by_woodlot(rows: Iterable[PullProgress]) -> list[WoodlotPulls]:
    """The lines rolled up, in the order they come: by woodlot's name."""
    by_woodlot: dict[Woodlot, list[PullProgress]] = {}
    for row in rows:
        by_woodlot.setdefault(row.line.woodlot, []).append(row)
    return [
        WoodlotPulls(
            woodlot,
            sum(row.taps_set for row in lines),
            sum(row.taps_pulled for row in lines),
            sum(row.taps_left for row in lines),
        )
        for woodlot, lines in by_woodlot.items()
    ]


def pulled_so_far(season: int) -> int:
    """Taps pulled in this season, by the counts that stand."""
    standing = TapPull.objects.of_season(season).standing()
    return int(standing.aggregate(taps=Sum("taps_pulled", default=0))["taps"])


def pulls(season: int) -> QuerySet[TapPull]:
    """The season's counts of pulled taps, newest first, those taken back among them."""
    return (
        TapPull.objects.of_season(season)
        .select_related("line__woodlot", "crew", "voided_by")
        .order_by("-received_at", "-id")
    )
