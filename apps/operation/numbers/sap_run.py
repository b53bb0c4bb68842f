"""Whether sap will run, the first run of a winter, and litres once fitted."""

from datetime import UTC, date, datetime, timedelta

import numpy as np

from apps.domain import freeze_thaw, sap_run
from apps.domain.sap_run import likelihood, scoring, weekly, yields
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("sap_run", "Whether sap runs")
SCORES = Area("sap_run.scoring", "How good stated chances were")
FITTED = (
    "fitted to the open sap record of Whately MA, 2013 and 2014 (macleish 0.3.10; Daymet, "
    "ORNL DAAC)"
)
HOULE = "Houle et al. (2015), PLOS ONE 10(12) e0144844, seen restated, not in the paper itself"
PRACTICE = "common practice, no source"
YEAR = 2026


def _days(low: list[float], high: list[float], year: int = YEAR) -> sap_run.DayWeather:
    first = date(year, 1, 1)
    dates = [first + timedelta(days=place) for place in range(len(low))]
    return sap_run.days_from_extremes(dates, low, high)


def _thawing(year: int = YEAR) -> sap_run.DayWeather:
    """A cold January, then days of -2 to 7 C."""
    return _days([-9.0] * 31 + [-2.0] * 28, [-4.0] * 31 + [7.0] * 28, year)


THAWING = "a January of -9 to -4 °C, then days of -2 to 7 °C"
THREE = {"minima of three days": "-6, -5, -4 °C", "maxima": "-1, 5, 6 °C"}


def _three() -> sap_run.DayWeather:
    return _days([-6.0, -5.0, -4.0], [-1.0, 5.0, 6.0])


def _chance(value: float) -> str:
    return show.percent(value, 1)


@AREA.explain(
    "day_weather.days_from_hours",
    "Warmth of a day from its hours",
    formula="thaw degree-hours = Σ of the degrees over 0 °C of each hour",
    units="°C, degree-hours over 0 °C",
    validity="every hour known (20 of them in past records), else the day is unknown",
    source="a sum",
    basis=Basis.COMPUTED,
)
def from_hours() -> Worked:
    temps = np.array([-4.0] * 12 + [3.0] * 12)
    start = datetime(YEAR, 3, 15, tzinfo=UTC)
    days = sap_run.days_from_hours(temps, freeze_thaw.local_day_edges(start, 24, UTC))
    return Worked(
        {"hours": "-4 °C for 12, 3 °C for 12"},
        {"warmth": f"{days.thaw_degree_hours[0]:.0f} °C·h", "mean": f"{days.mean_c[0]:.1f} °C"},
    )


@AREA.explain(
    "day_weather.days_from_extremes day_weather.sine_thaw_degree_hours",
    "Warmth of a day from its extremes",
    formula=(
        "a sine through both: 24 / π × (M (π/2 − a) + W cos a), a = arcsin(−M / W), M the mean of "
        "the two, W half their difference; 24 M when the minimum is over 0 °C, 0 when it stays "
        "frozen"
    ),
    units="°C, degree-hours over 0 °C",
    validity="a day that warms and cools once",
    source="Baskerville and Emin (1969), Ecology 50:514, from memory",
    basis=Basis.MEMORY,
)
def from_extremes() -> Worked:
    days = _days([-5.0], [5.0])
    return Worked(
        {"minimum, maximum": "-5 and 5 °C"}, {"warmth": f"{days.thaw_degree_hours[0]:.1f} °C·h"}
    )


@AREA.explain(
    "likelihood.run_probability likelihood.warmth_and_cold likelihood.edges "
    "logistic.Logistic.probability logistic.sigmoid",
    "Likelihood of a run",
    formula=(
        "p = freeze × thaw / (1 + e^−s), s = b0 + b1 ln(1 + T) + b2 L; T thaw degree-hours of the "
        "day and the day before, L the lowest minimum of three days up to 0 °C; thaw = T / 12 up "
        "to 1; freeze = 1 to 0 °C, 0 from 2 °C"
    ),
    units="°C, degree-hours over 0 °C, chance",
    validity="all three days known; says nothing of how much. One small site of buckets",
    source=f"{FITTED}; the two edges are {PRACTICE}",
    basis=Basis.COMPUTED,
)
def chance() -> Worked:
    thaw, lowest = sap_run.warmth_and_cold(_three())
    fitted = likelihood.WHATELY_2013_2014
    b1, b2 = fitted.slopes
    return Worked(
        THREE | {"b0, b1, b2": f"{fitted.intercept}, {b1}, {b2}"},
        {
            "T": f"{thaw[-1]:.1f} °C·h",
            "L": f"{lowest[-1]:.0f} °C",
            "likelihood": _chance(float(sap_run.run_probability(_three())[-1])),
        },
    )


@AREA.explain(
    "likelihood.words",
    "Low, medium, high",
    formula="low under 1/3, high from 2/3, medium between",
    units="chance",
    validity="0 to 1",
    source=PRACTICE,
    basis=Basis.PRACTICE,
)
def in_words() -> Worked:
    chances = (0.2, 0.5, 0.8)
    return Worked(
        {"chances": "20, 50 and 80 %"}, {_chance(one): sap_run.words(one) for one in chances}
    )


@AREA.explain(
    "likelihood.over_members likelihood.Ensemble.percentage",
    "Likelihood over an ensemble",
    formula="mean over a model's members, then mean over the models; a % from ten members on",
    units="chance",
    validity="unknown members are left out; one forecast alone gives a word and no %",
    source=f"equal weights and ten members: {PRACTICE}",
    basis=Basis.PRACTICE,
)
def pooled() -> Worked:
    models = [np.full((12, 1), 0.4), np.array([[0.7], [0.9]])]
    (day,) = sap_run.over_members(models)
    return Worked(
        {"first model": "12 members at 40 %", "second": "70 and 90 %"},
        {"members": str(day.members), "likelihood": _chance(day.percentage or 0.0)},
    )


@AREA.explain(
    "likelihood.fit_run_probability logistic.fit_logistic",
    "How the likelihood is fitted",
    formula="b maximises Σ log-likelihood − ½ Σ slope², slopes of features scaled to spread 1",
    units="as the features",
    validity="both outcomes seen; a year is only ever scored by the fit to other years",
    source="le Cessie and van Houwelingen (1992), Applied Statistics 41:191, from memory",
    basis=Basis.MEMORY,
)
def fitting() -> Worked:
    days = _thawing()
    found = sap_run.fit_run_probability([days], [[0.0] * 33 + [1.0] * 26])
    b1, b2 = found.slopes
    return Worked(
        {"weather": THAWING, "runs": "every day from 3 February"},
        {"b0": f"{found.intercept:.2f}", "b1": f"{b1:.3f}", "b2": f"{b2:.3f}"},
    )


@AREA.explain(
    "weekly.weekly_chance weekly.season_open_weekly weekly.Week.producing weekly.first_producing",
    "The published weekly rule",
    formula="P = −5.09 + 0.722 F − 0.014 F² − 0.07 G; producing if 1 / (1 + e^−P) ≥ 0.51",
    units="F days crossing 3 °C since 1 January, G degree-days over 5 °C",
    validity="rough; crossings are counted by days, which is our reading",
    source=HOULE,
    basis=Basis.PUBLISHED,
)
def houle() -> Worked:
    weeks = sap_run.season_open_weekly(_thawing(), YEAR)
    week = weekly.first_producing(weeks)
    if week is None:
        return Worked({"weather": THAWING}, {"first producing week": "none"})
    return Worked(
        {"weather": THAWING},
        {
            "first producing week": show.day(week.start),
            "F, G": f"{week.crossings} and {week.growing_degree_days:.1f}",
            "chance": _chance(week.chance),
        },
    )


@AREA.explain(
    "first_run.inferred_first_run first_run.since_hard_freeze first_run.fit_setting",
    "The first run the weather would have had",
    formula=(
        "first day from 1 January with a high likelihood once the thaw degree-hours since the "
        "last day at or under −10 °C reach a setting; the setting with the least median error "
        "against three or more first runs of your own, else the weekly rule"
    ),
    units="°C, degree-hours over 0 °C, days",
    validity="never mixed with recorded first runs; more than 7 unknown days leave it unknown",
    source=f"{PRACTICE}; the weekly rule: {HOULE}",
    basis=Basis.PRACTICE,
)
def first_run() -> Worked:
    own = {2023: date(2023, 2, 5), 2024: date(2024, 2, 6), 2025: date(2025, 2, 6)}
    setting = sap_run.fit_setting({year: _thawing(year) for year in own}, own)
    days = _thawing()
    by_setting = sap_run.inferred_first_run(days, YEAR, setting)
    by_rule = sap_run.inferred_first_run(days, YEAR)
    gathered = sap_run.since_hard_freeze(days)
    return Worked(
        {"weather of four winters": THAWING, "own first runs": "5, 6 and 6 February of three"},
        {
            "setting fitted": f"{setting.thaw_degree_hours:g} °C·h" if setting else "none",
            "gathered by 6 February": f"{gathered[36]:.0f} °C·h",
            "fourth winter by the setting": _day(by_setting.date),
            "by the weekly rule": _day(by_rule.date),
        },
    )


@AREA.explain(
    "yields.fit_yields yields.YieldFit.expected yields.Skill.rule",
    "Litres per tap and day",
    formula=(
        "rate × likelihood; own rate = Σ sap / Σ likelihood, drawn to the operation's by "
        "B = t / (t + s / n); the average day instead where it misses by less, leave one season "
        "out; interval from those misses"
    ),
    units="litres per tap and day",
    validity="from 2 seasons and 30 woodlot-days of your own on; under that nothing is offered",
    source="DerSimonian and Laird (1986), Efron and Morris (1973), from memory",
    basis=Basis.MEMORY,
)
def litres() -> Worked:
    likelihoods = (0.2, 0.4, 0.6, 0.8)
    rows = [
        yields.DayYield(lot, season, part, rate * part)
        for season in (2024, 2025)
        for lot, rate in ((1, 3.0), (2, 4.0))
        for part in likelihoods * 2
    ]
    found = sap_run.fit_yields(rows)
    if isinstance(found, sap_run.Lacking):
        return Worked({"records": str(found.days)}, {"offered": "nothing"})
    stated = found.expected(1, 0.5)
    return Worked(
        {"records": "two woodlots at 3 and 4 L on a sure run day, 32 days", "likelihood": "50 %"},
        {
            "rule kept": found.skill.rule,
            "woodlot of 3 L": show.litres(stated.litres_per_tap, 2),
            "its own share": _chance(stated.rate.own_share),
        },
    )


STATED, CAME = [0.9, 0.8, 0.3, 0.2, 0.1, 0.7], [1, 1, 0, 0, 0, 0]
SIX = {"stated": "90, 80, 30, 20, 10, 70 %", "came": "the first two"}


@SCORES.explain(
    "brier known_pairs",
    "Brier score",
    formula="mean of (p − o)², o 1 if it came, else 0",
    units="none; 0 at best, 0.25 for always saying half",
    validity="days with both known",
    source="Brier (1950), Monthly Weather Review 78:1, from memory",
    basis=Basis.MEMORY,
)
def brier() -> Worked:
    return Worked(SIX, {"Brier score": f"{scoring.brier(STATED, CAME):.3f}"})


@SCORES.explain(
    "auc",
    "Ranking (AUC)",
    formula="share of pairs, one that came and one that did not, ranked right; ties half",
    units="none; 0.5 is chance, 1 is perfect",
    validity="both outcomes seen",
    source="Hanley and McNeil (1982), Radiology 143:29, from memory",
    basis=Basis.MEMORY,
)
def area() -> Worked:
    return Worked(SIX, {"AUC": f"{scoring.auc(STATED, CAME):.3f}"})


@SCORES.explain(
    "reliability tenth_of Tenth.within",
    "Stated against what came",
    formula="in each tenth of stated chance, the share that came; band 3.3 √Σ p (1 − p) either way",
    units="shares",
    validity="the band holds for days that do not hang together, too narrow for days in a row",
    source="Murphy (1973), J. Applied Meteorology 12:595, from memory",
    basis=Basis.MEMORY,
)
def tenths() -> Worked:
    tenth = scoring.reliability([0.35] * 20, [1] * 8 + [0] * 12)[3]
    return Worked(
        {"stated": "35 % on 20 days", "came": "8 times"},
        {
            "share": _chance(tenth.came or 0.0),
            "in its band": "yes" if tenth.within else "no",
        },
    )


@SCORES.explain(
    "block_bootstrap day_blocks block_totals drawn_totals middle_of",
    "Interval of a score",
    formula="the score over whole blocks of days drawn anew 2,000 times; its middle 95 %",
    units="as the score",
    validity="blocks longer than a spell of weather; too narrow with few blocks",
    source="Künsch (1989), Annals of Statistics 17:1217, from memory",
    basis=Basis.MEMORY,
)
def interval() -> Worked:
    came = np.array(CAME * 10, dtype=np.float64)
    blocks = scoring.day_blocks(range(60), 6)
    found = scoring.block_bootstrap(lambda at: float(came[at].mean()), blocks, draws=100)
    totals = scoring.block_totals(np.column_stack([came, np.ones(60)]), blocks)
    drawn = scoring.drawn_totals(totals, draws=100)
    low, high = scoring.middle_of(drawn[:, 0] / drawn[:, 1]) or (found.low, found.high)
    return Worked(
        {"days": "60, a third with sap, in blocks of 6"},
        {
            "share": f"{found.value:.2f} ({found.low:.2f} to {found.high:.2f})",
            "from the sums of the blocks": f"{low:.2f} to {high:.2f}",
        },
    )


def _day(day: date | None) -> str:
    return "none" if day is None else show.day(day)
