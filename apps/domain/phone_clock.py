"""True times of records saved on a phone whose clock may be wrong, set or asleep meanwhile.

Formula: at some moments (anchors; the sync itself is the last) the server's time is known beside
the phone's two clocks, its wall clock and a timer that only counts up from one page load (boot),
standing still while the phone sleeps. Between two such moments the wall clock is taken to have
been set at most once.
1. Offsets (server - wall) on both sides agree: true = wall + offset, drifting evenly between them.
2. They differ and the timer ran without sleep: true = earlier anchor + what the timer counted.
3. They differ and the phone slept: the one setting lies in a gap between neighbours in the order
of saving. Not in one where wall and timer advanced alike; surely in one where the wall advanced
less than the timer, or went back, or gained on it just what the offset lost; never where it would
leave less time than the timer counted. Before it the earlier offset holds, after it the later.
Where several gaps are left the later offset is used and the time is uncertain.
4. No anchor before, or set more than once: reckoned back from the later anchor, by the timer over
gaps in which the clock was set back, by the wall over others; uncertain from the first gap on in
which wall and timer disagree.
The order of saving is never reversed, and nothing is later than the sync.
Units: ms since 1970-01-01 UTC for walls and true times, ms for timers and offsets. Neither time
zones nor summer time move any of these.
Validity: walls from 1970 to 9999. Wall and timer count as alike within 2 s and 100 parts in a
million, offsets within 60 s, for an answer may have been under way that long; a gain matches a
setting within 5 s more. Two settings that cancel each other within one gap, or a sleep of just
the length of a setting, leave no trace. Times over 400 days old are for the caller to
refuse.
Source: the offset from one exchange of times as in NTP (RFC 5905, 2010, section 8), without its
round trip; the timer as in High Resolution Time (W3C, 2023). The rules and limits are our own,
no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum
from itertools import pairwise

from apps.domain.errors import require_range

ALIKE_MS = 2_000
ALIKE_PER_MILLION = 100
AGREED_MS = 60_000
MATCH_MS = 5_000
SHOWN_FROM_MS = 5 * 60_000
OLDEST_MS = 400 * 86_400_000
# The last millisecond of the year 9999, beyond which Python has no dates.
LAST_MS = 253_402_300_799_999


class Method(Enum):
    """How a true time was found."""

    STEADY = "steady"
    COUNTED = "counted"
    SET_ONCE = "set_once"
    RECKONED = "reckoned"


@dataclass(frozen=True, slots=True)
class Clocks:
    """What a phone's clocks showed at one moment; without a timer only the wall is known."""

    wall_ms: int
    mono_ms: int | None = None
    boot: str | None = None

    def __post_init__(self) -> None:
        require_range("wall_ms", self.wall_ms, 0, LAST_MS)
        if self.mono_ms is not None:
            require_range("mono_ms", self.mono_ms, 0, LAST_MS)

    def timer_gap_ms(self, later: "Clocks") -> int | None:
        """What the timer counted up to a later moment; None when it was another timer."""
        if self.boot is None or self.boot != later.boot:
            return None
        if self.mono_ms is None or later.mono_ms is None or later.mono_ms < self.mono_ms:
            return None
        return later.mono_ms - self.mono_ms


@dataclass(frozen=True, slots=True)
class Anchor:
    """A moment whose true time is known, after `saved_before` of the records were saved."""

    clocks: Clocks
    server_ms: int
    saved_before: int

    def __post_init__(self) -> None:
        require_range("server_ms", self.server_ms, 0, LAST_MS)
        require_range("saved_before", self.saved_before, 0, 1_000_000)

    @property
    def offset_ms(self) -> int:
        """What has to be added to the wall clock to have the true time."""
        return self.server_ms - self.clocks.wall_ms


@dataclass(frozen=True, slots=True)
class Corrected:
    """The true time of one record, what was added to its wall clock, and how surely."""

    at_ms: int
    offset_ms: int
    method: Method
    is_certain: bool

    @property
    def worth_showing(self) -> bool:
        """Whether a person should see that the phone's clock and the true time differ."""
        return not self.is_certain or abs(self.offset_ms) > SHOWN_FROM_MS


@dataclass(frozen=True, slots=True)
class _Gap:
    """From one moment to the next: what wall and timer advanced; the timer None when unknown."""

    wall_ms: int
    timer_ms: int | None

    @property
    def least_ms(self) -> int:
        # Another timer says nothing, but time itself never runs backwards.
        return self.timer_ms or 0

    @property
    def slack_ms(self) -> int:
        return ALIKE_MS + self.least_ms * ALIKE_PER_MILLION // 1_000_000

    @property
    def is_steady(self) -> bool:
        """The clock was neither set nor did the phone sleep."""
        return self.timer_ms is not None and abs(self.wall_ms - self.timer_ms) <= self.slack_ms

    @property
    def was_set_back(self) -> bool:
        return self.wall_ms < self.least_ms - self.slack_ms

    def gained(self, ms: int) -> bool:
        """Whether the wall gained that much on the timer, to within an answer's delay."""
        if self.timer_ms is None:
            return False
        return abs(self.wall_ms - self.timer_ms - ms) <= MATCH_MS + self.slack_ms

    @property
    def likely_ms(self) -> int:
        """Sleep is far more common than a clock set forward, so the wall is believed."""
        return self.least_ms if self.was_set_back else max(self.wall_ms, self.least_ms, 0)


def correct(
    saved: Sequence[Clocks], anchors: Sequence[Anchor], sync: Anchor
) -> tuple[Corrected, ...]:
    """The true time of every record, in the order in which they were saved.

    `sync` is the moment of sending, after all of them. Anchors that contradict the order of the
    ones before them, or the sync, are left out. Raises OutOfRange for a sync before a record.
    """
    require_range("saved_before", sync.saved_before, len(saved), len(saved))
    found: list[Corrected] = []
    before: Anchor | None = None
    for after in (*_in_order(anchors, sync), sync):
        between = saved[len(found) : after.saved_before]
        found += _between(before, between, after)
        before = after
    return _put_in_order(found, saved, sync.server_ms)


def is_too_old(at_ms: int, received_ms: int) -> bool:
    """Whether a record is from so long before it was received that no clock is to be believed."""
    return received_ms - at_ms > OLDEST_MS


def _in_order(anchors: Sequence[Anchor], sync: Anchor) -> list[Anchor]:
    kept: list[Anchor] = []
    for anchor in anchors:
        last = kept[-1] if kept else anchor
        rises = last.server_ms <= anchor.server_ms <= sync.server_ms
        if rises and last.saved_before <= anchor.saved_before <= sync.saved_before:
            kept.append(anchor)
    return kept


def _between(before: Anchor | None, saved: Sequence[Clocks], after: Anchor) -> list[Corrected]:
    """The records between two anchors, or before the first one known."""
    moments = [*([before.clocks] if before else []), *saved, after.clocks]
    gaps = [_gap(earlier, later) for earlier, later in pairwise(moments)]
    if before is None:
        return _reckoned_back(saved, gaps, after)
    agree = abs(after.offset_ms - before.offset_ms) <= AGREED_MS
    if agree and not any(gap.was_set_back for gap in gaps):
        return [_steady(before, clocks, after) for clocks in saved]
    timer_ms = before.clocks.timer_gap_ms(after.clocks)
    true_ms = after.server_ms - before.server_ms
    if timer_ms is not None and abs(true_ms - timer_ms) <= AGREED_MS:
        return _counted(before, saved)
    places = _places_of_the_setting(gaps, after.offset_ms - before.offset_ms)
    if agree or not places:
        return _reckoned_between(before, saved, gaps, after)
    return [
        _set_once(before, clocks, after, at, places) for at, clocks in enumerate(saved, start=1)
    ]


def _gap(earlier: Clocks, later: Clocks) -> _Gap:
    return _Gap(later.wall_ms - earlier.wall_ms, earlier.timer_gap_ms(later))


def _made(clocks: Clocks, at_ms: int, method: Method, *, is_certain: bool) -> Corrected:
    return Corrected(at_ms, at_ms - clocks.wall_ms, method, is_certain)


def _steady(before: Anchor, clocks: Clocks, after: Anchor) -> Corrected:
    whole_ms = after.clocks.wall_ms - before.clocks.wall_ms
    gone_ms = clocks.wall_ms - before.clocks.wall_ms
    # What a drifting clock gained or lost since the earlier anchor, up to here.
    drift_ms = (after.offset_ms - before.offset_ms) * gone_ms // whole_ms if whole_ms > 0 else 0
    at_ms = clocks.wall_ms + before.offset_ms + drift_ms
    return _made(clocks, at_ms, Method.STEADY, is_certain=True)


def _counted(before: Anchor, saved: Sequence[Clocks]) -> list[Corrected]:
    found, at_ms = [], before.server_ms
    for clocks in saved:
        # A record of another timer, from a second page open beside: only its place is known.
        gone_ms = before.clocks.timer_gap_ms(clocks)
        at_ms = at_ms if gone_ms is None else before.server_ms + gone_ms
        found.append(_made(clocks, at_ms, Method.COUNTED, is_certain=gone_ms is not None))
    return found


def _places_of_the_setting(gaps: Sequence[_Gap], change_ms: int) -> list[int]:
    """Gaps in which the one setting may lie; `change_ms` is what it added to the offset."""
    set_back = [at for at, gap in enumerate(gaps) if gap.was_set_back]
    if len(set_back) > 1:
        return []
    places = [
        at
        for at in set_back or range(len(gaps))
        if not gaps[at].is_steady and gaps[at].wall_ms + change_ms >= gaps[at].least_ms - AGREED_MS
    ]
    # Anywhere else the phone would have slept there for just as long as the clock was set by.
    return [at for at in places if gaps[at].gained(-change_ms)] or places


def _set_once(
    before: Anchor, clocks: Clocks, after: Anchor, at: int, places: Sequence[int]
) -> Corrected:
    """The record at place `at`, counted from 1: gap `at - 1` comes before it."""
    was_before = at <= min(places)
    offset_ms = before.offset_ms if was_before else after.offset_ms
    is_certain = was_before or at > max(places)
    at_ms = clocks.wall_ms + offset_ms
    return _made(clocks, at_ms, Method.SET_ONCE, is_certain=is_certain)


def _reckoned_back(saved: Sequence[Clocks], gaps: Sequence[_Gap], after: Anchor) -> list[Corrected]:
    """From the later anchor to the earliest record; `gaps` end with the one up to the anchor."""
    found, at_ms, is_certain = [], after.server_ms, True
    for clocks, gap in zip(reversed(saved), reversed(gaps), strict=False):
        at_ms -= gap.likely_ms
        is_certain = is_certain and gap.is_steady
        method = Method.STEADY if is_certain else Method.RECKONED
        found.append(_made(clocks, at_ms, method, is_certain=is_certain))
    return found[::-1]


def _reckoned_between(
    before: Anchor, saved: Sequence[Clocks], gaps: Sequence[_Gap], after: Anchor
) -> list[Corrected]:
    """Reckoned back, but never before the earlier anchor, and sure where that one is in reach."""
    found = [
        # Set again and again the wall may lead back past the anchor, which was surely before.
        one if one.at_ms >= before.server_ms else replace(one, at_ms=before.server_ms)
        for one in _reckoned_back(saved, gaps[1:], after)
    ]
    at_ms = before.server_ms
    for at, (clocks, gap) in enumerate(zip(saved, gaps, strict=False)):
        if not gap.is_steady:
            break
        at_ms += gap.least_ms
        found[at] = _made(clocks, at_ms, Method.STEADY, is_certain=True)
    return found


def _put_in_order(
    found: Sequence[Corrected], saved: Sequence[Clocks], received_ms: int
) -> tuple[Corrected, ...]:
    """Each a millisecond after the one before at least, and none later than it was received."""
    kept: list[Corrected] = []
    # A millisecond apart, since two dips of one tank cannot share a moment.
    at_ms = -1
    for place, (one, clocks) in enumerate(zip(found, saved, strict=True)):
        last_ms = received_ms - (len(found) - 1 - place)
        at_ms = max(at_ms + 1, min(one.at_ms, last_ms))
        moved = abs(at_ms - one.at_ms) > AGREED_MS
        kept.append(_made(clocks, at_ms, one.method, is_certain=one.is_certain and not moved))
    return tuple(kept)
