"""Failures of clocks, batches, age and the store.

Cases F34 to F49. Times are in UTC throughout, age is told from the moment of issue where it is
known, and what is too old or spoilt is withheld, with the reason.
"""

import threading
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction
from django.urls import reverse

from apps.weather import actions
from apps.weather.models import PACKED, ForecastRun, GridCell, HourlySeries, RefreshAttempt
from tests.factories import failing
from tests.factories import weather as made
from tests.factories.failing import LATER, NOW
from tests.standin import StandIn

pytestmark = pytest.mark.django_db


@pytest.fixture
def standin():
    with StandIn(now=NOW) as running:
        yield running


@pytest.fixture
def farm(standin):
    return failing.forecast(standin).begin()


@pytest.fixture
def us(standin):
    return failing.nws(standin).begin()


@pytest.fixture
def norway(standin):
    return failing.met_norway(standin).begin()


# Zone, the day of the change, its hours: west and east, spring and autumn (tz database 2025).
SPRING = [
    ("America/New_York", date(2026, 3, 8), 23),
    ("America/Vancouver", date(2026, 3, 8), 23),
    ("Europe/Helsinki", date(2026, 3, 29), 23),
]
AUTUMN = [
    ("America/New_York", date(2026, 11, 1), 25),
    ("America/Vancouver", date(2026, 11, 1), 25),
    ("Europe/Helsinki", date(2026, 10, 25), 25),
]


def days_about(standin, zone, change, before_hours):
    """The days as they are seen some hours before (or, negative, after) the change."""
    tz = ZoneInfo(zone)
    midnight = datetime.combine(change, datetime.min.time(), tz).astimezone(UTC)
    now = midnight + timedelta(hours=2) - timedelta(hours=before_hours)
    now = now.replace(minute=20)
    farm = failing.forecast(standin, 1)
    assert farm.ask(now).outcome == "ok"
    return {day.date: day for day in farm.row(now=now, tz=tz).days}


@pytest.mark.parametrize("before_hours", [96, 5, 1, -3, -20])
@pytest.mark.parametrize(("zone", "change", "hours"), SPRING)
def test_f34_spring_forward_leaves_a_day_of_23_hours(standin, zone, change, hours, before_hours):
    days = days_about(standin, zone, change, before_hours)
    assert (days[change].known_hours, days[change].full_hours) == (hours, hours)
    others = {day.full_hours for when, day in days.items() if when != change}
    assert others == {24}


@pytest.mark.parametrize("before_hours", [96, 5, 1, -3, -20])
@pytest.mark.parametrize(("zone", "change", "hours"), AUTUMN)
def test_f35_fall_back_leaves_a_day_of_25_hours(standin, zone, change, hours, before_hours):
    days = days_about(standin, zone, change, before_hours)
    assert (days[change].known_hours, days[change].full_hours) == (hours, hours)
    assert {day.full_hours for when, day in days.items() if when != change} == {24}


@pytest.mark.parametrize("seconds", [-1, 1])
def test_f36_about_midnight_utc_the_days_asked_for_are_those_of_our_clock(standin, seconds):
    midnight = datetime(2026, 3, 17, tzinfo=UTC) + timedelta(seconds=seconds)
    farm = failing.forecast(standin, 1)
    assert farm.ask(midnight).outcome == "ok"
    row = made.newest(midnight)[0]
    last = row.start_at + timedelta(hours=row.hours)
    # Fifteen days beyond the day of our clock, to its end.
    assert last == datetime(2026, 4, 1 if seconds < 0 else 2, tzinfo=UTC)
    assert farm.row(now=midnight).days[0].known_hours == 24


def test_f37_a_service_whose_day_is_behind_refuses_and_the_last_good_hours_stand(farm):
    after = datetime(2026, 3, 17, 0, 5, tzinfo=UTC)
    farm.standin.now = after - timedelta(hours=1)
    attempt = actions.refresh(now=after, sources=farm.sources, pace=made.QUICK)
    assert "out of allowed range" in attempt.detail
    assert (attempt.outcome, farm.held(after)) == ("failed", farm.before)


def test_f37_a_service_whose_clock_is_ahead_gives_the_right_hours(farm):
    farm.standin.now = LATER + timedelta(days=1)
    attempt = actions.refresh(now=LATER, sources=farm.sources, pace=made.QUICK)
    assert attempt.outcome == "ok"
    assert farm.row(now=LATER).days[0].date == date(2026, 3, 16)


def test_f38_one_bad_site_in_six_costs_only_itself(standin):
    farm = failing.forecast(standin, 6).begin()
    standin.bad_latitudes = frozenset({"44.0000"})
    attempt = farm.ask()
    ages = [farm.row(lot).staleness.words for lot in farm.lots]
    assert ages == ["fetched just now"] * 2 + ["fetched 6 h ago"] + ["fetched just now"] * 3
    assert (attempt.outcome, "Lot 2: " in attempt.detail) == ("partial", True)
    assert [seen.sites for seen in standin.seen[1:]] == [6, 1, 1, 1, 1, 1, 1]


def test_f38_the_bad_site_is_remembered_and_asked_about_apart(standin):
    farm = failing.forecast(standin, 6)
    standin.bad_latitudes = frozenset({"44.0000"})
    farm.ask(NOW)
    standin.seen.clear()
    farm.ask()
    assert [seen.sites for seen in standin.seen] == [5, 1]
    standin.bad_latitudes = frozenset()
    farm.ask(LATER + timedelta(hours=1))
    standin.seen.clear()
    # It answered, so it goes with the others again.
    assert farm.ask(LATER + timedelta(hours=2)).outcome == "ok"
    assert [seen.sites for seen in standin.seen] == [6]


def test_f39_a_thousand_and_one_sites_are_asked_in_groups(standin):
    pace = made.Pace(read_seconds=20)
    points = made.points(1001)
    outcome = made.fetch(made.provider(standin.url, pace=pace), points, seconds=60)
    assert (len(outcome.series), outcome.failure) == (1001, None)
    assert max(seen.sites for seen in standin.seen) <= 1000


@pytest.mark.parametrize(
    ("hours", "level", "words"),
    [
        (7, "fresh", "fetched 7 h ago"),
        (25, "old", "25 h old: go by it with care, and refresh"),
        (96, "withheld", "4 days old: too old to go by"),
    ],
)
def test_f40_age_is_said_and_after_three_days_the_days_are_withheld(farm, hours, level, words):
    now = NOW + timedelta(hours=hours)
    row = farm.row(now=now)
    assert (row.staleness.level, row.staleness.words) == (level, words)
    assert bool(row.days) is (level != "withheld")
    assert bool(farm.chances(now=now)) is (level != "withheld")


def test_f40_days_of_an_old_forecast_are_counted_from_today(farm):
    now = NOW + timedelta(hours=50)
    assert farm.row(now=now).days[0].date == date(2026, 3, 18)


def test_f41_a_reply_of_the_past_alone_keeps_the_last_good_hours(farm):
    farm.standin.fail("all_past")
    farm.kept(farm.ask(), "too_short")


def test_f42_a_table_of_runs_ahead_of_the_members_makes_them_no_younger(standin):
    farm = failing.ensemble(standin).begin()
    standin.frozen_runs_at = NOW
    attempt = farm.ask()
    sent = [seen.path for seen in standin.seen]
    # The table names a newer run, so the members are asked for; they are those that are held.
    assert sent.count("/v1/ensemble") == 2
    assert (attempt.outcome, farm.held()) == ("ok", farm.before)
    assert farm.row().staleness.words == "from last night, 11 h old"
    assert {row.checked_at for row in made.newest(LATER)} == {LATER}


def test_f42_while_no_newer_run_is_there_the_members_are_not_asked_for_again(standin):
    farm = failing.ensemble(standin).begin()
    assert farm.ask(NOW + timedelta(minutes=30)).detail.startswith("The services have nothing")
    assert [seen.path for seen in standin.seen].count("/v1/ensemble") == 1


def test_f43_an_old_answer_with_status_200_does_not_replace_a_newer_one(us):
    us.standin.fail("grid_old")
    attempt = us.ask()
    assert "before the one that is stored" in attempt.detail
    us.kept(attempt, "older_than_held", "issued 6 h ago")


def test_f43_the_age_of_an_answer_is_that_of_its_issue(standin):
    standin.fail("grid_old")
    farm = failing.nws(standin, 1)
    farm.ask(NOW)
    assert farm.row(now=NOW).staleness.words == "2 days old: go by it with care, and refresh"


def test_f44_a_time_of_issue_in_the_future_is_not_believed(us):
    us.standin.fail("grid_future")
    assert us.ask().outcome == "ok"
    assert us.row().staleness.words == "fetched just now"
    assert "issue_unknown" in {note["kind"] for note in newest_run().findings}


def test_f44_a_last_modified_in_the_future_is_sent_back_and_silences_nobody_for_days(norway):
    norway.standin.fail("future_validators")
    assert norway.ask().outcome == "ok"
    row = made.newest(LATER)[0]
    assert row.expires_at == LATER + timedelta(hours=6)
    norway.standin.recover()
    norway.ask(LATER + timedelta(hours=6, minutes=1))
    assert norway.standin.seen[-1].headers["If-Modified-Since"] == row.last_modified


def newest_run():
    return ForecastRun.objects.order_by("-fetched_at", "-pk")[0]


def test_f45_nothing_is_asked_of_met_norway_before_its_expiry(norway):
    asked = len(norway.standin.seen)
    assert norway.ask(NOW + timedelta(minutes=5)).outcome == "ok"
    assert (len(norway.standin.seen), norway.held()) == (asked, norway.before)


def test_f45_not_modified_keeps_the_hours_and_notes_that_they_were_checked(norway):
    HourlySeries.objects.update(expires_at=NOW)
    soon = NOW + timedelta(minutes=30)
    assert norway.ask(soon).outcome == "ok"
    assert norway.held() == norway.before
    assert {row.checked_at for row in made.newest(soon)} == {soon}
    # Its age is not renewed by that.
    assert norway.row(now=soon).staleness.words == "issued 1 h ago"


def test_f45_a_deprecated_answer_is_used_and_remarked_on(norway):
    norway.standin.fail("deprecated_203")
    assert norway.ask().outcome == "ok"
    assert norway.held() != norway.before
    assert {note["kind"] for note in newest_run().findings} == {"deprecated"}


@pytest.mark.parametrize(
    ("fault", "kind", "words"),
    [
        ("forbidden_403", "key_refused", "THAWLINE_CONTACT"),
        ("outside_422", "outside", "no forecast for this place"),
        ("page_400", "refused", "refused the question"),
    ],
)
def test_f45_a_refusal_of_met_norway_keeps_the_last_good_hours(norway, fault, kind, words):
    norway.standin.fail(fault)
    attempt = norway.ask()
    assert words in attempt.detail
    norway.kept(attempt, kind, "issued 6 h ago")


def test_f46_a_grid_that_has_moved_is_looked_up_anew(us):
    us.standin.office = "BUF"
    assert us.ask().outcome == "ok"
    assert {cell.grid[:3] for cell in GridCell.objects.all()} == {"BUF"}
    assert us.row().staleness.words == "issued 40 min ago"


def test_f46_a_redirect_on_the_same_host_is_followed(us):
    us.standin.fail("redirect_here")
    assert us.ask().outcome == "ok"
    assert us.row().staleness.words == "issued 40 min ago"


def test_f47_hours_spoilt_in_the_store_are_not_shown_and_the_next_refresh_mends_them(farm):
    spoilt = made.newest(LATER)[0]
    nonsense = (b"\x00\x00\x80\x7e" * spoilt.hours)[: spoilt.hours * PACKED.itemsize]
    HourlySeries.objects.filter(pk=spoilt.pk).update(packed=nonsense)
    row = farm.row(spoilt.woodlot)
    assert (row.days, row.problem[:17]) == ((), "Cannot be judged:")
    assert farm.chances(spoilt.woodlot) == []
    assert farm.row(farm.lots[1]).days
    farm.ask()
    assert farm.row(spoilt.woodlot).days


def test_f47_a_row_cut_short_is_refused_by_the_store(farm):
    row = made.newest(LATER)[0]
    with pytest.raises(IntegrityError), transaction.atomic():
        HourlySeries.objects.filter(pk=row.pk).update(packed=bytes(row.packed)[:-4])
    assert farm.held() == farm.before


@pytest.mark.django_db(transaction=True)
def test_f48_of_two_refreshes_at_once_one_asks_and_the_other_is_told(standin):
    farm, told, done = failing.forecast(standin, 1), [], threading.Event()
    inner = made.provider(standin.url)

    def slow(points):
        assert done.wait(20)
        return made.fetch(inner, points, now=NOW)

    source = made.source(made.Scripted(slow, inner.provenance))

    def one():
        try:
            told.append(actions.refresh(now=NOW, sources=[source]).outcome)
        except actions.AlreadyRefreshingError:
            told.append("told to look again")
        finally:
            done.set()
            connection.close()

    threads = [threading.Thread(target=one) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert told == ["told to look again", "ok"]
    assert (len(standin.seen), RefreshAttempt.objects.count()) == (1, 1)
    assert farm.row(now=NOW).days


def test_f49_after_a_restart_without_a_network_the_page_opens_and_says_how_old_it_is(
    standin, owner_client, settings
):
    farm = failing.forecast(standin)
    farm.ask(NOW - timedelta(hours=10))
    made.every_service_at(settings, "http://127.0.0.1:9")
    with pytest.raises(CommandError, match="could not be reached"):
        call_command("refresh_weather")
    page = owner_client.get(reverse("weather:outlook")).content.decode()
    assert "10 h old" in page
    assert "could not be reached" in page
    assert "Lot 1" in page
