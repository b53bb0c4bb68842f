"""Freeze-thaw days, hours and cycles."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np

from apps.domain import freeze_thaw
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("freeze_thaw", "Freeze and thaw")
LIMITS = "-1.1 °C and 2.2 °C (30 and 36 °F) are common practice, no source"
EASTERN = ZoneInfo("America/New_York")
# 15 March 2026, midnight in New York.
MIDNIGHT = datetime(2026, 3, 15, 4, tzinfo=UTC)
NIGHT_AND_DAY = [-4.0] * 8 + [1.0] * 4 + [5.0] * 6 + [1.0] * 6
HOURS = "-4 °C for 8 hours, 1 °C for 4, 5 °C for 6, 1 °C for 6, from midnight"


def _day(hours: list[float]) -> freeze_thaw.DailySummary:
    temps = np.array(hours)
    edges = freeze_thaw.local_day_edges(MIDNIGHT, temps.shape[-1], EASTERN)
    return freeze_thaw.summarise_days(temps, edges)


@AREA.explain(
    "daily.correct_temperature",
    "Temperature at another height",
    formula="t + lapse × (from height − to height) + the place's own offset",
    units="°C, m; lapse 0.0065 °C a metre",
    validity="-500 to 9,000 m; on clear nights cold air lies in hollows, so learn the offset",
    source="lapse 6.5 °C a kilometre: ISO 2533 (1975)",
    basis=Basis.PUBLISHED,
)
def corrected() -> Worked:
    there = float(freeze_thaw.correct_temperature(1.0, 300.0, 500.0))
    return Worked(
        {"forecast": f"{show.celsius(1.0)} at {show.metres(300.0, 0)}", "woodlot": "500 m"},
        {"at the woodlot": show.celsius(there, 2)},
    )


@AREA.explain(
    "days.local_day_edges",
    "Which hours make a local day",
    formula="from one local midnight to the next: 23, 24 or 25 hours",
    units="whole hours",
    validity="any time zone, clock changes included",
    source="RFC 5545 (2009), section 3.3.10; IANA time zone database",
    basis=Basis.PUBLISHED,
)
def edges() -> Worked:
    start = datetime(2026, 3, 8, 5, tzinfo=UTC)
    days = freeze_thaw.local_day_edges(start, 48, EASTERN)
    rows = {show.day(each.date): f"{each.full_hours} hours" for each in days[:2]}
    return Worked({"place": "New York", "clocks go forward": "8 March 2026"}, rows)


@AREA.explain(
    "verdicts.judge_days",
    "A freeze-thaw day",
    formula=(
        "yes when the day's minimum ≤ −1.1 °C and its maximum ≥ 2.2 °C; no only when no hour is "
        "missing; otherwise unknown"
    ),
    units="°C, compared at 0.01 °C",
    validity="hourly values; from longer steps a day is yes or unknown, never no",
    source=LIMITS,
    basis=Basis.PRACTICE,
)
def judged() -> Worked:
    full = freeze_thaw.judge_days(np.array(NIGHT_AND_DAY), MIDNIGHT, EASTERN)
    mild = np.array([1.0] * 24)
    mild[3] = np.nan
    gap = freeze_thaw.judge_days(mild, MIDNIGHT, EASTERN)
    return Worked(
        {"one day": HOURS, "another": "1 °C all day, one hour missing"},
        {"one day": full[0].verdict, "another": gap[0].verdict},
    )


@AREA.explain(
    "daily.summarise_days daily.DailySummary.full_hours daily.DailySummary.missing_hours",
    "Minimum, maximum and hours of a day",
    formula="least, greatest and number of the known hours over and under 0 °C",
    units="°C, hours",
    validity="-90 to 60 °C; missing hours count against the day",
    source="counting",
    basis=Basis.COMPUTED,
)
def summary() -> Worked:
    day = _day(NIGHT_AND_DAY)
    return Worked(
        {"hours": HOURS},
        {
            "minimum and maximum": (
                f"{show.celsius(float(day.minimum_c[0]))} and "
                f"{show.celsius(float(day.maximum_c[0]))}"
            ),
            "hours over and under 0 °C": f"{day.hours_above_0[0]} and {day.hours_below_0[0]}",
            "hours in the day, missing": f"{day.full_hours[0]}, {day.missing_hours[0]}",
        },
    )


@AREA.explain(
    "daily.thaw_degree_hours",
    "Degree-hours of thaw",
    formula="sum of the hours' degrees over 0 °C",
    units="°C hours",
    validity="a lower bound when hours are missing",
    source="counting",
    basis=Basis.COMPUTED,
)
def warmth() -> Worked:
    temps = np.array(NIGHT_AND_DAY)
    days = freeze_thaw.local_day_edges(MIDNIGHT, temps.size, EASTERN)
    total = freeze_thaw.thaw_degree_hours(temps, days)
    return Worked({"hours": HOURS}, {"thaw": f"{total[0]:.1f} °C hours"})


@AREA.explain(
    "verdicts.judge_summary",
    "The same for many series at once",
    formula="1 yes, 0 no, -1 unknown, by the two limits",
    units="°C",
    validity="as a freeze-thaw day",
    source=LIMITS,
    basis=Basis.PRACTICE,
)
def many() -> Worked:
    verdict = int(freeze_thaw.judge_summary(_day(NIGHT_AND_DAY))[0])
    return Worked({"hours": HOURS}, {"verdict": f"{verdict}"})


@AREA.explain(
    "verdicts.judge_extremes",
    "From a minimum and a maximum alone",
    formula="yes when both meet their limits; one alone can only say no",
    units="°C",
    validity="a minimum that is not over the maximum",
    source=LIMITS,
    basis=Basis.PRACTICE,
)
def extremes() -> Worked:
    return Worked(
        {"minimum": show.celsius(-1.1), "maximum": show.celsius(2.2)},
        {
            "both": freeze_thaw.judge_extremes(-1.1, 2.2),
            "the minimum alone": freeze_thaw.judge_extremes(-1.1, None),
        },
    )


@AREA.explain(
    "verdicts.tally",
    "k of n known days",
    formula="days that are yes, days that are known, days that are unknown",
    units="days",
    validity="any list of judged days",
    source="counting",
    basis=Basis.COMPUTED,
)
def counted() -> Worked:
    temps = np.array(NIGHT_AND_DAY + [1.0] * 24 + [np.nan] * 24)
    count = freeze_thaw.tally(freeze_thaw.judge_days(temps, MIDNIGHT, EASTERN))
    return Worked(
        {"three days": "one freezes and thaws, one stays at 1 °C, one is missing"},
        {"tally": f"{count.yes} of {count.known} known days, {count.unknown} unknown"},
    )


@AREA.explain(
    "verdicts.member_shares",
    "Share of a forecast's members",
    formula="members that froze and thawed / members with every hour known",
    units="share, or counts alone under ten members",
    validity="ten full members or more for a percentage",
    source="the usual reading of an ensemble; ten is common practice, no source",
    basis=Basis.PRACTICE,
)
def members() -> Worked:
    mild = [1.0] * 24
    series = np.array([NIGHT_AND_DAY] * 9 + [mild] * 3)
    days = freeze_thaw.local_day_edges(MIDNIGHT, 24, EASTERN)
    share = freeze_thaw.member_shares(freeze_thaw.summarise_days(series, days))[0]
    words = "too few" if share.share is None else show.percent(share.share, 0)
    return Worked(
        {"members": "9 freeze and thaw, 3 stay at 1 °C"},
        {"share": f"{share.yes} of {share.full}, {words}"},
    )


@AREA.explain(
    "cycles.find_cycles cycles.count_cycles cycles.Cycle.hours cycles.Cycles.dated_index "
    "cycles.Cycles.rows",
    "Freeze-thaw cycles",
    formula="a run of 3 or more hours over 0 °C whose last such run before it was under 0 °C",
    units="hours; dated by the third hour of the thaw",
    validity="hourly values; a missing hour ends a run, so with gaps it counts cycles seen",
    source="common practice, no source",
    basis=Basis.PRACTICE,
)
def cycles() -> Worked:
    temps = np.array([-3.0] * 10 + [4.0] * 6 + [-2.0] * 8 + [3.0] * 2 + [-1.0] * 4)
    found = freeze_thaw.find_cycles(temps)
    first = found.rows()[0]
    return Worked(
        {"hours": "10 at -3 °C, 6 at 4, 8 at -2, 2 at 3, 4 at -1"},
        {
            "cycles": f"{int(freeze_thaw.count_cycles(temps))}",
            "the first": (
                f"{first.freeze_hours} h of freeze to {show.celsius(first.depth_c)}, "
                f"{first.thaw_hours} h of thaw, {first.hours} h in all"
            ),
            "dated by hour": f"{found.dated_index[0]} (counted from 0)",
        },
    )


@AREA.explain(
    "cycles.longest_thaw_hours",
    "The longest thaw",
    formula="longest run of known hours over 0 °C",
    units="hours",
    validity="a lower bound when hours are missing",
    source="counting",
    basis=Basis.COMPUTED,
)
def longest() -> Worked:
    temps = np.array([1.0] * 5 + [-1.0] + [2.0] * 9)
    hours = int(freeze_thaw.longest_thaw_hours(temps))
    return Worked({"hours": "5 at 1 °C, 1 at -1, 9 at 2"}, {"longest thaw": f"{hours} h"})


@AREA.explain(
    "months.count_months",
    "A month of the past",
    formula="days with 20 or more known hours, those within the limits, cycles, longest thaw",
    units="days, hours",
    validity="past records; looser than a forecast's days, which ask for every hour",
    source="the 20 hours are common practice, no source",
    basis=Basis.PRACTICE,
)
def month() -> Worked:
    counts = freeze_thaw.count_months(np.array(NIGHT_AND_DAY * 5), MIDNIGHT, EASTERN)[0]
    return Worked(
        {"five days": HOURS},
        {
            "complete days": f"{counts.complete_days}",
            "days within the limits": f"{len(counts.limit_dates)}",
            "cycles": f"{counts.cycles}",
            "longest thaw": f"{counts.longest_thaw_hours} h",
        },
    )
