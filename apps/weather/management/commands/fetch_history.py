import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from apps.operation import clock
from apps.weather import actions_history as actions
from apps.weather.models import HistoryFetch
from apps.weather.queries.winters import WINTERS


class Command(BaseCommand):
    help = "Fetch the past winters still missing, the newest first; start it again to go on."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--winters", type=int, default=WINTERS, help="how many winters back")
        parser.add_argument(
            "--pause", type=float, default=2.0, metavar="SECONDS", help="rest between requests"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            fetched = actions.fetch_history(
                clock=clock.now,
                rest=lambda: time.sleep(options["pause"]),
                told=self._tell,
                winters=options["winters"],
            )
        except actions.HistoryRefused as refusal:
            raise CommandError(str(refusal)) from refusal
        if fetched.outcome == HistoryFetch.Outcome.STOPPED:
            raise CommandError(fetched.detail)
        self.stdout.write(fetched.detail)

    def _tell(self, done: actions.WinterFetched) -> None:
        self.stdout.write(
            f"winter {done.winter}: {done.stored} of {done.asked} woodlots, {done.left} to go"
        )
        for problem in done.problems:
            self.stdout.write(f"  {problem}")
        self.stdout.flush()
