"""Refreshing: one at a time, all or nothing per woodlot, and the last good hours always kept."""

import threading
from datetime import timedelta
from io import StringIO

import numpy as np
import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from apps.weather import actions, keeping
from apps.weather.client.records import Finding
from apps.weather.models import ForecastRun, HourlySeries, RefreshAttempt
from apps.woods.models import Woodlot
from tests.factories import weather as made
from tests.factories.invented_weather import InventedWeather
from tests.factories.woods import woodlot
from tests.standin import StandIn

NOW = made.NOW
LATER = NOW + timedelta(hours=6)

pytestmark = pytest.mark.django_db


@pytest.fixture
def standin():
    with StandIn(today=NOW.date()) as running:
        yield running


@pytest.fixture
def lots():
    return [woodlot(f"Lot {number}", latitude=43.9 + number * 0.05) for number in range(3)]


def refresh(standin, now=NOW):
    return ask(made.provider(standin.url), now)


def ask(provider, now=NOW):
    return actions.refresh(now=now, sources=[made.source(provider)])


def newest(now=LATER):
    return {row.woodlot_id: row for row in HourlySeries.objects.newest_per_model(now)}


def test_a_good_reply_is_stored_with_its_source(standin, lots):
    attempt = refresh(standin)
    run = ForecastRun.objects.get()
    assert (attempt.outcome, attempt.detail) == ("ok", "Fresh hours for all woodlots: 3.")
    assert (run.provider, run.product, run.model) == ("open-meteo", "forecast", "best_match")
    assert run.fetched_at == NOW
    assert "Open-Meteo" in run.attribution
    assert len(newest()) == 3


def test_the_hours_come_back_out_of_the_store_as_they_came_in(standin, lots):
    refresh(standin)
    row = newest()[lots[0].pk]
    point = actions.point_of(lots[0])
    said = made.fetch(made.provider(standin.url), [point]).series[point.site_id]
    assert row.start_at == said.start_at
    assert row.temps_c()[0] == pytest.approx(said.temps_c[0], abs=1e-4)
    assert row.elevation_used_m == said.elevation_used_m


def test_missing_hours_are_stored_as_missing(standin, lots):
    standin.fail("nulls_trailing")
    attempt = refresh(standin)
    row = newest()[lots[0].pk]
    assert np.isnan(row.temps_c()[0]).sum() == 24
    assert attempt.outcome == "ok"
    assert {note["kind"] for note in row.run.findings} == {"missing_hours"}


@pytest.mark.parametrize(
    ("fault", "kind"),
    [
        ("refuse_400", "refused"),
        ("bad_gateway", "unavailable"),
        ("cut_short", "cut_short"),
        ("page_200", "not_json"),
        ("mid_stream", "broken_off"),
        ("nulls_all", "all_missing"),
        ("nan_token", "not_json"),
        ("limit_hour", "rate_limited"),
        ("short_array", "wrong_count"),
        ("fahrenheit", "wrong_unit"),
    ],
)
def test_after_any_failure_the_last_good_hours_stand(standin, lots, fault, kind):
    refresh(standin)
    before = {pk: (row.run_id, bytes(row.packed)) for pk, row in newest().items()}
    standin.fail(fault)
    attempt = refresh(standin, LATER)
    after = {pk: (row.run_id, bytes(row.packed)) for pk, row in newest().items()}
    assert (attempt.outcome, after) == ("failed", before)
    assert {note["kind"] for note in attempt.sources.get().findings} == {kind}
    assert actions.KEPT in attempt.detail
    assert ForecastRun.objects.get().fetched_at == NOW


def test_with_every_provider_dead_the_attempt_says_so_and_nothing_else_changes(standin, lots):
    refresh(standin)
    attempt = ask(made.provider("http://127.0.0.1:9"), LATER)
    assert attempt.outcome == "failed"
    assert "could not be reached" in attempt.detail
    assert {row.run.fetched_at for row in newest().values()} == {NOW}


def test_one_site_refused_keeps_its_old_hours_and_the_others_get_new_ones(standin, lots):
    refresh(standin)
    standin.fail("nulls_one_site")
    attempt = refresh(standin, LATER)
    fetched = {pk: row.run.fetched_at for pk, row in newest().items()}
    assert fetched == {lots[0].pk: NOW, lots[1].pk: LATER, lots[2].pk: LATER}
    assert attempt.outcome == "partial"
    assert "Lot 0: Every hour is missing." in attempt.detail
    assert attempt.sources.get().findings[0]["woodlot"] == lots[0].pk


def test_a_bad_site_costs_only_itself(standin, lots):
    standin.bad_latitudes = frozenset({"43.9500"})
    attempt = refresh(standin)
    assert attempt.outcome == "partial"
    assert sorted(newest()) == [lots[0].pk, lots[2].pk]


def test_asked_to_wait_nobody_is_asked_until_then(standin, lots):
    standin.fail("limit_minute")
    first = refresh(standin)
    assert first.sources.get().not_before == NOW + timedelta(seconds=70)
    asked = len(standin.seen)
    with pytest.raises(actions.AskedToWaitError, match="wait until 11:01 on 16 March"):
        refresh(standin, NOW + timedelta(seconds=69))
    assert len(standin.seen) == asked
    standin.recover()
    assert refresh(standin, NOW + timedelta(seconds=70)).outcome == "ok"


def test_a_wait_from_after_the_clock_was_put_back_does_not_bind(standin, lots):
    standin.fail("limit_day")
    refresh(standin)
    standin.recover()
    assert refresh(standin, NOW - timedelta(hours=1)).outcome == "ok"


def test_a_second_refresh_is_refused_while_one_runs(lots):
    refused = []

    def meanwhile(points):
        with pytest.raises(actions.AlreadyRefreshingError) as caught:
            ask(made.Scripted(made.outcome()), NOW)
        refused.append(caught.value)
        return made.outcome({lots[0].pk: made.series(lots[0].pk, [1.0] * 48)})

    ask(made.Scripted(meanwhile), NOW)
    assert "already under way" in str(refused[0])
    assert RefreshAttempt.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_two_refreshes_at_the_same_moment_one_asks_and_the_other_is_told(lots):
    """Two connections to one database, as two processes have; not just two calls in one."""
    other_is_done, results = threading.Event(), []
    answer = made.outcome({lot.pk: made.series(lot.pk, [1.0] * 48) for lot in lots})

    def slow(points):
        assert other_is_done.wait(20)
        return answer

    provider = made.Scripted(slow)

    def one():
        try:
            results.append(ask(provider, NOW).outcome)
        except actions.AlreadyRefreshingError as error:
            results.append(type(error))
        finally:
            other_is_done.set()
            connection.close()

    threads = [threading.Thread(target=one) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert results == [actions.AlreadyRefreshingError, "ok"]
    assert len(provider.asked) == 1


@pytest.mark.parametrize("started", [NOW - timedelta(minutes=6), NOW + timedelta(days=50)])
def test_a_refresh_cut_off_with_its_process_does_not_lock_the_door_for_ever(lots, started):
    stuck = made.attempt(started_at=started, outcome="running", detail="")
    ask(InventedWeather(), NOW)
    stuck.refresh_from_db()
    assert (stuck.outcome, stuck.detail) == ("failed", f"Cut off. {actions.KEPT}")


def test_one_under_way_for_a_minute_still_holds_the_door(lots):
    made.attempt(started_at=NOW - timedelta(minutes=1), outcome="running", detail="")
    with pytest.raises(actions.AlreadyRefreshingError):
        ask(InventedWeather(), NOW)


def test_a_fault_of_our_own_is_recorded_and_goes_on_up(lots):
    with pytest.raises(ZeroDivisionError):
        ask(made.Scripted(ZeroDivisionError()), NOW)
    attempt = RefreshAttempt.objects.get()
    assert (attempt.outcome, attempt.detail[:7]) == ("failed", "Stopped")


def test_without_a_woodlot_nobody_is_asked():
    asked = made.Scripted(made.outcome())
    with pytest.raises(actions.NoWoodlotsError, match="add one first"):
        ask(asked, NOW)
    assert (asked.asked, RefreshAttempt.objects.count()) == ([], 0)


def test_a_woodlot_taken_out_meanwhile_is_left_out(lots):
    def meanwhile(points):
        Woodlot.objects.filter(pk=lots[0].pk).delete()
        return made.outcome(
            {lot: made.series(lot, [1.0] * 48) for lot in (p.site_id for p in points)}
        )

    ask(made.Scripted(meanwhile), NOW)
    assert sorted(newest()) == [lots[1].pk, lots[2].pk]


def test_the_store_is_all_or_nothing(lots):
    spoilt = made.series(lots[1].pk, [1.0] * 48, elevation_used_m=99_999.0)
    answer = made.outcome({lots[0].pk: made.series(lots[0].pk, [1.0] * 48), lots[1].pk: spoilt})
    with pytest.raises(Exception, match="elevation"):
        ask(made.Scripted(answer), NOW)
    assert (ForecastRun.objects.count(), HourlySeries.objects.count()) == (0, 0)
    assert RefreshAttempt.objects.get().outcome == "failed"


def runs_at(*moments):
    for moment in sorted(moments):
        ask(InventedWeather(), moment)
    return list(ForecastRun.objects.order_by("fetched_at").values_list("fetched_at", flat=True))


def test_every_run_of_the_last_three_days_is_kept(lots):
    moments = [NOW - timedelta(hours=6 * step) for step in range(13)]
    assert runs_at(*moments) == sorted(moments)
    assert HourlySeries.objects.count() == 13 * 3


def test_of_each_day_before_that_the_first_run_is_kept_for_thirty_days(lots):
    day = (NOW - timedelta(days=10)).replace(hour=5)
    early, late, next_day = day, day + timedelta(hours=18), day + timedelta(hours=20)
    assert runs_at(early, late, next_day, NOW) == [early, next_day, NOW]


def test_of_each_week_before_that_the_first_run_is_kept_for_good(lots):
    # 2 February 2026 is a Monday, and 43 days before the refresh.
    monday = NOW.replace(month=2, day=2)
    days = [monday + timedelta(days=day) for day in range(8)]
    assert runs_at(*days, NOW) == [monday, days[7], NOW]


def test_thinning_again_takes_nothing_more(lots):
    moments = [NOW - timedelta(hours=9 * step) for step in range(160)]
    kept = runs_at(*moments)
    keeping.thin(NOW)
    assert ForecastRun.objects.count() == len(kept)


def test_the_last_good_hours_of_a_woodlot_outlive_every_thinning(lots):
    ask(InventedWeather(), NOW)
    others = [lot.pk for lot in lots[1:]]
    scripted = InventedWeather.provenance
    for hour in (2, 1500, 1502):
        answer = made.outcome(
            {lot: made.series(lot, [1.0] * 48) for lot in others}, provenance=scripted
        )
        ask(made.Scripted(answer, scripted), NOW + timedelta(hours=hour))
    late = newest(NOW + timedelta(days=100))
    assert late[lots[0].pk].run.fetched_at == NOW
    # The other two keep only the newest beside the first of its week.
    assert HourlySeries.objects.filter(woodlot=lots[1]).count() == 3


def test_runs_from_after_a_clock_put_back_are_neither_shown_nor_pruned(lots):
    ask(InventedWeather(), LATER)
    ask(InventedWeather(), NOW)
    assert {row.run.fetched_at for row in newest(NOW).values()} == {NOW}
    assert ForecastRun.objects.count() == 2


def test_the_settings_name_service_key_and_contact(settings, standin):
    made.every_service_at(settings, standin.url)
    settings.WEATHER_API_KEY = "snow"
    settings.WEATHER_CONTACT = "ina@tamarack.invalid"
    woodlot()
    assert actions.refresh(now=NOW).outcome == "ok"
    assert standin.seen[0].headers["X-Api-Key"] == "snow"
    assert "ina@tamarack.invalid" in standin.seen[0].headers["User-Agent"]


def command():
    out = StringIO()
    call_command("refresh_weather", stdout=out)
    return out.getvalue()


def test_the_command_refreshes_by_the_clock_of_the_settings(settings, fixed_clock, lots, standin):
    made.every_service_at(settings, standin.url)
    assert "Fresh hours for all woodlots: 3." in command()
    # Three ensembles and the forecast.
    assert [run.fetched_at for run in ForecastRun.objects.all()] == [fixed_clock] * 4


def test_the_command_fails_loudly_when_nothing_came(settings, fixed_clock, lots):
    made.every_service_at(settings, "http://127.0.0.1:9")
    with pytest.raises(CommandError, match="could not be reached"):
        command()


def test_the_command_says_why_it_did_not_ask(fixed_clock):
    with pytest.raises(CommandError, match="add one first"):
        command()


def test_findings_name_the_whole_reply_or_one_site():
    finding = Finding("cut_short", "The answer was cut short.")
    assert keeping.noted(finding) == {
        "kind": "cut_short",
        "detail": "The answer was cut short.",
        "woodlot": None,
    }
