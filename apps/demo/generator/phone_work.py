"""What the invented crew sends from its phones beside the checks: storms, pulled taps, notes.

Drawn from chances of its own, so that the walks and the sap of the story stay what they were.
"""

import random
from datetime import UTC, date, datetime, time, timedelta

from apps.demo.generator import farm
from apps.demo.generator.woods_work import Woods, at, new_uuid, position_on
from apps.leaks import actions as leaks
from apps.leaks.models import LeakCheck, Obstruction
from apps.operation.models import CrewMember
from apps.tapping import actions as tapping
from apps.tapping.queries import taps_set_by_line
from apps.woods import actions as woods_actions
from apps.woods.models import Line, Woodlot

# The mornings after: the wind itself came the evening before.
AFTER_THE_STORM = {
    2023: ((2, 24), (4, 6)), 2024: ((2, 29), (3, 23)), 2025: ((3, 6), (3, 31)),
    2026: ((2, 21), (3, 14)),
}  # fmt: skip
WORKS = ("hands",) * 5 + ("chainsaw",) * 4
WHAT = {
    "hands": ("Limb across, no weight on it", "Small fir, can be dragged", "Birch top on the wire"),
    "chainsaw": ("Ash across both lines", "Maple limb under tension", "Root plate"),
    "hung": ("Hung in the next crown. Stay out from under it.",),
}  # fmt: skip
# What two people pull in a day when nothing presses.
PULLED_A_DAY = 550
MEETING = date(2026, 3, 16)


def storms(woods: Woods) -> None:
    """After each storm a few lines lie under something; most of it is gone within the week."""
    for month, day in AFTER_THE_STORM[woods.season]:
        morning = date(woods.season, month, day)
        lines = woods.phones.sample([line for line, _ in woods.lines], 8)
        # One hung tree a storm, and it is left alone.
        works = ["hung", *(woods.phones.choice(WORKS) for _ in lines[1:])]
        for line, work in zip(lines, works, strict=True):
            _obstruction(woods, line, work, morning)


def _obstruction(woods: Woods, line: Line, work: str, morning: date) -> None:
    rng = woods.phones
    seen_at = at(morning, rng.randint(7, 11), rng.randrange(60))
    cleared_at = _cleared_at(rng, work, morning)
    if seen_at > woods.until:
        return
    row = leaks.record_obstruction(
        uuid=new_uuid(rng),
        line=line,
        work=work,
        seen_at=seen_at,
        # Sent from the truck, or once the ridge gave a signal.
        received_at=seen_at + timedelta(minutes=rng.choice((1, 40, 150))),
        crew=rng.choice(woods.crew),
        place_drops=rng.choice((None, rng.randint(1, 40))),
        note=rng.choice(WHAT[work]),
        position=position_on(woods, line),
    )
    if cleared_at <= woods.until:
        _clear(woods, row, cleared_at)


def _cleared_at(rng: random.Random, work: str, morning: date) -> datetime:
    days = {"hands": rng.randint(0, 1), "chainsaw": rng.randint(2, 5), "hung": 0}[work]
    # Nobody here fells a hung tree: somebody trained comes by in June.
    day = date(morning.year, 6, 10) if work == "hung" else morning + timedelta(days=days)
    return at(_working_day(day), rng.randint(13, 16), rng.randrange(60))


def _working_day(day: date) -> date:
    """The day itself, or the Monday after a Sunday."""
    return day + timedelta(days=day.weekday() == 6)


def _clear(woods: Woods, row: Obstruction, cleared_at: datetime) -> None:
    leaks.clear_obstruction(
        uuid=new_uuid(woods.phones),
        obstruction=row,
        cleared_at=cleared_at,
        received_at=cleared_at,
        crew=woods.phones.choice(woods.crew),
    )


def meet(woods: Woods) -> None:
    """One morning two of them come to one line: the first leaves a leak, the second mends it."""
    start, end = (datetime.combine(MEETING, time(hour), tzinfo=UTC) for hour in (10, 22))
    fixes = LeakCheck.objects.filter(state="leak_fixed", observed_at__range=(start, end))
    fix = fixes.select_related("line", "crew").order_by("observed_at").first()
    if fix is None:
        return
    first = next(person for person in woods.crew if person != fix.crew)
    seen_at = fix.observed_at - timedelta(minutes=35)
    leaks.record_check(
        uuid=new_uuid(woods.phones),
        line=fix.line,
        state="leak_left",
        observed_at=seen_at,
        received_at=seen_at + timedelta(minutes=50),
        crew=first,
        place_drops=fix.place_drops,
        note="No tee left in my bag",
        position=position_on(woods, fix.line),
    )


def pull(woods: Woods) -> None:
    """From early May on, line by line; a line too long for the day is finished the next."""
    left = taps_set_by_line(woods.season)
    day, room = _working_day(date(woods.season, 5, 4)), PULLED_A_DAY
    for line, _ in woods.lines:
        taps = left.get(line.pk, 0)
        while taps:
            out = min(taps, room)
            taps, room = taps - out, room - out
            _pull(woods, line, day, out, finishes=not taps)
            if not room:
                day, room = _working_day(day + timedelta(days=1)), PULLED_A_DAY


def _pull(woods: Woods, line: Line, day: date, taps: int, *, finishes: bool) -> None:
    rng = woods.phones
    moment = at(day, 15, rng.randrange(60))
    # Now and then a spout breaks off in the bark, and the line is called done all the same.
    broken = finishes and taps > 1 and rng.random() < 0.1
    if moment <= woods.until:
        tapping.record_pull(
            uuid=new_uuid(rng),
            line=line,
            pulled_on=day,
            crew=rng.choice(woods.crew),
            received_at=moment,
            taps_pulled=taps - broken,
            finishes_line=finishes,
            note="One broke off in the bark" if broken else "",
        )


def write_notes(until: datetime) -> None:
    rng = random.Random("notes")  # noqa: S311 - invented records, no secrets
    people = {person.username: person for person in CrewMember.objects.all()}
    for row in farm.rows("notes"):
        noted_at = at(date.fromisoformat(row["day"]), rng.randint(8, 16), rng.randrange(60))
        lot = Woodlot.objects.get(name=row["woodlot"]) if row["woodlot"] else None
        line = Line.objects.get(woodlot=lot, label=row["line"]) if row["line"] else None
        if noted_at <= until:
            woods_actions.record_note(
                uuid=new_uuid(rng),
                text=row["text"],
                noted_at=noted_at,
                received_at=noted_at,
                crew=people[row["person"]],
                woodlot=None if line else lot,
                line=line,
            )
