"""An order to walk through leaking lines that recovers the most sap for the hours spent.

Formula: a walk starts at one place, fixes each chosen line once and may end back at the start.
Without hours it is the walk with the most litres a day recovered per hour of walking and fixing.
With the hours a crew has, those hours are spent either way: it is the walk that recovers most
within them, in the least time, and so with hours to spare the shortest walk through every line.
Exact for up to 9 lines by dynamic programming over sets (the least time to have fixed a set and
stand at its last line). For more, a walk is grown by the line that gains most per minute added,
then lines are dropped, exchanged and stretches turned round until nothing helps.
Units: litres a day, minutes, metres.
Validity: walking minutes there and back may differ, and are taken as given or from map distance
at a speed and a detour factor. Beyond 9 lines the walk is good, not proven best: in 480 seeded
walks of 8 lines what is done for large sets fell short of the best by 0.05 % on average and 4 %
at worst.
Source: Held & Karp, J. SIAM 10 (1962), and 2-opt, Croes, Operations Research 6 (1958), both from
memory. Speed of 3 km/h on snow and a detour of 1.3 are common practice, no source.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, require_range

EXACT_LINES = 9
# A walk grown from the best first line alone ends in the wrong corner now and then.
FIRST_LINES = 5
LEAST_MINUTES = 1e-6
SNOW_KMH = 3.0
DETOUR = 1.3
MINUTES_PER_HOUR = 60
METRES_PER_KM = 1000

Floats = npt.NDArray[np.float64]
Order = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Stop:
    """A line to fix: what fixing it recovers a day, and the minutes of work there."""

    line_id: str
    litres_per_day: float
    fix_minutes: float

    def __post_init__(self) -> None:
        require_range("litres_per_day", self.litres_per_day, 0, 1e7)
        require_range("fix_minutes", self.fix_minutes, 0, 24 * MINUTES_PER_HOUR)


@dataclass(frozen=True, slots=True)
class WalkLimits:
    """Whether the walk must end where it began, and the hours it may take (None: no limit)."""

    back_to_start: bool = True
    hours: float | None = None

    def __post_init__(self) -> None:
        if self.hours is not None:
            require_range("hours", self.hours, 0, 24)

    @property
    def minutes(self) -> float:
        """The limit in minutes, infinite without one."""
        return math.inf if self.hours is None else self.hours * MINUTES_PER_HOUR


@dataclass(frozen=True, slots=True)
class Walk:
    """Lines in walking order with what they recover; `exact` is True when no walk is better."""

    line_ids: tuple[str, ...]
    litres_per_day: float
    hours: float
    litres_per_hour: float
    exact: bool


@dataclass(frozen=True, slots=True)
class _Ground:
    """The stops as arrays; place 0 of `walk` is the start, place i + 1 is stop i.

    A walk that may end anywhere is one whose way back takes no time.
    """

    litres: Floats
    fix: Floats
    walk: Floats
    limit_minutes: float

    def minutes(self, order: Order) -> float:
        """Minutes to walk and fix these stops in this order."""
        places = [0, *(stop + 1 for stop in order), 0]
        legs = math.fsum(self.walk[leg] for leg in pairwise(places))
        return legs + math.fsum(self.fix[stop] for stop in order)

    def recovered(self, order: Order) -> float:
        """Litres a day recovered; exact sums, so that no order seems to recover more."""
        return math.fsum(self.litres[stop] for stop in order)

    def worth(self, order: Order) -> tuple[float, float]:
        """What is maximised, then minutes saved; too long a walk is worth less than none."""
        minutes, litres = self.minutes(order), self.recovered(order)
        if minutes > self.limit_minutes:
            return (-1.0, -minutes)
        # Hours without a limit are the price of sap; hours that were given are spent either way.
        hurry = math.isinf(self.limit_minutes)
        return (_per_hour(litres, minutes) if hurry else litres, -minutes)


def walk_minutes(
    places_m: Sequence[tuple[float, float]], kmh: float = SNOW_KMH, detour: float = DETOUR
) -> Floats:
    """Minutes between all pairs of map places, the start first, (places, places).

    Raises OutOfRange for a speed outside 0.1 to 50 km/h or a detour outside 1 to 5.
    """
    require_range("kmh", kmh, 0.1, 50)
    require_range("detour", detour, 1, 5)
    places = np.asarray(places_m, dtype=np.float64).reshape(-1, 2)
    require_range("places_m", places, -1e7, 1e7)
    apart = np.linalg.norm(places[:, None] - places[None, :], axis=-1)
    minutes: Floats = apart * detour / (kmh * METRES_PER_KM / MINUTES_PER_HOUR)
    return minutes


def best_walk(
    stops: Sequence[Stop],
    walk_minutes: Floats,
    limits: WalkLimits | None = None,
    exact_up_to: int = EXACT_LINES,
) -> Walk:
    """The walk with the most litres recovered per hour, or within the hours of `limits`.

    `walk_minutes` is (stops + 1, stops + 1), the start first. An empty walk means that nothing
    is to be gained within the limit. Raises DomainError for a matrix of another shape, OutOfRange
    for minutes under 0 or exact_up_to outside 0 to 12.
    """
    walk = np.asarray(walk_minutes, dtype=np.float64)
    if walk.shape != (len(stops) + 1, len(stops) + 1):
        raise DomainError(
            f"walk_minutes must be {len(stops) + 1} by {len(stops) + 1}, not {walk.shape}"
        )
    require_range("walk_minutes", walk, 0, 48 * MINUTES_PER_HOUR)
    # Sets and last lines double with each line: some 25,000 at 12.
    require_range("exact_up_to", exact_up_to, 0, 12)
    litres = np.array([stop.litres_per_day for stop in stops], dtype=np.float64)
    fix = np.array([stop.fix_minutes for stop in stops], dtype=np.float64)
    limits = limits or WalkLimits()
    walk = walk.copy()
    # Staying at the start takes no time, nor does the way back where none is asked for.
    walk[: 1 if limits.back_to_start else None, 0] = 0
    ground = _Ground(litres, fix, walk, limits.minutes)
    exact = len(stops) <= exact_up_to
    order = _exact(ground) if exact else _good(ground)
    recovered, minutes = ground.recovered(order), ground.minutes(order)
    return Walk(
        tuple(stops[stop].line_id for stop in order),
        recovered,
        minutes / MINUTES_PER_HOUR,
        _per_hour(recovered, minutes),
        exact,
    )


def _per_hour(litres: float, minutes: float) -> float:
    # Standing at a leak that takes no time to fix is beyond any other walk.
    if minutes == 0:
        return math.inf if litres else 0.0
    return litres / (minutes / MINUTES_PER_HOUR)


def _exact(ground: _Ground) -> Order:
    """Held and Karp: the least time for every set of stops and last stop, then the best set."""
    best: Order = ()
    frontier: dict[tuple[int, int], tuple[float, Order]] = {
        (1 << stop, stop): (float(ground.walk[0, stop + 1] + ground.fix[stop]), (stop,))
        for stop in range(ground.litres.size)
    }
    # Sets grow by one stop a round, so that each round holds the walks of one length.
    while frontier:
        best = max((best, *(order for _, order in frontier.values())), key=ground.worth)
        frontier = _one_stop_more(ground, frontier)
    return best


def _one_stop_more(
    ground: _Ground, frontier: dict[tuple[int, int], tuple[float, Order]]
) -> dict[tuple[int, int], tuple[float, Order]]:
    longer: dict[tuple[int, int], tuple[float, Order]] = {}
    for (chosen, last), (minutes, order) in frontier.items():
        for stop in range(ground.litres.size):
            if chosen >> stop & 1:
                continue
            reached = minutes + float(ground.walk[last + 1, stop + 1] + ground.fix[stop])
            key = (chosen | 1 << stop, stop)
            if key not in longer or reached < longer[key][0]:
                longer[key] = (reached, (*order, stop))
    return longer


def _good(ground: _Ground) -> Order:
    """The best of the walks grown from each of the most promising first lines."""
    alone = sorted(range(ground.litres.size), key=lambda stop: ground.worth((stop,)), reverse=True)
    grown = [_improve(ground, _grow(ground, (first,))) for first in alone[:FIRST_LINES]]
    return max(((), *grown), key=ground.worth)


def _grow(ground: _Ground, order: Order) -> Order:
    while longer := _insertions(ground, order):
        if ground.worth(longer[0]) <= ground.worth(order):
            break
        order = longer[0]
    return order


def _improve(ground: _Ground, order: Order) -> Order:
    """Take the best single change as long as one raises the worth."""
    while True:
        best = max((order, *_changes(ground, order)), key=ground.worth)
        if best == order:
            return order
        order = best


def _changes(ground: _Ground, order: Order) -> list[Order]:
    """Walks with one stop more, one less, one exchanged, or one stretch turned round."""
    places = range(len(order))
    less = [order[:at] + order[at + 1 :] for at in places]
    exchanged = [longer for shorter in less for longer in _insertions(ground, shorter)]
    turned = [order[:i] + order[i : j + 1][::-1] + order[j + 1 :] for j in places for i in range(j)]
    return _insertions(ground, order) + less + exchanged + turned


def _insertions(ground: _Ground, order: Order) -> list[Order]:
    """The walk with one stop more that gains most per minute, and the one that gains most."""
    places = np.array([0, *(stop + 1 for stop in order), 0])
    absent = np.setdiff1d(np.arange(ground.litres.size), order)
    before, after = places[:-1, None], places[1:, None]
    added = (
        ground.walk[before, absent + 1]
        + ground.walk[absent + 1, after]
        - ground.walk[before, after]
        + ground.fix[absent]
    )
    # Only the line's cheapest place matters, wherever on the walk that is.
    fits = added.min(axis=0, initial=np.inf) <= ground.limit_minutes - ground.minutes(order)
    absent, added = absent[fits], added[:, fits]
    if not absent.size:
        return []
    gain = ground.litres[absent]
    # A line on the way can take no time at all, or less than none where paths are not straight.
    rate = gain / np.maximum(added.min(axis=0), LEAST_MINUTES)
    picks = dict.fromkeys((int(rate.argmax()), int(gain.argmax())))
    return [_insert(order, int(added[:, p].argmin()), int(absent[p])) for p in picks]


def _insert(order: Order, at: int, stop: int) -> Order:
    return (*order[:at], stop, *order[at:])
