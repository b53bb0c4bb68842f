"""A woodlot's lines against the usual advice: what is over, what could not be checked, and why.

Nothing is guessed: a line lacking a length, a fall, a diameter or a count is named as unchecked.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from apps.domain import line_path, tubing, vacuum
from apps.domain.errors import DomainError
from apps.operation.queries import Constants
from apps.woods.layout_advice import ADVICE, Advice
from apps.woods.models import Line, PumpHouse
from apps.woods.queries import TreeLine

LATERAL, MAINLINE = Line.Kind.LATERAL, Line.Kind.MAINLINE
WET, DRY = Line.Kind.WET, Line.Kind.DRY


@dataclass(frozen=True)
class Remark:
    """One thing the advice has against a line or a pump house, with both figures."""

    finding: str
    found: float | None
    limit: float | None
    advice: Advice


@dataclass
class Checked:
    """One line with what was found against it and what could not be asked."""

    row: TreeLine
    remarks: list[Remark] = field(default_factory=list)
    unchecked: list[str] = field(default_factory=list)
    air_m3_h: float | None = None

    def against(self, finding: str, found: float | None, limit: float | None = None) -> None:
        advice = ADVICE[finding, self.row.line.kind]
        self.remarks.append(
            Remark(finding, found, advice.limit if limit is None else limit, advice)
        )


@dataclass(frozen=True)
class House:
    """One pump house: the air its taps want, beside that of its pump where that is set."""

    house: PumpHouse | None
    taps: int
    uncounted: int
    need_m3_h: float
    pump_m3_h: float | None

    @property
    def short(self) -> bool:
        return self.pump_m3_h is not None and self.need_m3_h > self.pump_m3_h


@dataclass(frozen=True)
class Layout:
    lines: list[Checked]
    houses: list[House]

    @property
    def against(self) -> list[Checked]:
        return [one for one in self.lines if one.remarks]

    @property
    def unchecked(self) -> list[Checked]:
        return [one for one in self.lines if one.unchecked]


def check(rows: Sequence[TreeLine], settings: Constants) -> Layout:
    """Everything the advice has to say about these lines, in the order of the tree."""
    lines = [_line(row, settings) for row in rows]
    houses: defaultdict[PumpHouse | None, list[Checked]] = defaultdict(list)
    for one in lines:
        houses[one.row.pump_house].append(one)
    return Layout(lines, [_house(house, own, settings) for house, own in houses.items()])


def measured(line: Line) -> tuple[float | None, float | None]:
    """Length and fall, as written down or else as mapped; None where neither says."""
    path = tuple(tuple(point) for point in line.geometry or ())
    length_m = line.length_m
    if length_m is None and path:
        length_m = line_path.length_m(path)
    # The first point is the pump end: a line that falls towards it ends higher than it began.
    mapped_m = path[-1][2] - path[0][2] if path and line_path.has_heights(path) else None
    return length_m, mapped_m if line.fall_m is None else line.fall_m


def _line(row: TreeLine, settings: Constants) -> Checked:
    one = Checked(row)
    length_m, slope = _slope(one)
    if row.line.kind == LATERAL:
        _lateral(one, length_m, slope, settings)
    elif row.line.kind in (MAINLINE, WET):
        _carrier(one, length_m, slope, settings)
    return one


def _slope(one: Checked) -> tuple[float | None, float | None]:
    length_m, fall_m = measured(one.row.line)
    if length_m is None:
        one.unchecked.append("length and slope: no length is written down or mapped")
        return None, None
    try:
        # Level where the fall is unknown: a length that no line has is refused all the same.
        slope = tubing.slope_percent(fall_m or 0.0, length_m)
    except DomainError as refusal:
        one.unchecked.append(f"length and slope: {refusal}")
        return None, None
    if fall_m is None:
        one.unchecked.append("slope: no fall is written down or mapped")
        return length_m, None
    return length_m, slope


def _lateral(
    one: Checked, length_m: float | None, slope: float | None, settings: Constants
) -> None:
    most = settings.number("woods.taps_per_lateral")
    own = one.row.own
    if not own.known:
        one.unchecked.append("taps: nobody counted them")
    elif own.taps > most:
        # The owner's own most, which the settings page shows with its source.
        one.against("too many taps", own.taps, most)
    elif own.taps > tubing.layout.AIM_TAPS_PER_LATERAL:
        one.against("over the taps to aim for", own.taps)
    # Nought taps, as those were just held against the setting.
    _ground(one, tubing.check_lateral(0, length_m, slope), length_m, slope)


def _ground(
    one: Checked, findings: Sequence[str], length_m: float | None, slope: float | None
) -> None:
    for finding in findings:
        share = None if slope is None else slope / 100
        one.against(finding, length_m if finding == "too long" else share)


def _carrier(
    one: Checked, length_m: float | None, slope: float | None, settings: Constants
) -> None:
    # The published length is that of a mainline; a conductor is as long as the way to the pump.
    longest = length_m if one.row.line.kind == MAINLINE else None
    _ground(one, tubing.check_mainline(longest, slope), longest, slope)
    total = one.row.total
    for finding, most in _most_taps(one, slope, settings):
        if total.taps > most:
            one.against(finding, total.taps, most)
    if not total.complete:
        one.unchecked.append(f"taps: {total.lines_uncounted} lines are not counted yet")


def _most_taps(
    one: Checked, slope: float | None, settings: Constants
) -> Iterator[tuple[str, float]]:
    """Each limit on the taps of a mainline or wet conductor that can be worked out."""
    if one.row.line.kind == MAINLINE:
        yield "more taps than a mainline bears", settings.number("woods.main_taps")
    diameter_mm = one.row.line.diameter_mm
    if diameter_mm is None:
        one.unchecked.append("sap it carries: no diameter is written down")
    elif slope is None or slope <= 0:
        one.unchecked.append("sap it carries: that needs a slope downhill")
    else:
        peak = settings.number("woods.peak")
        try:
            capacity = tubing.mainline_capacity(diameter_mm, slope, peak_litres_per_tap_hour=peak)
        except DomainError as refusal:
            one.unchecked.append(f"sap it carries: {refusal}")
        else:
            yield "more sap than it carries", capacity.taps


def _house(house: PumpHouse | None, lines: Sequence[Checked], settings: Constants) -> House:
    per_cfm = settings.number("woods.taps_per_cfm")
    pump_m3_h = settings.own("woods.pump_m3_h")
    taps = sum(one.row.own.taps for one in lines)
    _conductors(lines)
    if pump_m3_h is not None and house is not None:
        _air(lines, pump_m3_h, per_cfm)
    return House(
        house=house,
        taps=taps,
        uncounted=sum(one.row.own.lines_uncounted for one in lines),
        need_m3_h=vacuum.pump_need_m3_h(taps, per_cfm),
        # Lines without a pump house have no pump to be held against.
        pump_m3_h=pump_m3_h if house is not None else None,
    )


def _conductors(lines: Sequence[Checked]) -> None:
    if any(one.row.line.kind == DRY for one in lines):
        return
    for one in lines:
        if one.row.line.kind == WET:
            one.against("no dry conductor beside it", None)


def _air(lines: Sequence[Checked], pump_m3_h: float, per_cfm: float) -> None:
    """Share the pump's air among the mainlines that reach it, and what each lets through."""
    roots = [one for one in lines if one.row.depth == 0 and one.row.line.kind == MAINLINE]
    try:
        shares = tubing.share_air_by_area(
            pump_m3_h, [one.row.line.diameter_mm or 0.0 for one in roots]
        )
    except DomainError:
        # One pipe unknown leaves every share unknown.
        for one in roots:
            one.unchecked.append("air: it is shared by diameter, and one here is not known")
        return
    for one, share_m3_h in zip(roots, shares, strict=True):
        _air_of(one, share_m3_h, per_cfm)


def _air_of(one: Checked, share_m3_h: float, per_cfm: float) -> None:
    length_m, _ = measured(one.row.line)
    if length_m is None:
        one.unchecked.append("air: no length is written down or mapped")
        return
    try:
        arriving = tubing.air_at_distance(one.row.line.diameter_mm or 0.0, length_m, share_m3_h)
    except DomainError as refusal:
        one.unchecked.append(f"air: {refusal}")
        return
    one.air_m3_h = arriving.air_m3_h
    served = vacuum.taps_served(arriving.air_m3_h, per_cfm)
    if one.row.total.taps > served:
        one.against("more taps than its air serves", one.row.total.taps, served)
