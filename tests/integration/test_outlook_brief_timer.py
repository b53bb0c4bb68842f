"""The brief goes out once a morning, whoever asks and however often."""

import smtplib
import sys
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction

from apps.operation.actions import change_setting
from apps.operation.models import CrewMember
from apps.outlook import actions
from apps.outlook.actions import BriefNotSent, send_brief
from apps.outlook.brief import Brief
from apps.outlook.models import BriefSent
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
BRIEF = Brief("Tamarack Hollow Sugaring: Monday 16 March", "WALK NEXT\n")
DAY = people.FIXED_NOW.date()
MINUTE = timedelta(minutes=1)


def an_owner(name):
    row = people.crew(name, role="owner")
    CrewMember.objects.filter(pk=row.pk).update(email=f"{name}@tamarack.invalid")
    row.refresh_from_db()
    return row


@pytest.fixture
def ina(db):
    people.operation()
    return an_owner("ina")


@pytest.fixture
def at(settings, monkeypatch):
    """Set the clock, a mail server being set up; and run the timer's command."""
    settings.EMAIL_HOST = "mail.invalid"
    settings.THAWLINE_CLOCK = f"{__name__}.moment"

    def run(moment_utc, *words):
        monkeypatch.setattr(sys.modules[__name__], "moment", lambda: moment_utc, raising=False)
        out = StringIO()
        call_command("send_brief", *words or ("--when-due",), stdout=out, stderr=out)
        return out.getvalue()

    return run


def utc(*when):
    return datetime(*when, tzinfo=UTC)


def send(readers, *, day=DAY, after=0 * MINUTE):
    return send_brief(brief=BRIEF, readers=readers, day=day, now=people.FIXED_NOW + after)


@pytest.mark.parametrize(
    ("moment_utc", "sent"),
    [
        # New York is UTC-4 in March once summer time has begun.
        (utc(2026, 3, 16, 8, 59), False),
        (utc(2026, 3, 16, 9, 0), True),
        (utc(2026, 3, 16, 15, 59), True),
        (utc(2026, 3, 16, 16, 0), False),
        (utc(2026, 3, 17, 3, 0), False),
        # UTC-5 the week before; and the night itself, whose third hour does not exist.
        (utc(2026, 3, 6, 9, 59), False),
        (utc(2026, 3, 6, 10, 0), True),
        (utc(2026, 3, 8, 8, 59), False),
        (utc(2026, 3, 8, 9, 0), True),
    ],
)
def test_it_goes_out_from_five_to_noon_by_the_farms_own_clock(ina, at, moment_utc, sent):
    at(moment_utc)
    assert len(mail.outbox) == sent


@pytest.mark.parametrize(("hours", "minute", "sent"), [(6.5, 29, 0), (6.5, 30, 1), (0, 0, 1)])
def test_the_hour_is_the_owners_to_choose(ina, at, hours, minute, sent):
    change_setting(key="outlook.brief_hour", value=hours, now=people.FIXED_NOW, by=ina)
    at(utc(2026, 3, 16, 10, minute))
    assert len(mail.outbox) == sent


def test_every_ten_minutes_through_a_morning_it_goes_out_once(ina, at):
    start = utc(2026, 3, 16, 4, 0)
    said = [at(start + n * 10 * MINUTE) for n in range(24 * 6)]
    assert len(mail.outbox) == 1
    # And the timer says nothing where there is nothing to say.
    assert [words for words in said if words] == ["Sent to 1 owner.\n"]


def test_the_next_morning_it_goes_out_again(ina, at):
    for day in (16, 17, 18):
        at(utc(2026, 3, day, 10, 0))
    assert [one.subject[-8:] for one in mail.outbox] == ["16 March", "17 March", "18 March"]


def test_by_hand_after_the_timer_it_is_not_sent_again(ina, at):
    at(utc(2026, 3, 16, 10, 0))
    said = at(utc(2026, 3, 16, 20, 0), "--verbosity=1")
    assert said == "Today's brief has gone out already; --print shows it.\n"
    assert len(mail.outbox) == 1


def test_by_hand_the_hour_does_not_matter(ina, at):
    assert at(utc(2026, 3, 16, 20, 0), "--verbosity=1") == "Sent to 1 owner.\n"


@pytest.mark.parametrize("missing", ["mail", "reader", "farm of its own"])
def test_a_timer_without_all_it_needs_is_silent(ina, at, settings, missing):
    if missing == "mail":
        settings.EMAIL_HOST = ""
    if missing == "reader":
        CrewMember.objects.update(email="")
    settings.THAWLINE_DEMO = missing == "farm of its own"
    assert at(utc(2026, 3, 16, 10, 0)) == ""
    assert mail.outbox == []


def test_an_address_added_in_the_morning_gets_it_still(ina, at):
    at(utc(2026, 3, 16, 10, 0))
    an_owner("wren")
    at(utc(2026, 3, 16, 10, 10))
    assert [one.to for one in mail.outbox] == [["ina@tamarack.invalid"], ["wren@tamarack.invalid"]]


@pytest.fixture
def refusing(monkeypatch):
    """A mail server that refuses one address as long as it is in the set."""
    refused = {"wren@tamarack.invalid"}
    taken = EmailBackend.send_messages

    def send_messages(self, messages):
        if refused & set(messages[0].to):
            raise smtplib.SMTPRecipientsRefused({})
        return taken(self, messages)

    monkeypatch.setattr(EmailBackend, "send_messages", send_messages)
    return refused


def test_a_refused_address_is_tried_again_and_nobody_else_gets_it_twice(ina, at, refusing):
    an_owner("wren")
    with pytest.raises(CommandError, match="SMTPRecipientsRefused"):
        at(utc(2026, 3, 16, 10, 0))
    refusing.clear()
    at(utc(2026, 3, 16, 10, 10))
    at(utc(2026, 3, 16, 10, 20))
    assert [one.to for one in mail.outbox] == [["ina@tamarack.invalid"], ["wren@tamarack.invalid"]]


def test_what_failed_leaves_no_trace_that_would_stop_the_next_try(ina, refusing):
    refusing.add(ina.email)
    with pytest.raises(BriefNotSent):
        send([ina])
    assert not BriefSent.objects.exists()


def test_a_mail_under_way_is_not_sent_beside(ina):
    BriefSent.objects.create(day=DAY, reader=ina, claimed_at=people.FIXED_NOW)
    assert send([ina], after=29 * MINUTE) == []
    assert mail.outbox == []


def test_a_mail_whose_sender_died_is_sent_after_half_an_hour(ina):
    BriefSent.objects.create(day=DAY, reader=ina, claimed_at=people.FIXED_NOW)
    assert send([ina], after=31 * MINUTE) == [ina]
    row = BriefSent.objects.get()
    assert row.sent_at == row.claimed_at == people.FIXED_NOW + 31 * MINUTE


def test_one_that_went_out_is_never_taken_for_one_left_behind(ina):
    send([ina])
    assert send([ina], after=600 * MINUTE) == []
    assert len(mail.outbox) == 1


def test_while_it_is_sent_the_database_is_free(ina, monkeypatch):
    """A slow mail server must not keep the phones' checks waiting."""
    open_at_sending = []

    def send_messages(self, messages):
        open_at_sending.append(len(transaction.get_connection().savepoint_ids))

    monkeypatch.setattr(EmailBackend, "send_messages", send_messages)
    before = len(transaction.get_connection().savepoint_ids)
    actions.send_brief(brief=BRIEF, readers=[ina], day=DAY, now=people.FIXED_NOW)
    assert open_at_sending == [before]


@pytest.mark.parametrize(
    ("rows", "name"),
    [
        (
            [{}, {"claimed_at": people.FIXED_NOW + MINUTE}],
            "brief_once_a_day_to_a_reader|UNIQUE.*day.*reader",
        ),
        ([{"sent_at": people.FIXED_NOW - MINUTE}], "brief_sent_after_it_was_claimed"),
    ],
)
def test_the_database_holds_it(ina, rows, name):
    given = {"day": DAY, "reader": ina, "claimed_at": people.FIXED_NOW}
    rows = [BriefSent(**given | row) for row in rows]
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        BriefSent.objects.bulk_create(rows)


def test_it_reads_as_the_day_and_the_reader(ina):
    row = BriefSent(day=DAY, reader=ina, claimed_at=people.FIXED_NOW)
    assert str(row) == "Brief of 2026-03-16 to ina"
