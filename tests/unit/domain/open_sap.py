"""The open sap record of Whately, 2013 and 2014, as the tests score it.

fixtures/open_data/sap (R package macleish, CC0; daily extremes from Daymet): a run day gathered at
least 5 gal, a blank day counts as none, an excluded one is left out.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from apps.domain import sap_run as sr

TABLE = Path(__file__).parents[3] / "fixtures/open_data/sap/macleish_sap_weather_2013_2014.csv"
YEARS = (2013, 2014)
RUN_GALLONS = 5
# Longer than a cold or a warm spell, and still some ten blocks in all.
BLOCK_DAYS = 7


@dataclass(frozen=True)
class Season:
    weather: sr.DayWeather
    runs: np.ndarray


def season(year, shift_c=0.0):
    """One spring's days in a row; days without a row are unknown."""
    table = pd.read_csv(TABLE, parse_dates=["date"])
    days = table[table["year"] == year].set_index("date").asfreq("D")
    runs = (days["sap_gal"].fillna(0) >= RUN_GALLONS).astype(float)
    runs[~days["status"].isin(["measured", "blank"])] = np.nan
    dates = [stamp.date() for stamp in days.index]
    low, high = days["tmin_c"].to_numpy() + shift_c, days["tmax_c"].to_numpy() + shift_c
    return Season(sr.days_from_extremes(dates, low, high), runs.to_numpy())


def fitted(*years):
    seasons = [season(year) for year in years]
    return sr.fit_run_probability([one.weather for one in seasons], [one.runs for one in seasons])


@dataclass(frozen=True)
class Scored:
    """Days of both years that can be scored: what each rule stated, what came, the day's number.

    `pooled_rate` has seen both years: a base rate flattered by hindsight.
    """

    ours: np.ndarray
    same_day: np.ndarray
    day_before: np.ndarray
    base_rate: np.ndarray
    maximum_c: np.ndarray
    came: np.ndarray
    day: np.ndarray

    @property
    def pooled_rate(self):
        return np.full(self.came.size, self.came.mean())


def leave_one_year_out(shift_c=0.0):
    """Every year stated by the fit, and the base rate, of the other year alone."""
    return Scored(*np.concatenate([_stated(year, shift_c) for year in YEARS], axis=1))


def _stated(year, shift_c):
    (other,) = set(YEARS) - {year}
    here, there = season(year, shift_c), season(other)
    ours = sr.run_probability(here.weather, fitted(other))
    known = ~np.isnan(ours) & ~np.isnan(here.runs)
    low, high = here.weather.minimum_c, here.weather.maximum_c
    crossed = (low < 0) & (high > 0)
    rows = [
        ours,
        crossed,
        np.concatenate(([np.nan], crossed[:-1])),
        np.full(ours.size, np.nanmean(there.runs)),
        high,
        here.runs,
        [date.toordinal() for date in here.weather.dates],
    ]
    return np.array(rows, dtype=float)[:, known]
