"""What may be written about tapping: tallies, pulled taps, first runs, the crew plan, snow."""

from collections.abc import Mapping
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from apps.domain.tapping import season_of
from apps.operation.models import CrewMember
from apps.tapping.models import CrewPlan, FirstRun, SnowDepth, TapPull, TapTally
from apps.tapping.queries import season_to_pull, season_to_tap
from apps.woods.models import Line, Woodlot


class TallyRefused(ValueError):
    """The tally is not this person's to take back."""


class FirstRunRefused(ValueError):
    """The season has another first run on record."""


def record_tally(
    *,
    uuid: UUID,
    line: Line,
    tallied_on: date,
    crew: CrewMember,
    now: datetime,
    taps_set: int = 0,
    drops_renewed: int = 0,
    pair_hours: float | None = None,
    finishes_line: bool = False,
    note: str = "",
) -> TapTally:
    """Count taps once: the same uuid sent again changes nothing and returns the first tally."""
    # Pressed with cold fingers and sent over a weak signal: the identifier makes two sends one.
    tally, _ = TapTally.objects.get_or_create(
        uuid=uuid,
        defaults={
            "line": line,
            # Worked out once and kept: sums need no calendar, and no later rule moves them.
            "season": season_to_tap(tallied_on),
            "tallied_on": tallied_on,
            "taps_set": taps_set,
            "drops_renewed": drops_renewed,
            "pair_hours": pair_hours,
            "finishes_line": finishes_line,
            "crew": crew,
            "note": note,
            "received_at": now,
        },
    )
    return tally


def void_tally(*, tally: TapTally, by: CrewMember, now: datetime) -> None:
    """Take a tally back: it stays in the history and leaves every sum. Twice is once."""
    if tally.crew_id != by.pk and not by.is_owner:
        raise TallyRefused(f"Only {tally.crew.shown_name} or an owner can take this tally back.")
    # Only while it stands: the first to take it back stays on record.
    TapTally.objects.standing().filter(pk=tally.pk).update(voided_at=now, voided_by=by)


def record_pull(
    *,
    uuid: UUID,
    line: Line,
    pulled_on: date,
    crew: CrewMember,
    received_at: datetime,
    taps_pulled: int = 0,
    finishes_line: bool = False,
    note: str = "",
) -> TapPull:
    """Count pulled taps once: the same uuid sent again changes nothing."""
    pull, _ = TapPull.objects.get_or_create(
        uuid=uuid,
        defaults={
            "line": line,
            "season": season_to_pull(pulled_on),
            "pulled_on": pulled_on,
            "taps_pulled": taps_pulled,
            "finishes_line": finishes_line,
            "crew": crew,
            "note": note,
            "received_at": received_at,
        },
    )
    return pull


def void_pull(*, pull: TapPull, by: CrewMember, at: datetime) -> None:
    """Take a count of pulled taps back: it stays in the history and leaves every sum."""
    if pull.crew_id != by.pk and not by.is_owner:
        raise TallyRefused(f"Only {pull.crew.shown_name} or an owner can take this count back.")
    TapPull.objects.standing().filter(pk=pull.pk).update(voided_at=at, voided_by=by)


@transaction.atomic
def record_first_run(*, date: date, woodlot: Woodlot | None = None) -> FirstRun:
    """Record the day sap was first gathered; the season follows from the date."""
    season = season_of(date)
    # The lookup and the insert are one transaction; the unique constraints decide a race.
    row, made = FirstRun.objects.get_or_create(
        season=season, woodlot=woodlot, defaults={"date": date}
    )
    # Never overwritten in passing: the start date of later seasons rests on it.
    if not made and row.date != date:
        whose = woodlot.name if woodlot else "the whole operation"
        raise FirstRunRefused(
            f"Season {season} already has {row.date:%-d %B %Y} on record for {whose}. "
            "Have an owner remove that date first."
        )
    return row


def remove_first_run(*, first_run: FirstRun) -> None:
    first_run.delete()


def save_crew_plan(
    *,
    season: int,
    pairs: int,
    hours_per_day: float,
    lost_days: int,
    rest_day: str,
    accept_missing: int,
    ready_morning: date | None,
) -> CrewPlan:
    """Keep how this season's tapping is to be worked, in place of the defaults."""
    # In place: a plan is a wish for the season, and only the last one counts.
    plan, _ = CrewPlan.objects.update_or_create(
        season=season,
        defaults={
            "pairs": pairs,
            "hours_per_day": hours_per_day,
            "lost_days": lost_days,
            "rest_day": rest_day,
            "accept_missing": accept_missing,
            "ready_morning": ready_morning,
        },
    )
    return plan


@transaction.atomic
def record_snow(*, depths_m: Mapping[int, float], seen_on: date) -> None:
    """Keep the snow seen on one day, by woodlot id; the same day seen again is a correction."""
    # All of the day or none of it, or half the woodlots would be left at last week's snow.
    for woodlot_id, depth_m in depths_m.items():
        SnowDepth.objects.update_or_create(
            woodlot_id=woodlot_id,
            seen_on=seen_on,
            defaults={"season": season_to_tap(seen_on), "depth_m": depth_m},
        )
