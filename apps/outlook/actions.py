"""Sending the morning brief, once a day to each owner."""

import smtplib
from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.core.mail import EmailMessage
from django.db import IntegrityError, transaction

from apps.operation.models import CrewMember
from apps.outlook.brief import Brief
from apps.outlook.models import BriefSent

# Longer than any sending lasts: whoever claimed a mail before that has died.
CLAIM_LASTS = timedelta(minutes=30)


class BriefNotSent(Exception):
    """The mail server could not be reached or refused; those who lack the brief may be retried."""


def send_brief(
    *, brief: Brief, readers: Sequence[CrewMember], day: date, now: datetime
) -> list[CrewMember]:
    """Send a local day's brief to those who have not had it, and give them back.

    However often and by however many it is asked for, nobody is sent it twice; raises BriefNotSent
    at the first that fails.
    """
    sent = []
    for reader in readers:
        # Claimed before and not while it is sent: a mail server may take half a minute, in which
        # no check could be saved.
        claim = _claim(reader, day, now)
        if claim is None:
            continue
        try:
            # One mail each, so that nobody's address is shown to another.
            EmailMessage(brief.subject, brief.text, None, [reader.email]).send()
        except (smtplib.SMTPException, OSError) as error:
            claim.delete()
            # The kind of fault alone: a server's answer may repeat the name or more.
            raise BriefNotSent(f"The mail was not sent: {type(error).__name__}.") from None
        BriefSent.objects.filter(pk=claim.pk).update(sent_at=now)
        sent.append(reader)
    return sent


def _claim(reader: CrewMember, day: date, now: datetime) -> BriefSent | None:
    """The right to send it, or None where somebody has it or has sent it."""
    mine = BriefSent.objects.filter(reader=reader, day=day)
    mine.filter(sent_at__isnull=True, claimed_at__lt=now - CLAIM_LASTS).delete()
    try:
        # Of two that come at once the database lets one in.
        with transaction.atomic():
            return BriefSent.objects.create(reader=reader, day=day, claimed_at=now)
    except IntegrityError:
        return None
