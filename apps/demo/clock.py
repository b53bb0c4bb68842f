"""The demo's time of day: it starts at the chosen stop and runs on as real time does.

It stands still after twelve hours, so that a demo left open for weeks still shows the day its
records were made for.
"""

from datetime import UTC, datetime, timedelta

from django.utils import timezone

from apps.demo.models import DemoClock

STOPS = {
    DemoClock.Stop.JANUARY: datetime(2026, 1, 28, 11, 30, tzinfo=UTC),
    DemoClock.Stop.MARCH: datetime(2026, 3, 16, 17, 30, tzinfo=UTC),
    DemoClock.Stop.MAY: datetime(2026, 5, 20, 13, 0, tzinfo=UTC),
}
LONGEST = timedelta(hours=12)


def moment(stop: str, since_chosen: timedelta) -> datetime:
    # Never before the stop: a computer's clock set back would reach into records to come.
    passed = min(max(since_chosen, timedelta(0)), LONGEST)
    return STOPS[DemoClock.Stop(stop)] + passed


def demo_now() -> datetime:
    row = DemoClock.objects.filter(pk=1).first()
    # Before the records are made there is still a page to show.
    if row is None:
        return STOPS[DemoClock.Stop.MARCH]
    return moment(row.stop, timezone.now() - row.chosen_at)
