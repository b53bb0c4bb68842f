"""Where a container's sap came from, and where a load of sap went.

Formula: closure of movements sap in -> tanks -> reverse osmosis lots -> batches -> containers, in
the order of time. Backwards from a place: going from the last movement to the first, a movement
into a place already traced adds the place it left; emptying a place forgets what was in it
earlier. Forwards, the same from first to last. A batch boiled on pans that were not drained takes
up what the batch before it left in them, and so does a tank the pans are drained into.
Units: none; this says which, not how much (shares are apps.domain.allocation's).
Validity: errs on the side of saying too much: contents mix fully, so anything that was in a vessel
when something left it is counted in, however little. Movements at one moment are taken in the
order given. A place asked about stands for all that ever passed through it.
Source: one step back, one step forward at every hand-over, as food-recall practice asks (Codex
Alimentarius CAC/GL 60-2006, from memory), joined into a closure; common practice, no formula.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import Enum

from apps.domain.errors import DomainError


class Kind(Enum):
    """What a place is, in the order sap goes through them."""

    SAP = "sap in"
    TANK = "tank"
    RO_LOT = "reverse osmosis lot"
    BATCH = "batch"
    CONTAINER = "container"


# A batch may go back to a tank (sweet kept for the next boil) and a container be boiled again.
_MAY_GO_TO = {
    Kind.SAP: {Kind.TANK, Kind.RO_LOT, Kind.BATCH},
    Kind.TANK: {Kind.TANK, Kind.RO_LOT, Kind.BATCH},
    Kind.RO_LOT: {Kind.TANK, Kind.RO_LOT, Kind.BATCH},
    Kind.BATCH: {Kind.TANK, Kind.BATCH, Kind.CONTAINER},
    Kind.CONTAINER: {Kind.BATCH, Kind.CONTAINER},
}


class ImpossibleMovement(DomainError):
    """A movement no sugarhouse can make, such as syrup into sap or a place into itself."""


class NaiveTime(DomainError):
    """An event without a time zone, which cannot be put in order with the others."""


@dataclass(frozen=True)
class Place:
    """One load of sap, tank, lot, batch or container, by the key its record goes by."""

    kind: Kind
    key: str

    def __str__(self) -> str:
        return f"{self.kind.value} {self.key}"


@dataclass(frozen=True)
class Moved:
    """Some of source went into target. carried marks what pans kept, moved by nobody."""

    at: datetime
    source: Place
    target: Place
    carried: bool = False

    def __post_init__(self) -> None:
        if self.source == self.target or self.target.kind not in _MAY_GO_TO[self.source.kind]:
            raise ImpossibleMovement(
                f"target must be a place that {self.source} can go to, not {self.target}"
            )


@dataclass(frozen=True)
class Emptied:
    """A vessel was emptied: what goes in later no longer mixes with what was in it."""

    at: datetime
    place: Place


@dataclass(frozen=True)
class Boiled:
    """A batch was started on a set of pans, on top of whatever the pans still held."""

    at: datetime
    batch: Place
    pans: str


@dataclass(frozen=True)
class Drained:
    """A set of pans was drained, into a tank when the sweet was kept."""

    at: datetime
    pans: str
    into: Place | None = None


Event = Moved | Emptied | Boiled | Drained


@dataclass(frozen=True)
class Trace:
    """What a place is joined to, and the movements that join it, in the order of time."""

    place: Place
    reached: frozenset[Place]
    steps: tuple[Moved, ...]

    def of_kind(self, kind: Kind) -> tuple[Place, ...]:
        """The places of one kind, in the order of their keys."""
        of_kind = (place for place in self.reached if place.kind is kind)
        return tuple(sorted(of_kind, key=lambda place: place.key))


def trace_back(events: Iterable[Event], place: Place) -> Trace:
    """Everything that may be in the place.

    Raises NaiveTime for an event without a time zone, ImpossibleMovement when pans are boiled on
    with something that is not a batch.
    """
    wanted, reached, steps = {place}, set(), []
    for event in reversed(_movements(events)):
        if isinstance(event, Emptied):
            # Read backwards, an emptying is where earlier contents stop mattering.
            wanted.discard(event.place)
            # The place asked about stands for all that ever passed through it.
            wanted.add(place)
        elif event.target in wanted:
            wanted.add(event.source)
            reached.add(event.source)
            steps.append(event)
    return Trace(place, frozenset(reached - {place}), tuple(reversed(steps)))


def trace_forward(events: Iterable[Event], place: Place) -> Trace:
    """Everything that may hold some of the place. Raises as trace_back does."""
    holding, reached, steps = {place}, set(), []
    for event in _movements(events):
        if isinstance(event, Emptied):
            # Already counted among those reached; only what leaves from now on is innocent.
            holding.discard(event.place)
            holding.add(place)
        elif event.source in holding:
            holding.add(event.target)
            reached.add(event.target)
            steps.append(event)
    return Trace(place, frozenset(reached - {place}), tuple(steps))


def _movements(events: Iterable[Event]) -> list[Moved | Emptied]:
    """All events as movements and emptyings in the order of time, pan contents made explicit."""
    moves: list[Moved | Emptied] = []
    on_pans: dict[str, Place] = {}
    for event in _in_order(list(events)):
        if isinstance(event, Boiled):
            if event.batch.kind is not Kind.BATCH:
                raise ImpossibleMovement(f"batch must be a batch, not {event.batch}")
            # Carried at the start, when the new batch goes in on top of what was left.
            moves += _carried(event.at, on_pans.get(event.pans), event.batch)
            on_pans[event.pans] = event.batch
        elif isinstance(event, Drained):
            moves += _carried(event.at, on_pans.pop(event.pans, None), event.into)
        else:
            moves.append(event)
    return moves


def _carried(at: datetime, left: Place | None, taken_by: Place | None) -> list[Moved]:
    # Clean pans, sweet thrown away, or the same batch boiled on after a pause.
    if left is None or taken_by is None or left == taken_by:
        return []
    return [Moved(at, left, taken_by, carried=True)]


def _in_order(events: Sequence[Event]) -> list[Event]:
    for event in events:
        if event.at.tzinfo is None:
            raise NaiveTime(f"at must carry a time zone, not {event.at.isoformat()}")
    # Sorting keeps the given order within one moment, as phones record whole minutes.
    return sorted(events, key=lambda event: event.at)
