"""Send the morning brief to the owners, or print it where no mail is set up."""

from argparse import ArgumentParser
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from apps.operation import clock
from apps.operation.queries import current_operation
from apps.outlook.actions import BriefNotSent, send_brief
from apps.outlook.brief import is_due, readers, write


class Command(BaseCommand):
    help = "Send the morning brief, once a day, to every owner with an address."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--print", action="store_true", help="print it and send nothing")
        parser.add_argument(
            "--when-due",
            action="store_true",
            help="for a timer: do nothing before the hour under Settings, or after noon",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        operation, now = current_operation(), clock.now()
        here = now.astimezone(ZoneInfo(operation.time_zone))
        if options["when_due"] and not (_may_be_sent() and is_due(here)):
            return
        brief = write(operation=operation, now=now, demo=settings.THAWLINE_DEMO)
        if options["print"] or not settings.EMAIL_HOST or settings.THAWLINE_DEMO:
            self.stdout.write(f"{brief.subject}\n\n{brief.text}")
            if not options["print"]:
                why = "This is the demo" if settings.THAWLINE_DEMO else "No mail is set up"
                self.stderr.write(f"{why} (THAWLINE_SMTP_URL): printed, not sent.")
            return
        owners = readers()
        if not owners:
            raise CommandError("No owner has an address: add one under Crew.")
        try:
            sent = send_brief(brief=brief, readers=owners, day=here.date(), now=now)
        except BriefNotSent as refusal:
            raise CommandError(str(refusal)) from None
        if sent:
            self.stdout.write(f"Sent to {len(sent)} owner{'' if len(sent) == 1 else 's'}.")
        else:
            self.stdout.write("Today's brief has gone out already; --print shows it.")


def _may_be_sent() -> bool:
    # What is missing is said on the brief's page, and not every ten minutes by a timer.
    return bool(settings.EMAIL_HOST and not settings.THAWLINE_DEMO)
