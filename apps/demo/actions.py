"""Turning the demo to another day."""

from contextlib import suppress
from datetime import datetime

from django.conf import settings
from django.db import transaction

from apps.demo.clock import STOPS
from apps.demo.generator.build import rebuild
from apps.demo.models import DemoClock
from apps.weather.actions import RefreshRefusedError, refresh


class NotTheDemo(RuntimeError):
    """Somebody's own records must never be replaced by the demo's."""


def turn_to(*, stop: str, chosen_at: datetime) -> None:
    """Set the clock to a stop and replace every record by those of the farm up to that day.

    NotTheDemo outside demo mode. The weather is read anew through the real client; where it does
    not answer, the demo has no forecast and its pages say so.
    """
    if not settings.THAWLINE_DEMO:
        raise NotTheDemo("Only the demo operation can be rebuilt.")
    moment = STOPS[DemoClock.Stop(stop)]
    # Records and clock together: a clock over another day's records would show nonsense.
    with transaction.atomic():
        rebuild(moment)
        DemoClock.objects.update_or_create(pk=1, defaults={"stop": stop, "chosen_at": chosen_at})
    # Outside the transaction: a slow service must not keep the database locked.
    with suppress(RefreshRefusedError):
        refresh(now=moment)
