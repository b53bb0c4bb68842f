from typing import Any

from django.core.management.base import BaseCommand, CommandError

from apps.operation import clock
from apps.weather import actions
from apps.weather.models import RefreshAttempt


class Command(BaseCommand):
    help = "Ask for the forecast of every woodlot once; meant for a timer, every three hours or so."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            attempt = actions.refresh(now=clock.now())
        except actions.RefreshRefusedError as error:
            raise CommandError(str(error)) from error
        if attempt.outcome == RefreshAttempt.Outcome.FAILED:
            raise CommandError(attempt.detail)
        self.stdout.write(attempt.detail)
