"""When a record from the woods was saved in truth, whatever the phone's clock said."""

from datetime import UTC, datetime

from apps.domain import phone_clock
from apps.domain.phone_clock import Anchor, Clocks
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("phone_clock", "The phone's clock")
RULES = "our own rules: common practice, no source"
MINUTE = 60_000
HOUR = 60 * MINUTE
SEVEN = round(datetime(2026, 3, 16, 7, tzinfo=UTC).timestamp() * 1000)


def _hour(at_ms: int) -> str:
    return f"{datetime.fromtimestamp(at_ms / 1000, UTC):%H:%M}"


def _minutes(ms: int) -> str:
    return f"{ms / MINUTE:+.0f} min"


@AREA.explain(
    "Anchor.offset_ms",
    "How far a phone's clock is off",
    formula="offset = the server's time − what the phone's clock shows at that moment",
    units="milliseconds",
    validity="to within the seconds an answer takes over a weak signal",
    source="the offset of NTP, RFC 5905 (2010), section 8, without its round trip",
    basis=Basis.PUBLISHED,
)
def offset() -> Worked:
    anchor = Anchor(Clocks(SEVEN - 47 * MINUTE), SEVEN, 0)
    return Worked(
        {"server": _hour(SEVEN), "phone": _hour(SEVEN - 47 * MINUTE)},
        {"offset": _minutes(anchor.offset_ms)},
    )


@AREA.explain(
    "correct Clocks.timer_gap_ms Corrected.worth_showing",
    "When a record was saved",
    formula="true time = the phone's clock + the offset, where the offset was the same before and "
    "after. Where somebody set the clock meanwhile, the page's own timer, which no setting moves, "
    "shows between which two records: the earlier offset holds before, the later one after",
    units="the time of day, by the server's clock; both clocks are kept with the record",
    validity="marked uncertain where the clock was set while the phone slept and nothing tells "
    "when. Shown on the phones' page when uncertain or over 5 minutes off. Time zones and summer "
    "time change nothing",
    source=RULES,
    basis=Basis.PRACTICE,
)
def corrected() -> Worked:
    # Set back by an hour between the two checks; awake for an hour, then asleep for three.
    saved = [
        Clocks(SEVEN + 30 * MINUTE, 30 * MINUTE, "page"),
        Clocks(SEVEN - 20 * MINUTE, 40 * MINUTE, "page"),
    ]
    before = Anchor(Clocks(SEVEN, 0, "page"), SEVEN, 0)
    sent = Anchor(Clocks(SEVEN + 3 * HOUR, HOUR, "page"), SEVEN + 4 * HOUR, 2)
    found = phone_clock.correct(saved, [before], sent)
    return Worked(
        {
            "clock on leaving": f"{_hour(SEVEN)}, right",
            "first check": f"{_hour(saved[0].wall_ms)} by the phone",
            "second check": f"{_hour(saved[1].wall_ms)} by the phone, its timer 10 minutes on",
            "clock on sending": f"{_hour(SEVEN + 3 * HOUR)}, an hour slow",
        },
        {
            f"check {place}": f"{_hour(one.at_ms)}, offset {_minutes(one.offset_ms)}, "
            f"{'' if one.is_certain else 'un'}certain, "
            f"{'worth' if one.worth_showing else 'not worth'} showing"
            for place, one in enumerate(found, start=1)
        },
    )


@AREA.explain(
    "is_too_old",
    "The oldest record taken in",
    formula="refused when received − saved > 400 days",
    units="days",
    validity="a phone found in a drawer keeps its records; they are saved again with a right clock",
    source=RULES,
    basis=Basis.PRACTICE,
)
def oldest() -> Worked:
    day = 24 * HOUR
    ages = {f"{days} days": phone_clock.is_too_old(SEVEN - days * day, SEVEN) for days in (30, 401)}
    return Worked(
        {"received": _hour(SEVEN)},
        {age: "refused" if too_old else "taken in" for age, too_old in ages.items()},
    )
