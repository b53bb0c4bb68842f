"""A phone as it really goes: true time, a wall clock that drifts and is set, a timer that sleeps.

Stated here, before the rules are held against it: the wall drifts by up to 50 parts in a million,
the timer runs with it and stands still in every sleep, both to the millisecond. A new page load
is a new timer. Answers of the server are 0 to 4 s old when the phone notes its clocks.
"""

from dataclasses import dataclass, field

from apps.domain.phone_clock import Anchor, Clocks

SECOND, MINUTE, HOUR = 1_000, 60_000, 3_600_000
# 8 March 2026, 04:00 UTC: three hours before summer time begins in New York, which nothing here
# knows of.
START_MS = 1_772_942_400_000


@dataclass
class SimulatedPhone:
    """Told what happens, in order; remembers what the phone saved and what was true."""

    off_ms: int = 0
    drift_per_million: float = 0.0
    true_ms: int = START_MS
    saved: list[Clocks] = field(default_factory=list)
    truth: list[int] = field(default_factory=list)
    anchors: list[Anchor] = field(default_factory=list)
    _boots: int = 1
    _awake_ms: int = 0
    _set_ms: int = 0
    _gone_ms: int = 0

    def clocks(self) -> Clocks:
        drift = self.drift_per_million / 1e6
        wall = self.true_ms - self.off_ms + self._set_ms + round(self._gone_ms * drift)
        return Clocks(wall, round(self._awake_ms * (1 + drift)), f"boot{self._boots}")

    def awake(self, ms: int) -> None:
        self._pass(ms)
        self._awake_ms += ms

    def sleep(self, ms: int) -> None:
        self._pass(ms)

    def _pass(self, ms: int) -> None:
        self.true_ms += ms
        self._gone_ms += ms

    def reboot(self) -> None:
        self._boots += 1
        self._awake_ms = 0

    def set_clock(self, by_ms: int) -> None:
        self._set_ms += by_ms

    def save(self) -> None:
        self.saved.append(self.clocks())
        self.truth.append(self.true_ms)

    def anchor(self, late_ms: int = 0) -> Anchor:
        """The server's time, which was `late_ms` under way."""
        self.anchors.append(Anchor(self.clocks(), self.true_ms - late_ms, len(self.saved)))
        return self.anchors[-1]

    def sync(self, late_ms: int = 0) -> Anchor:
        """The post itself, which takes `late_ms` to arrive."""
        return Anchor(self.clocks(), self.true_ms + late_ms, len(self.saved))
