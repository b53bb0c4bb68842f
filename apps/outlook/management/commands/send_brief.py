"""Send the morning brief to the owners, or print it where no mail is set up."""

import smtplib
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.core.management.base import BaseCommand, CommandError

from apps.operation import clock
from apps.operation.queries import current_operation
from apps.outlook.brief import readers, write


class Command(BaseCommand):
    help = "Send the morning brief to every owner with an address; meant for a timer before dawn."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--print", action="store_true", help="print it and send nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        operation = current_operation()
        brief = write(operation=operation, now=clock.now(), demo=settings.THAWLINE_DEMO)
        if options["print"] or not settings.EMAIL_HOST or settings.THAWLINE_DEMO:
            self.stdout.write(f"{brief.subject}\n\n{brief.text}")
            if not options["print"]:
                why = "This is the demo" if settings.THAWLINE_DEMO else "No mail is set up"
                self.stderr.write(f"{why} (THAWLINE_SMTP_URL): printed, not sent.")
            return
        addresses = [owner.email for owner in readers()]
        if not addresses:
            raise CommandError("No owner has an address: add one under Crew.")
        # One mail each, so that nobody's address is shown to another.
        mails = [EmailMessage(brief.subject, brief.text, None, [one]) for one in addresses]
        try:
            get_connection().send_messages(mails)
        except (smtplib.SMTPException, OSError) as error:
            # The kind of fault alone: a server's answer may repeat the name or more.
            raise CommandError(f"The mail was not sent: {type(error).__name__}.") from None
        self.stdout.write(f"Sent to {len(addresses)} owner{'' if len(addresses) == 1 else 's'}.")
