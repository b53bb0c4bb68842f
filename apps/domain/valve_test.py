"""Finding leaking lines with the valves of a manifold or along a mainline.

Formula: all valves shut gives P0, all open P1, only line i shut Pi; rise_i = Pi - P1, and at or
over 0.5 in the line leaks. Small leaks spread over lines called tight: P0 - (reading with every
leaking line shut). The pump's side: (ceiling - shortfall on a blanked port) - P0. Along a
mainline the middle valve is shut: if the gauge recovers the leak lies beyond it, else on the
pump side; n valves take at most ceil(log2(n + 1)) closings.
Units: gauge vacuum in kPa, compared at a thousandth of an inch of mercury so that inches typed
keep their side of the limit.
Validity: bisection follows one leak: where there are more, and the gauge is said to recover only
when it is back where it should be, the one nearest the pump. A frozen or still line gives
no verdict: silence means tight only while sap moves.
Source: the procedure and 0.5 in are common practice, no source; the count is binary search.

Open every valve again when the test ends: a line left shut gathers nothing and can burst when it
freezes.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from apps.domain.errors import DomainError, OutOfRange, require_range
from apps.domain.units import inhg_from_kpa, kpa_from_inhg

LEAK_RISE_KPA: Final = kpa_from_inhg(0.5)
INCH_DECIMALS = 3
OPEN_EVERY_VALVE = "Open every valve."

Verdict = Literal["leaks", "tight", "no verdict"]
Step = Literal["shut", "done"]


@dataclass(frozen=True, slots=True)
class LineReading:
    """Pump gauge with only this line shut; `sap_moves` False for a frozen or still line."""

    line_id: str
    only_shut_kpa: float | None
    sap_moves: bool = True


@dataclass(frozen=True, slots=True)
class ManifoldTest:
    """Readings of one valve test at a manifold.

    `leaking_shut_kpa` is taken with every leaking line shut, `blanked_port_kpa` at the pump alone
    with its port blanked; both may be unknown.
    """

    all_shut_kpa: float
    all_open_kpa: float
    lines: tuple[LineReading, ...]
    leaking_shut_kpa: float | None = None
    blanked_port_kpa: float | None = None
    leak_rise_kpa: float = LEAK_RISE_KPA

    def __post_init__(self) -> None:
        for name in ("all_shut_kpa", "all_open_kpa", "leaking_shut_kpa", "blanked_port_kpa"):
            if getattr(self, name) is not None:
                require_range(name, getattr(self, name), 0, 110)
        for line in self.lines:
            if line.only_shut_kpa is not None:
                require_range("only_shut_kpa", line.only_shut_kpa, 0, 110)
        require_range("leak_rise_kpa", self.leak_rise_kpa, 0.1, 50)


@dataclass(frozen=True, slots=True)
class LineVerdict:
    """What the test says of one line; `rise_kpa` is None where there was no reading."""

    line_id: str
    verdict: Verdict
    rise_kpa: float | None


@dataclass(frozen=True, slots=True)
class ManifoldResult:
    """Verdicts, leaking lines first by rise, then what is lost elsewhere (None if unknown).

    `small_leaks_kpa` is spread over lines called tight, `pump_side_kpa` lost between the pump and
    the manifold. `next_prompt` is what to do when leaving.
    """

    lines: tuple[LineVerdict, ...]
    small_leaks_kpa: float | None
    pump_side_kpa: float | None
    next_prompt: str


@dataclass(frozen=True, slots=True)
class Bisection:
    """A search along a mainline with `valves` valves, numbered from 1 at the pump.

    The stretches are numbered 0 (pump to valve 1) to `valves` (beyond the last valve); the leak
    lies between `first` and `last`. `stopped` is True after a reading without a verdict.
    """

    valves: int
    first: int
    last: int
    closings: int = 0
    stopped: bool = False

    @property
    def step(self) -> Step:
        """Shut the next valve, or done."""
        return "done" if self.stopped or self.first == self.last else "shut"

    @property
    def valve(self) -> int | None:
        """The valve to shut next, None when done: the middle of the stretches left."""
        # Rounded up: the halves differ by one stretch at most and a valve lies between them.
        return None if self.step == "done" else (self.first + self.last + 1) // 2

    @property
    def stretch(self) -> int | None:
        """The stretch that leaks once it is found, None before or without a verdict."""
        return self.first if self.first == self.last and not self.stopped else None

    @property
    def prompt(self) -> str:
        """What to do now, in words."""
        if self.valve is not None:
            return f"Shut valve {self.valve} and wait for the gauge to settle."
        return OPEN_EVERY_VALVE

    def record(self, recovers: bool | None) -> "Bisection":
        """The search after shutting `valve`; None when the line is frozen or still.

        Raises DomainError once the search is done.
        """
        valve = self.valve
        if valve is None:
            raise DomainError("the search is done: no valve is waiting for a reading")
        shut = replace(self, closings=self.closings + 1)
        if recovers is None:
            return replace(shut, stopped=True)
        # Shut valves keep the pump from all beyond them: recovery puts the leak out there.
        return replace(shut, first=valve) if recovers else replace(shut, last=valve - 1)


def judge_manifold(test: ManifoldTest) -> ManifoldResult:
    """Judge every line of a valve test, and say what is lost elsewhere.

    Raises DomainError when a line appears twice.
    """
    _refuse_twice([line.line_id for line in test.lines])
    verdicts = [_judge(line, test) for line in test.lines]
    # A line nobody could judge must not hide behind the sound ones.
    order = {"leaks": 0, "no verdict": 1, "tight": 2}
    verdicts.sort(key=lambda each: (order[each.verdict], -(each.rise_kpa or 0)))
    return ManifoldResult(
        lines=tuple(verdicts),
        small_leaks_kpa=_shortfall(test.all_shut_kpa, test.leaking_shut_kpa),
        pump_side_kpa=_pump_side(test),
        next_prompt=OPEN_EVERY_VALVE,
    )


def start_bisection(valves: int) -> Bisection:
    """A search along a mainline with this many valves; OutOfRange for fewer than 1."""
    require_range("valves", valves, 1, 10_000)
    if valves != int(valves):
        raise OutOfRange("valves", valves, 1, 10_000)
    return Bisection(valves=valves, first=0, last=valves)


def gauge_recovers(open_kpa: float, shut_kpa: float, leak_rise_kpa: float = LEAK_RISE_KPA) -> bool:
    """Whether shutting the valve raised the pump gauge by the limit or more."""
    require_range("open_kpa", open_kpa, 0, 110)
    require_range("shut_kpa", shut_kpa, 0, 110)
    return _reaches(shut_kpa - open_kpa, leak_rise_kpa)


def _judge(line: LineReading, test: ManifoldTest) -> LineVerdict:
    if line.only_shut_kpa is None:
        return LineVerdict(line.line_id, "no verdict", None)
    rise = line.only_shut_kpa - test.all_open_kpa
    # Still sap hides a leak and a freezing line fakes one: neither reading can be trusted.
    if not line.sap_moves:
        return LineVerdict(line.line_id, "no verdict", rise)
    return LineVerdict(
        line.line_id, "leaks" if _reaches(rise, test.leak_rise_kpa) else "tight", rise
    )


def _shortfall(all_shut_kpa: float, leaking_shut_kpa: float | None) -> float | None:
    # Under zero where the gauge drifted between readings: shown so, not smoothed away.
    return None if leaking_shut_kpa is None else all_shut_kpa - leaking_shut_kpa


def _pump_side(test: ManifoldTest) -> float | None:
    # Ceiling less the pump's own shortfall on a blanked port is that port's reading.
    return None if test.blanked_port_kpa is None else test.blanked_port_kpa - test.all_shut_kpa


def _reaches(rise_kpa: float, limit_kpa: float) -> bool:
    rise, limit = (round(inhg_from_kpa(kpa), INCH_DECIMALS) for kpa in (rise_kpa, limit_kpa))
    return rise >= limit


def _refuse_twice(line_ids: Sequence[str]) -> None:
    for line_id in line_ids:
        if line_ids.count(line_id) > 1:
            raise DomainError(f"line {line_id} must appear once in a valve test, not twice")
