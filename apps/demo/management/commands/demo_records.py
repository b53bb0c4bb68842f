"""The demo's records, made once and made anew on request."""

from argparse import ArgumentParser
from contextlib import suppress
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from apps.demo import actions, clock
from apps.demo.models import DemoClock
from apps.weather.actions import RefreshRefusedError, refresh


class Command(BaseCommand):
    help = "Fill an empty demo database, or replace its records."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--stop", choices=DemoClock.Stop.values, default="march")
        parser.add_argument("--fresh", action="store_true", help="replace what is there")

    def handle(self, *args: Any, **options: Any) -> None:
        if DemoClock.objects.exists() and not options["fresh"]:
            # Records of an earlier visit stay; only the weather service is a new one.
            with suppress(RefreshRefusedError):
                refresh(now=clock.demo_now())
            return
        try:
            actions.turn_to(stop=options["stop"], chosen_at=timezone.now())
        except actions.NotTheDemo as refusal:
            raise CommandError(str(refusal)) from refusal
