"""The members hour by hour: where half of them lie, where eight in ten do, and the middle."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

import numpy as np

from apps.domain.season_end import weighted_quantiles
from apps.weather.queries.chances import FEWEST_MEMBERS, ModelMembers

HOUR = timedelta(hours=1)
SHARES = (0.1, 0.25, 0.5, 0.75, 0.9)


@dataclass(frozen=True)
class FanHour:
    """One hour over the members that know it, each model weighing the same; C."""

    at: datetime
    low: float
    lower: float
    middle: float
    upper: float
    high: float


@dataclass(frozen=True)
class Fan:
    """The hours that at least ten members know; hours of fewer are left out."""

    hours: tuple[FanHour, ...]
    models: tuple[str, ...]
    members: int


def fan(models: Sequence[ModelMembers], tz: tzinfo, first: date, days: int) -> Fan | None:
    """The hours of `days` local days from `first` on; None without members enough for a fan."""
    several = [model for model in models if model.gives_chances]
    start_at = datetime.combine(first, time(), tzinfo=tz).astimezone(UTC)
    start_at = start_at.replace(minute=0)
    stop_at = datetime.combine(first + timedelta(days=days), time(), tzinfo=tz)
    size = (stop_at.astimezone(UTC) - start_at) // HOUR
    # Models begin and end at hours of their own: laid on one clock before they are pooled.
    laid = [_laid(model, start_at, size) for model in several]
    if not laid:
        return None
    values = np.concatenate(laid)
    known = (~np.isnan(values)).sum(axis=0)
    weights = np.concatenate([_weights(members) for members in laid])
    hours = tuple(
        FanHour(
            start_at + int(at) * HOUR, *weighted_quantiles(values[:, at], weights[:, at], SHARES)
        )
        for at in np.flatnonzero(known >= FEWEST_MEMBERS)
    )
    if not hours:
        return None
    return Fan(hours, tuple(model.model for model in several), len(values))


def _laid(model: ModelMembers, start_at: datetime, size: int) -> np.ndarray:
    """(members, size) from the start asked for, NaN where the model does not reach."""
    shift = (model.start_at - start_at) // HOUR
    laid = np.full((model.temps_c.shape[0], size), np.nan)
    low, high = max(0, shift), min(size, shift + model.temps_c.shape[1])
    if low < high:
        laid[:, low:high] = model.temps_c[:, low - shift : high - shift]
    return laid


def _weights(members: np.ndarray) -> np.ndarray:
    """Each hour the members that know it share one weight of their model."""
    known = (~np.isnan(members)).sum(axis=0)
    return np.broadcast_to(1 / np.maximum(known, 1), members.shape)
