"""When to start tapping, cold, pace, and taps a tree."""

from datetime import date

import numpy as np

from apps.domain import tapping
from apps.domain.tapping import pace
from apps.domain.units import celsius_from_fahrenheit, kmh_from_mph, mm_from_inches
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("tapping", "Tapping")
PACES = "100, 80 and 60 taps a pair-hour at 12 and 24 in. are common practice, no source"
# 11 Mar 2026 is a Wednesday.
READY = date(2026, 3, 11)
FIRST_RUNS = {
    2021: date(2021, 3, 5),
    2022: date(2022, 2, 16),
    2023: date(2023, 2, 20),
    2024: date(2024, 2, 9),
    2025: date(2025, 3, 10),
}
RUNS = "5 Mar 2021, 16 Feb 2022, 20 Feb 2023, 9 Feb 2024, 10 Mar 2025"
WOODS = (pace.WoodlotWork("A", 2400, 0.2), pace.WoodlotWork("B", 1200, 0.5))
WOODS_WORDS = "A 2,400 taps in 20 cm of snow, B 1,200 in 50 cm"


def _plan() -> tapping.BackPlan:
    return tapping.back_plan(tapping.BackPlanInput(WOODS, READY))


@AREA.explain(
    "pace.pace_taps_per_pair_hour",
    "Pace in snow",
    formula="100 under 12 in., 80 from 12 to 24 in., 60 over 24 in.",
    units="taps an hour for a crew of two, from m",
    validity="0 to 5 m of snow; a woodlot's own pace takes its place once seen",
    source=PACES,
    basis=Basis.PRACTICE,
)
def paces() -> Worked:
    rows = {}
    for inches in (6.0, 12.0, 24.0, 25.0):
        taps_an_hour = tapping.pace_taps_per_pair_hour(mm_from_inches(inches) / 1000)
        rows[f"{inches:g} in. of snow"] = f"{taps_an_hour:g} taps a pair-hour"
    return Worked({"snow": "four depths"}, rows)


@AREA.explain(
    "pace.woodlot_line",
    "Hours a woodlot takes",
    formula="pair-hours = taps left / pace",
    units="pair-hours (an hour of a crew of two)",
    validity="as the pace",
    source=PACES,
    basis=Basis.PRACTICE,
)
def hours() -> Worked:
    line = pace.woodlot_line(pace.WoodlotWork("A", 2400, 0.2), pace.USUAL_PACES)
    return Worked(
        {"taps left": "2,400", "snow": "20 cm"}, {"time": f"{line.pair_hours:.1f} pair-hours"}
    )


@AREA.explain(
    "back_plan.back_plan back_plan.BackPlanInput.in_reach",
    "The day to start",
    formula=(
        "working days = ⌈pair-hours / (pairs × hours a day)⌉, counted back from the eve of the "
        "ready morning, rest days skipped, lost days added beyond the forecast's reach"
    ),
    units="pair-hours, whole days",
    validity="any dates; the choice of the ready morning stays with the producer",
    source="a calendar; two lost days and the paces are common practice, no source",
    basis=Basis.PRACTICE,
)
def start() -> Worked:
    plan = _plan()
    return Worked(
        {
            "woods": WOODS_WORDS,
            "crew": "2 pairs, 6 hours a day, Sundays off, 2 days lost",
            "ready by the morning of": show.day(READY),
        },
        {
            "pair-hours": f"{plan.pair_hours:.1f}, {plan.pair_hours_per_day:g} a day",
            "working days": f"{plan.working_days} and {plan.lost_days} lost",
            "start": show.day(plan.start_date),
        },
    )


@AREA.explain(
    "back_plan.runs_before_ready",
    "Runs that come too early",
    formula="days with a run expected, from the start to the eve of the ready morning",
    units="whole days",
    validity="as the forecast that expects the run",
    source="a calendar",
    basis=Basis.COMPUTED,
)
def early() -> Worked:
    early_runs = tapping.runs_before_ready(_plan(), [date(2026, 3, 7), READY])
    return Worked(
        {"plan": "as above", "runs expected": show.days([date(2026, 3, 7), READY])},
        {"while untapped": show.days(early_runs.days)},
    )


@AREA.explain(
    "pace.next_free_day",
    "The next day to work",
    formula="the first day that is neither a rest day nor ruled out",
    units="whole days",
    validity="any dates",
    source="a calendar",
    basis=Basis.COMPUTED,
)
def free() -> Worked:
    found = pace.next_free_day(date(2026, 3, 8), frozenset({date(2026, 3, 9)}), frozenset({6}))
    return Worked(
        {"from": show.day(date(2026, 3, 8)), "ruled out": show.day(date(2026, 3, 9))},
        {"next": show.day(found)},
    )


@AREA.explain(
    "reforecast.reforecast",
    "The new finish, from what was made",
    formula="days left = ⌈pair-hours left / pair-hours worked on an average day⌉, counted forward",
    units="pair-hours, whole days",
    validity="half a pair-hour a day or more; lost days are already in the average",
    source="the operation's own record",
    basis=Basis.COMPUTED,
)
def again() -> Worked:
    evening = tapping.ReforecastInput(
        (pace.WoodlotWork("A", 900, 0.2, observed_pace=75.0),), date(2026, 3, 6), 5.0
    )
    found = tapping.reforecast(evening)
    return Worked(
        {"left": "900 taps at 75 a pair-hour seen", "worked a day": "5 pair-hours"},
        {
            "working days": f"{found.working_days}",
            "every tap in by the morning of": show.day(found.ready_morning),
        },
    )


@AREA.explain(
    "seasons.season_of seasons.days_from_december",
    "A date's season and its place in it",
    formula="1 December starts the next season; place = days from 1 December",
    units="whole days",
    validity="any date; in a leap year dates after 28 February come a place later",
    source="our own way of counting",
    basis=Basis.COMPUTED,
)
def season() -> Worked:
    day = date(2025, 12, 31)
    return Worked(
        {"date": show.day(day)},
        {"season": f"{tapping.season_of(day)}", "place": f"{tapping.days_from_december(day)} days"},
    )


@AREA.explain(
    "seasons.ready_morning_from_history",
    "The morning to be ready by",
    formula="the (k + 1)-th earliest first run, when k of N may be missed",
    units="whole days",
    validity="one first run a season; nothing smoothed",
    source="order statistic; 2 in 10 is common practice, no source",
    basis=Basis.PRACTICE,
)
def ready() -> Worked:
    found = tapping.ready_morning_from_history(FIRST_RUNS, 1, 2026)
    return Worked(
        {"first runs": RUNS, "may be missed": "1"},
        {"ready by": show.day(found.date), "of": f"{found.n} seasons"},
    )


@AREA.explain(
    "seasons.seasons_missed",
    "Seasons a start would have missed",
    formula="seasons whose first run came before the ready morning",
    units="seasons",
    validity="as the history kept",
    source="counting",
    basis=Basis.COMPUTED,
)
def missed() -> Worked:
    found = tapping.seasons_missed(FIRST_RUNS, date(2026, 2, 20), 2026)
    return Worked(
        {"first runs": RUNS, "ready morning": show.day(date(2026, 2, 20))},
        {"missed": ", ".join(map(str, found))},
    )


@AREA.explain(
    "cold.wind_chill_c",
    "Wind chill",
    formula="W = 35.74 + 0.6215 T − 35.75 v^0.16 + 0.4275 T v^0.16, T in °F, v in mph",
    units="°C from °C and km/h",
    validity="50 °F and under (from memory), wind over 3 mph; otherwise the air's temperature",
    source="US National Weather Service and Environment Canada index (2001)",
    basis=Basis.PUBLISHED,
)
def chill() -> Worked:
    rows = {}
    for air_f, wind_mph in ((30.0, 10.0), (0.0, 15.0), (-5.0, 20.0)):
        felt = tapping.wind_chill_c(celsius_from_fahrenheit(air_f), kmh_from_mph(wind_mph))
        rows[f"{air_f:g} °F, {wind_mph:g} mph"] = show.celsius(float(felt), 0)
    return Worked({"air and wind": "three pairs"}, rows)


@AREA.explain(
    "cold.too_cold cold.judge_work_hours",
    "Too cold to tap",
    formula=(
        "an hour under 10 °F of air or -10 °F of wind chill; a day when too few hours could be "
        "workable"
    ),
    units="°C, km/h, hours",
    validity="a planning aid: go by the crew and the day's own warning; cold injures",
    source="the two limits are common practice, no source",
    basis=Basis.PRACTICE,
)
def cold() -> Worked:
    temps, winds = np.array([-14.0] * 4 + [-8.0] * 5), np.array([10.0] * 9)
    verdicts = tapping.too_cold(temps, winds)
    found = tapping.judge_work_hours(temps, winds, 6.0)
    return Worked(
        {"hours": "4 at -14 °C, 5 at -8 °C, wind 10 km/h", "a day's work": "6 hours"},
        {
            "first and last hour": " and ".join(
                "too cold" if verdict == 1 else "workable" for verdict in verdicts[[0, -1]]
            ),
            "workable hours": f"{found.workable}",
            "the day": "ruled out" if found.ruled_out else "can be worked",
        },
    )


@AREA.explain(
    "guideline.taps_for_diameter",
    "Taps a tree",
    formula="the number of limits the diameter reaches: 12 and 18 in. by the conservative rule",
    units="taps from cm at breast height",
    validity="sound trees of 1 to 300 cm; a rule of law is shown for comparison only",
    source="manual guideline as in Maple Syrup in the Classroom, 5.2; Ober, OSU Extension (2013)",
    basis=Basis.PUBLISHED,
)
def taps() -> Worked:
    rows = {
        f"{cm:g} cm, Quebec private land": f"{tapping.taps_for_diameter(cm, 'quebec private')}"
        for cm in (23.0, 23.1, 39.1)
    }
    return Worked(
        {"trees": "30 cm, then three by a rule of law"},
        {"30 cm, conservative": f"{tapping.taps_for_diameter(30.0)}", **rows},
    )


@AREA.explain(
    "guideline.diameter_cm_from_circumference",
    "Diameter from a tape around the tree",
    formula="diameter = circumference / π",
    units="cm",
    validity="round trunks, 3 to 950 cm around",
    source="geometry",
    basis=Basis.COMPUTED,
)
def around() -> Worked:
    diameter = tapping.diameter_cm_from_circumference(38 * 2.54)
    return Worked(
        {"around": "38 in."}, {"diameter": f"{diameter:.1f} cm ({diameter / 2.54:.1f} in.)"}
    )
