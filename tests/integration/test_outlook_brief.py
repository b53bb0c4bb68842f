"""The morning brief: what it says with records and without, who gets it, and what is never told.

It is 16 March 2026, 07:00 in New York.
"""

import re
import smtplib
from datetime import timedelta
from io import StringIO

import pytest
from django.core import mail
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.operation.models import CrewMember
from apps.outlook.brief import readers, write
from tests.factories import leaks, sugarhouse, tapping, weather, woods
from tests.factories.operation import FIXED_NOW, crew, operation

pytestmark = pytest.mark.django_db
URL = reverse("outlook:brief")
HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def nothing_kept():
    cache.clear()


@pytest.fixture
def farm(db):
    return operation(name="Tamarack Hollow Sugaring")


@pytest.fixture
def ina(farm):
    owner = crew("ina", role="owner")
    CrewMember.objects.filter(pk=owner.pk).update(email="ina@tamarack.invalid")
    return owner


@pytest.fixture
def mail_is_set(settings, fixed_clock):
    settings.EMAIL_HOST = "mail.invalid"
    settings.EMAIL_HOST_PASSWORD = "not-for-any-log"


def text(farm, *, demo=False):
    return write(operation=farm, now=FIXED_NOW, demo=demo).text


def part(farm, heading, **changes):
    """The lines under one heading."""
    parts = text(farm, **changes).split("\n\n")
    (lines,) = [one for one in parts if one.startswith(heading + "\n")]
    return lines.split("\n")[1:]


def run_command(*words):
    out, err = StringIO(), StringIO()
    call_command("send_brief", *words, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


def forecast(lot, days=6):
    run = weather.run(fetched_at=FIXED_NOW - 2 * HOUR)
    hours = weather.freezing_and_thawing(days)
    midnight = FIXED_NOW.replace(hour=4) - timedelta(days=2)
    return weather.stored(run, lot, hours, start_at=midnight)


def test_it_opens_with_the_operation_and_its_own_hour(farm):
    brief = write(operation=farm, now=FIXED_NOW, demo=False)
    assert brief.subject == "Tamarack Hollow Sugaring: Monday 16 March"
    assert brief.text.startswith("Tamarack Hollow Sugaring, Monday 16 March, 07:00\n")


@pytest.mark.parametrize(
    ("heading", "line"),
    [
        ("FREEZE AND THAW", "Nothing to go by: none is stored. Refresh the weather."),
        ("WILL SAP RUN TODAY?", "No woodlots yet."),
        ("WALK NEXT", "No lines yet."),
        ("OPEN LEAKS", "None on record, which is not the same as tight."),
        ("TANKS", "No tanks yet."),
        ("TAPS", "0 set; none planned, so what is left is unknown."),
    ],
)
def test_an_empty_farm_is_told_what_is_not_known(farm, heading, line):
    assert part(farm, heading) == [line]


def test_the_weather_says_its_days_age_and_source(farm):
    forecast(woods.woodlot())
    lines = part(farm, "FREEZE AND THAW")
    # -5 and 6 C are 23 and 42.8 F.
    assert lines[0] == "Mon 16: freezes and thaws in 1 of 1 woodlots; low 23 °F, high 43 °F"
    assert len(lines) == 4
    assert "2 h" in lines[-1]
    assert lines[-1].endswith("Made by hand; made-up, by hand.")


def test_the_demo_says_that_its_weather_is_invented(farm):
    forecast(woods.woodlot())
    line = part(farm, "FREEZE AND THAW", demo=True)[-1]
    assert line.endswith("Demo weather, invented: decide nothing by it.")


def test_a_forecast_too_old_is_not_told_as_weather(farm):
    run = weather.run(fetched_at=FIXED_NOW - timedelta(days=4))
    hours = weather.freezing_and_thawing(12)
    weather.stored(run, woods.woodlot(), hours, start_at=FIXED_NOW - timedelta(days=4))
    (line,) = part(farm, "FREEZE AND THAW")
    assert "too old to go by" in line


def test_a_run_is_told_in_a_word_and_unknown_where_it_is(farm):
    forecast(woods.woodlot("Beech Ledge"))
    woods.woodlot("Cold Brook")
    lines = part(farm, "WILL SAP RUN TODAY?")
    assert re.fullmatch(r"Beech Ledge: (low|medium|high)", lines[0])
    assert lines[1] == "Cold Brook: unknown"


def test_lines_to_walk_come_with_what_they_lose(farm):
    lot = woods.woodlot()
    woods.pump_house(lot)
    poor = woods.line(lot, "7", planned_taps=300)
    woods.line(lot, "8", planned_taps=300)
    leaks.check(poor, "leak_left", vacuum_before_kpa=60.0)
    lines = part(farm, "WALK NEXT")
    assert re.fullmatch(r"Tamarack Hollow 7: [\d,]+ gal of sap a day; walked today", lines[0])
    assert lines[1].startswith("Tamarack Hollow 8: no reading yet, what it loses is unknown")
    assert lines[-1] == "1 of 2 lines worth a walk by this season's readings."


def test_open_leaks_are_counted_and_the_oldest_named(farm):
    lot = woods.woodlot()
    for number in range(6):
        leaks.check(woods.line(lot, str(number)), "leak_left", hours=200 - number)
    lines = part(farm, "OPEN LEAKS")
    assert len(lines) == 6
    assert lines[0] == "Tamarack Hollow 0: left 7 March 2026"
    assert lines[-1] == "6 in all, oldest first, by the checks."


def test_a_tank_says_what_it_held_when_and_when_it_is_full(farm):
    tank = sugarhouse.tank()
    sugarhouse.dip(tank, at=FIXED_NOW - 2 * HOUR, depth_mm=300.0)
    sugarhouse.dip(tank, at=FIXED_NOW - HOUR, depth_mm=400.0)
    # 78.5 L an hour; 97 % of 785 L less the 314 L at 06:00 is 448 L: 5.7 h, one of them gone.
    assert part(farm, "TANKS")[0] == "Round tank: 83 gal at 06:00 on Mon 16 March, full in 4.7 h"


def test_a_tank_never_dipped_is_unknown(farm):
    sugarhouse.tank()
    assert part(farm, "TANKS")[0] == "Round tank: no dip yet, level unknown"


def test_taps_left_are_planned_less_set(farm, ina):
    lot = woods.woodlot()
    line = woods.line(lot, "1", planned_taps=500)
    woods.line(lot, "2")
    tapping.tally(line, ina, taps_set=120)
    assert part(farm, "TAPS") == [
        "380 left: 120 set of 500 planned, season 2026.",
        "1 line has no planned taps and is not in it.",
    ]


def test_owners_with_an_address_read_it_and_nobody_else(farm, ina):
    crew("wren", role="owner")
    sol = crew("sol")
    gone = crew("marek", role="owner")
    CrewMember.objects.filter(pk__in=[sol.pk, gone.pk]).update(email="else@tamarack.invalid")
    CrewMember.objects.filter(pk=gone.pk).update(is_active=False)
    assert readers() == [ina]


def test_the_command_sends_one_mail_to_each_owner(ina, mail_is_set):
    wren = crew("wren", role="owner")
    CrewMember.objects.filter(pk=wren.pk).update(email="wren@tamarack.invalid")
    out, _ = run_command()
    assert out == "Sent to 2 owners.\n"
    addresses = [message.to for message in mail.outbox]
    assert addresses == [["ina@tamarack.invalid"], ["wren@tamarack.invalid"]]
    assert mail.outbox[0].subject == "Tamarack Hollow Sugaring: Monday 16 March"
    assert "FREEZE AND THAW" in mail.outbox[0].body


def test_without_mail_set_up_it_is_printed_and_said(ina, fixed_clock):
    out, err = run_command()
    assert "FREEZE AND THAW" in out
    assert err == "No mail is set up (THAWLINE_SMTP_URL): printed, not sent.\n"
    assert mail.outbox == []


def test_asked_to_print_it_sends_nothing(ina, mail_is_set):
    out, err = run_command("--print")
    assert ("FREEZE AND THAW" in out, err, mail.outbox) == (True, "", [])


def test_the_demo_never_sends(ina, mail_is_set, settings):
    settings.THAWLINE_DEMO = True
    _, err = run_command()
    assert "This is the demo" in err
    assert mail.outbox == []


def test_no_address_is_a_failure_and_says_what_to_do(farm, mail_is_set):
    crew("ina", role="owner")
    with pytest.raises(CommandError, match="add one under Crew"):
        run_command()


@pytest.mark.parametrize(
    "fault",
    [
        smtplib.SMTPAuthenticationError(535, b"not-for-any-log refused"),
        ConnectionRefusedError("mail.invalid"),
        TimeoutError(),
    ],
)
def test_a_mail_that_cannot_be_sent_tells_its_kind_and_no_secret(
    ina, mail_is_set, monkeypatch, fault
):
    def refuse(self, messages):
        raise fault

    monkeypatch.setattr("django.core.mail.backends.locmem.EmailBackend.send_messages", refuse)
    with pytest.raises(CommandError) as refusal:
        run_command()
    assert str(refusal.value) == f"The mail was not sent: {type(fault).__name__}."
    assert refusal.value.__cause__ is None


def page(client):
    return " ".join(client.get(URL).content.decode().split())


def test_the_page_shows_the_brief_as_it_is_sent(owner_client, farm):
    shown = owner_client.get(URL)
    assert shown.context["brief"].text == text(farm)
    assert "OPEN LEAKS" in shown.content.decode()


def test_the_page_says_that_no_mail_is_set_up(owner_client):
    assert "No mail is set up (THAWLINE_SMTP_URL)" in page(owner_client)


def test_the_page_names_who_is_sent_it_and_no_address(owner_client, owner, settings):
    settings.EMAIL_HOST = "mail.invalid"
    assert "no owner has an address" in page(owner_client)
    CrewMember.objects.filter(pk=owner.pk).update(email="ina@tamarack.invalid")
    assert "it sends this once a morning to Ina, from the hour under" in page(owner_client)
    assert "ina@tamarack.invalid" not in page(owner_client)


def test_an_owner_types_an_address_under_crew(owner_client, owner):
    change = reverse("operation:change_crew", args=[owner.pk])
    fields = {"role": "owner", "is_active": "on", "email": "ina@tamarack.invalid"}
    assert owner_client.post(change, fields).status_code == 302
    assert [one.email for one in readers()] == ["ina@tamarack.invalid"]
    refused = owner_client.post(change, fields | {"email": "ina at home"})
    assert "errorlist" in refused.content.decode()


def questions(client):
    cache.clear()
    with CaptureQueriesContext(connection) as seen:
        client.get(URL)
    return len(seen)


def fill(number):
    """A woodlot with a forecast, a line with an open leak, a tank with two dips."""
    lot = woods.woodlot(f"Lot {number}")
    run = weather.run(fetched_at=FIXED_NOW - HOUR, model=f"model {number}")
    weather.stored(run, lot, weather.freezing_and_thawing(6), start_at=FIXED_NOW)
    leaks.check(woods.line(lot, "1", planned_taps=10), "leak_left")
    tank = sugarhouse.tank(f"Tank {number}")
    for hours in (1, 2):
        sugarhouse.dip(tank, at=FIXED_NOW - hours * HOUR)


def test_questions_do_not_grow_with_the_farm(owner_client):
    fill(0)
    before = questions(owner_client)
    for number in range(1, 9):
        fill(number)
    assert questions(owner_client) == before


def dips(tank, *depths_mm):
    """An hour apart, the last an hour ago."""
    for number, depth_mm in enumerate(reversed(depths_mm), start=1):
        sugarhouse.dip(tank, at=FIXED_NOW - number * HOUR, depth_mm=depth_mm)


@pytest.mark.parametrize(
    ("depths_mm", "words"),
    [
        ((400.0,), "rate unknown"),
        ((400.0, 300.0), "not filling"),
        ((500.0, 960.0), "FULL BY NOW: look at it"),
    ],
)
def test_a_tanks_state_is_told_in_words(farm, depths_mm, words):
    dips(sugarhouse.tank(), *depths_mm)
    assert part(farm, "TANKS")[0].endswith(f", {words}")


def test_a_tank_hauled_from_since_is_to_be_dipped_again(farm):
    tank = sugarhouse.tank()
    dips(tank, 300.0, 400.0)
    sugarhouse.sap_in(woods.woodlot(), at=FIXED_NOW - HOUR / 2, from_tank=tank)
    assert part(farm, "TANKS")[0].endswith("hauled from since: dip again")


def test_a_woodlot_without_a_forecast_is_counted_beside_the_others(farm):
    forecast(woods.woodlot("Beech Ledge"))
    woods.woodlot("Cold Brook")
    lines = part(farm, "FREEZE AND THAW")
    assert "1 woodlot without a forecast that can be shown." in lines


def test_unknown_days_are_told_beside_the_known(farm):
    lot = woods.woodlot()
    row = forecast(lot)
    hours = row.temps_c()
    hours[:, 48:72] = 1.0  # the 16th: neither freezes nor thaws
    hours[:, 60] = float("nan")  # and one hour of it is not known
    type(row).objects.filter(pk=row.pk).update(packed=hours.astype("<f4").tobytes())
    first = part(farm, "FREEZE AND THAW")[0]
    assert first.startswith("Mon 16: freezes and thaws in 0 of 1 woodlots (1 unknown)")


def test_a_metric_farm_reads_its_own_units(farm):
    farm.unit_system = "metric"
    farm.save()
    forecast(woods.woodlot())
    assert "low -5.0 °C, high 6.0 °C" in part(farm, "FREEZE AND THAW")[0]


def test_the_hour_is_the_farms_own(farm):
    farm.time_zone = "America/Vancouver"
    farm.save()
    assert ", Monday 16 March, 04:00\n" in text(farm)


def test_members_give_the_run_a_percentage(farm):
    lot = woods.woodlot("Beech Ledge")
    run = weather.run(fetched_at=FIXED_NOW - HOUR, model="members")
    midnight = FIXED_NOW.replace(hour=4) - timedelta(days=2)
    hours = [weather.freezing_and_thawing(7)] * 12
    weather.stored(run, lot, hours, start_at=midnight)
    assert re.fullmatch(
        r"Beech Ledge: (low|medium|high) \(\d+ %\)", part(farm, "WILL SAP RUN TODAY?")[0]
    )


def test_no_line_is_longer_than_a_mail_likes(farm, ina):
    lot = woods.woodlot("Tamarack Hollow")
    forecast(lot)
    leaks.check(woods.line(lot, "7", planned_taps=300), "leak_left", vacuum_before_kpa=60.0)
    dips(sugarhouse.tank("Hollow tank"), 300.0, 400.0)
    # RFC 5322 (2008), 2.1.1: lines should be no more than 78 characters.
    assert max(map(len, text(farm).split("\n"))) <= 78
