"""Whether sap will run: the likelihood of a day, the first run of a winter, litres once fitted.

Formula: the parts are in `day_weather` (what a day's temperatures come to), `logistic` (the fit),
`likelihood` (the chance of a run on a day), `weekly` (the published rule for the week a season
opens), `first_run` (the first run of a past winter, inferred), `yields` (litres per tap and day,
fitted to the operation's own loads) and `scoring` (how good stated chances were).
Units: temperatures in C, warmth in degree-hours over 0 C, sap in litres per tap and day.
Validity: from weather alone only a likelihood is offered, never an amount; what is unknown stays
unknown.
Source: each part names its own.
"""

from apps.domain.sap_run.day_weather import (
    DayWeather,
    days_from_extremes,
    days_from_hours,
    sine_thaw_degree_hours,
)
from apps.domain.sap_run.first_run import (
    InferredRun,
    Setting,
    fit_setting,
    inferred_first_run,
    since_hard_freeze,
)
from apps.domain.sap_run.likelihood import (
    Ensemble,
    Word,
    fit_run_probability,
    over_members,
    run_probability,
    warmth_and_cold,
    words,
)
from apps.domain.sap_run.weekly import Week, first_producing, season_open_weekly, weekly_chance
from apps.domain.sap_run.yields import DayYield, Expected, Lacking, YieldFit, fit_yields

__all__ = [
    "DayWeather",
    "DayYield",
    "Ensemble",
    "Expected",
    "InferredRun",
    "Lacking",
    "Setting",
    "Week",
    "Word",
    "YieldFit",
    "days_from_extremes",
    "days_from_hours",
    "first_producing",
    "fit_run_probability",
    "fit_setting",
    "fit_yields",
    "inferred_first_run",
    "over_members",
    "run_probability",
    "season_open_weekly",
    "since_hard_freeze",
    "sine_thaw_degree_hours",
    "warmth_and_cold",
    "weekly_chance",
    "words",
]
