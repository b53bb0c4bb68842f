"""Hours in one packed column: small, quick to read, and the same on every machine.

Units: C or km/h, one value an hour. NaN is a missing hour.
Validity: four bytes a value keep about seven digits, far finer than a thermometer.
Source: IEEE 754 (2019), binary32.
"""

from typing import Any

import numpy as np
import numpy.typing as npt

# Little-endian whatever the machine, so that a database moves between machines as it is.
PACKED = np.dtype("<f4")

Hours = npt.NDArray[np.float64]


def pack(hours: npt.NDArray[np.floating[Any]]) -> bytes:
    return np.asarray(hours).astype(PACKED).tobytes()


def unpack(packed: bytes | memoryview) -> Hours:
    """(hours,) of its own: the caller may write to it."""
    return np.frombuffer(bytes(packed), dtype=PACKED).astype(np.float64)


def first_hour_of_year(year: int) -> int:
    """Whole hours from 1970 to the first hour of a UTC calendar year."""
    return int(np.datetime64(f"{year:04d}-01-01T00", "h").astype(np.int64))


def empty_year(year: int) -> Hours:
    """Every hour of a UTC calendar year, none of them known."""
    return np.full(first_hour_of_year(year + 1) - first_hour_of_year(year), np.nan)
