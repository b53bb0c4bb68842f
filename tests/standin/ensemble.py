"""Invented ensembles: the story's truth drawn like a member of every model, its wind beside it.

Formula: a model's centre is the truth less an error of its run; a member is the centre and an
error of its own. Both errors are smooth in time, seeded by model, run and member, with a
standard deviation of 0.4 C at first and 0.45 C more for each day of lead, 5 C at most: so the
truth lies among the members as one of them would.
Source: invented; the growth is of the size usual for 2 m temperature. The table of runs has the
fields of the Open-Meteo server source, ModelMetaJson.swift (2026).
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any
from zlib import crc32

import numpy as np
import numpy.typing as npt

# Series with the control.
MEMBERS = {
    "ncep_gefs_seamless": 31,
    "ncep_gefs025": 31,
    "ecmwf_ifs025_ensemble": 51,
    "cmc_gem_geps": 21,
}
INTERVAL_HOURS = {"cmc_gem_geps": 12}
# From the start of a run until it can be had.
LATENCY = timedelta(hours=5)
KNOT_HOURS = 18
FIRST_C, GROWTH_C_PER_DAY, LARGEST_C = 0.4, 0.45, 5.0


def interval(model: str) -> timedelta:
    return timedelta(hours=INTERVAL_HOURS.get(model, 6))


def newest_run(model: str, moment: datetime) -> datetime:
    step = int(interval(model).total_seconds())
    stamp = int((moment - LATENCY).timestamp())
    return datetime.fromtimestamp(stamp - stamp % step, UTC)


def errors_c(model: str, run: datetime, stamps: npt.NDArray[Any]) -> npt.NDArray[np.float64]:
    """(members, hours): what each member is away from the truth."""
    members = MEMBERS[model]
    rng = np.random.default_rng([crc32(model.encode()), int(run.timestamp()) // 3600])
    lead_hours = np.maximum(0.0, (stamps - run.timestamp()) / 3600)
    knots = rng.standard_normal((members + 1, int(lead_hours.max()) // KNOT_HOURS + 2))
    at = lead_hours / KNOT_HOURS
    whole, part = at.astype(int), at % 1
    # Two neighbouring knots of the same weight would halve the variance between them.
    smooth = knots[:, whole] * np.cos(part * np.pi / 2) + knots[:, whole + 1] * np.sin(
        part * np.pi / 2
    )
    size = np.minimum(LARGEST_C, FIRST_C + GROWTH_C_PER_DAY * lead_hours / 24)
    # The last row is the run's own error, which every member shares.
    return np.asarray(size * (smooth[:-1] - smooth[-1]), dtype=np.float64)


def winds_kmh(wind_kmh: npt.NDArray[Any], errors: npt.NDArray[Any]) -> npt.NDArray[np.float64]:
    """(members, hours): the wind off by 1 km/h for each degree by which another member is off."""
    return np.maximum(0.0, wind_kmh + errors[::-1])


def named(
    variable: str, members: npt.NDArray[np.float64]
) -> Iterator[tuple[str, npt.NDArray[np.float64]]]:
    """The control under the bare name, the others numbered from 01."""
    for number, hours in enumerate(members):
        yield f"{variable}_member{number:02d}" if number else variable, hours


def meta(model: str, moment: datetime) -> dict[str, Any]:
    """The table of runs of one model."""
    run = newest_run(model, moment)
    available = int((run + LATENCY).timestamp()) - 1200
    return {
        "chunk_time_length": 240,
        "crs_wkt": "GEOGCRS[...]",
        "data_end_time": int((run + timedelta(days=15)).timestamp()),
        "last_run_availability_time": available,
        "last_run_initialisation_time": int(run.timestamp()),
        "last_run_modification_time": available - 400,
        "temporal_resolution_seconds": 10_800,
        "update_interval_seconds": int(interval(model).total_seconds()),
    }
