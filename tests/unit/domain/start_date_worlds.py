"""Winters to replay start dates on: three open hourly ones and as many made by chance as asked for.

Every number below was stated before the rule it scores was written, and is drawn afresh for each
winter from these ranges. Forecasts, crews, past first runs and holes are simulated everywhere; the
temperatures are simulated too, except in the three open winters (fixtures/open_data/hourly; a day
with under 20 known hours there takes what lies between its neighbours).

- Place: coldest daily mean U(-13, -5) C about 20 January +- 10 days, yearly cosine of half-range
  U(12, 16) C; a winter as a whole departs from it by N(0, s), s = U(0.5, 2) C; days by an AR(1) of
  U(3, 6) C and lag-one correlation U(0.6, 0.85); half the daily swing U(3, 7) C, times U(0.5, 1.5).
- Run day: some frost that day or the two before, U(15, 60) thaw degree-hours over the day and its
  eve, and U(30, 250) gathered since the last day at or under -10 C. First run: the first run day
  with at least three run days in the week it begins. Earlier run days belong to no season. A winter
  whose run days span less than 10 or more than 92 days from it on (10 days to three months: common
  practice, no source) is left out, past ones too; the open winters are taken as they come.
- Hole: gives until U(45, 90) thawed days (maximum over 0 C) have passed since it was drilled.
- Crew: 2 to 12 whole days of work, Sundays off, no work on days that stay under 10 F; on a run
  day, once begun, the pace is U(0, 1) of the usual.
- Past: 3 to 20 first runs of the same place. For an open winter, whose past is not known, they lie
  N(0, w), w = U(8, 18) days, about a middle that lies as far by the same law from its own.
- Forecast: every evening, 15 days ahead, 30 members. The error on a valid day is N(0, a + b x days
  ahead), a = U(0.5, 1.0), b = U(0.2, 0.4) C, correlated 0.8 from day to day and 0.7 from evening to
  evening; members lie about the central forecast by the same law times U(0.6, 1.2).

The best start in hindsight leaves the fewest run days missed and of those is the latest. A run day
is missed by the share of taps not set that morning or no longer giving.
"""

import csv
from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import numpy as np

from apps.domain import freeze_thaw as ft
from apps.domain.sap_run import sine_thaw_degree_hours
from apps.domain.units import celsius_from_fahrenheit

HOURLY = Path(__file__).parents[3] / "fixtures/open_data/hourly"
OPEN = (("macleish_whately_2015", 2015), ("nyc_lga_2013", 2013), ("nyc_jfk_2023", 2023))
# Winters that hardly freeze: a hole drilled in January has mostly thawed days to dry in.
MILD = OPEN[1:]
EST = timezone(timedelta(hours=-5))
DAY = timedelta(days=1)
DAYS, REACH, MEMBERS = 150, 15, 30
SEASON = 2025  # of the simulated winters
SUNDAY = 6
DAY_CORRELATION, EVENING_CORRELATION = 0.8, 0.7
HARD_FREEZE_C, COLD_LIMIT_C = -10.0, celsius_from_fahrenheit(10.0)
SPELL_RUNS, SPELL_DAYS = 3, 7
SEASON_SPAN = range(10, 93)


@dataclass(frozen=True)
class Saps:
    """What it takes for sap to run at a place."""

    day_warmth: float
    gathered_warmth: float


@dataclass(frozen=True)
class Winter:
    """One winter's days from 1 January, (days,) each, and all that goes with it.

    `past_temps_c` holds the minima and maxima of the past winters, in the order of `past`; empty
    where only their first runs are known.
    """

    name: str
    season: int
    low_c: np.ndarray
    high_c: np.ndarray
    runs: np.ndarray
    first_run: int
    past: tuple[int, ...]
    past_temps_c: tuple
    work_days: int
    run_day_pace: float
    hole_days: float
    forecast_seed: int

    @property
    def dates(self):
        return [date(self.season, 1, 1) + n * DAY for n in range(DAYS)]

    @property
    def workable(self):
        rest = np.array([day.weekday() == SUNDAY for day in self.dates])
        return ~rest & (self.high_c >= COLD_LIMIT_C)


@dataclass(frozen=True)
class Forecasts:
    """Every evening's: errors of the centre (evenings, days), of the members (..., members, ...).

    Evening e stands on day e and speaks of days e + 1 to e + REACH.
    """

    centre_error_c: np.ndarray
    member_error_c: np.ndarray

    def centre(self, temps_c, evening):
        ahead = slice(evening + 1, evening + 1 + REACH)
        return temps_c[ahead] + self.centre_error_c[evening, ahead]

    def members(self, temps_c, evening):
        ahead = slice(evening + 1, evening + 1 + REACH)
        return self.centre(temps_c, evening) + self.member_error_c[evening][:, ahead]


def simulated(seed):
    """A winter by chance, with past ones of its place; a place without four is drawn again."""
    rng = np.random.default_rng([2026, seed])
    while True:
        place, saps = _place(rng), _saps(rng)
        drawn = [_temperatures(rng, place) for _ in range(1 + rng.integers(3, 21))]
        runs = [_run_days(low, high, saps) for low, high in drawn]
        # Past winters under the same condition: the one at hand must be one more like them.
        known = [
            (_first_run(ran), temps)
            for ran, temps in zip(runs, drawn, strict=True)
            if _span(ran, _first_run(ran)) in SEASON_SPAN
        ]
        if len(known) > 3:
            return _winter(rng, f"simulated {seed}", SEASON, known[0][1], saps, known[1:])


def open_winter(site, season, seed):
    """An open hourly winter with a crew, past, holes and forecasts made by chance."""
    rng = np.random.default_rng([season, seed])
    low, high = _read(site)
    while True:
        saps = _saps(rng)
        first = _first_run(_run_days(low, high, saps))
        if first is not None:
            break
    width = rng.uniform(8, 18)
    middle = first + rng.normal(0, width)
    past = np.rint(middle + rng.normal(0, width, rng.integers(3, 21))).clip(0, DAYS - 1)
    past = [(int(day), None) for day in past]
    return _winter(rng, f"{site} {seed}", season, (low, high), saps, past)


def forecasts(winter):
    """The forecasts of every evening, the same each time they are asked for."""
    rng = np.random.default_rng(winter.forecast_seed)
    base, growth, spread = rng.uniform(0.5, 1.0), rng.uniform(0.2, 0.4), rng.uniform(0.6, 1.2)
    lead = np.arange(DAYS)[None, :] - np.arange(DAYS)[:, None]
    scale = base + growth * np.clip(lead, 0, REACH)
    members = np.stack([_field(rng) for _ in range(MEMBERS)], axis=1)
    return Forecasts(scale * _field(rng), spread * scale[:, None, :] * members)


def missed_run_days(winter, start):
    """Run days missed from the first run on, when the crew sets out on day `start`."""
    set_by = _share_set(winter, start)
    thawed = np.cumsum(winter.high_c > 0)
    # A hole drilled while the count stood at n gives until it stands over n + hole_days.
    dried = np.searchsorted(thawed, thawed - winter.hole_days, side="left")
    giving = set_by - np.where(thawed > winter.hole_days, set_by[dried], 0)
    season = winter.runs & (np.arange(DAYS) >= winter.first_run)
    return float((1 - giving)[season].sum())


def first_day_of_work(winter, start):
    """The day the crew is first in the woods when told to set out on day `start`."""
    able = np.flatnonzero(winter.workable[start:])
    return start + int(able[0]) if able.size else start


def best_in_hindsight(winter):
    """(start, run days missed): the fewest missed, and of those the latest start."""
    starts = sorted({first_day_of_work(winter, day) for day in range(1, DAYS)})
    missed = np.array([missed_run_days(winter, start) for start in starts])
    at = np.flatnonzero(missed <= missed.min() + 1e-9)[-1]
    return starts[at], float(missed[at])


def _share_set(winter, start):
    """Share of taps set by the morning of each day."""
    pace = np.where(winter.runs, winter.run_day_pace, 1.0) * winter.workable
    pace[:start] = 0
    done = np.minimum(np.cumsum(pace) / winter.work_days, 1)
    return np.concatenate(([0.0], done[:-1]))


def _place(rng):
    return {
        "coldest": rng.uniform(-13, -5),
        "when": 19 + rng.uniform(-10, 10),
        "half_range": rng.uniform(12, 16),
        "winters": rng.uniform(0.5, 2),
        "days": rng.uniform(3, 6),
        "persistence": rng.uniform(0.6, 0.85),
        "swing": rng.uniform(3, 7),
    }


def _saps(rng):
    return Saps(rng.uniform(15, 60), rng.uniform(30, 250))


def _temperatures(rng, place):
    season = 1 - np.cos(2 * np.pi * (np.arange(DAYS) - place["when"]) / 365)
    mean = place["coldest"] + place["half_range"] * season + rng.normal(0, place["winters"])
    mean += place["days"] * _persistent(rng.normal(size=DAYS), place["persistence"])
    swing = place["swing"] * rng.uniform(0.5, 1.5, DAYS)
    return mean - swing, mean + swing


def _persistent(noise, correlation):
    """Unit-variance noise (..., n) carried over along its last axis."""
    kept = np.sqrt(1 - correlation**2)
    for at in range(1, noise.shape[-1]):
        noise[..., at] = correlation * noise[..., at - 1] + kept * noise[..., at]
    return noise


def _field(rng):
    """Unit errors (evenings, days), correlated along both."""
    along_days = _persistent(rng.normal(size=(DAYS, DAYS)), DAY_CORRELATION)
    return _persistent(along_days.T.copy(), EVENING_CORRELATION).T


def _run_days(low, high, saps):
    warmth = sine_thaw_degree_hours(low, high)
    eve = np.concatenate(([0.0], warmth[:-1]))
    frost = np.minimum.reduce([low, np.roll(low, 1), np.roll(low, 2)]) < 0
    total = np.cumsum(warmth)
    hard = np.where(low <= HARD_FREEZE_C, total - warmth, 0.0)
    gathered = total - np.maximum.accumulate(hard)
    return frost & (warmth + eve >= saps.day_warmth) & (gathered >= saps.gathered_warmth)


def _first_run(runs):
    ahead = np.convolve(runs, np.ones(SPELL_DAYS))[SPELL_DAYS - 1 :]
    found = np.flatnonzero(runs & (ahead >= SPELL_RUNS))
    return int(found[0]) if found.size else None


def _span(runs, first):
    """Days from the first run to the last, 0 without one."""
    return 0 if first is None else int(np.flatnonzero(runs)[-1]) - first + 1


def _winter(rng, name, season, temps, saps, past):
    low, high = temps
    runs = _run_days(low, high, saps)
    return Winter(
        name,
        season,
        low,
        high,
        runs,
        _first_run(runs),
        tuple(day for day, _ in past),
        tuple(temps for _, temps in past if temps),
        work_days=int(rng.integers(2, 13)),
        run_day_pace=rng.uniform(0, 1),
        hole_days=rng.uniform(45, 90),
        forecast_seed=int(rng.integers(2**32)),
    )


def _read(site):
    """Daily minimum and maximum of local standard days from 1 January."""
    with (HOURLY / f"{site}.csv").open() as lines:
        rows = list(csv.DictReader(lines))
    temps = np.array([float(row["temp_c"] or "nan") for row in rows])
    start = datetime.fromisoformat(rows[0]["time_utc"])
    days = ft.local_day_edges(start, temps.size, EST)
    first = next(n for n, day in enumerate(days) if (day.date.month, day.date.day) == (1, 1))
    summary = ft.summarise_days(temps, days)
    whole = (summary.known_hours >= 20)[first : first + DAYS]
    place = np.arange(DAYS)
    return tuple(
        np.interp(place, place[whole], values[first : first + DAYS][whole])
        for values in (summary.minimum_c, summary.maximum_c)
    )
