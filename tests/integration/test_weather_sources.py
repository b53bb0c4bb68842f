"""Which service is asked about which woodlot, in what order, and who is left alone."""

from dataclasses import replace
from datetime import timedelta

import pytest

from apps.weather import actions
from apps.weather.client import configured
from apps.weather.client.records import Finding, Provenance
from apps.weather.models import ForecastRun, SourceAttempt
from tests.factories import weather as made
from tests.factories.woods import woodlot
from tests.standin import StandIn

NOW = made.NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def lots():
    return [woodlot(f"Lot {number}", latitude=43.9 + number * 0.05) for number in range(3)]


def scripted(name, gives=(), *, host=None, **changes):
    """A provider that has hours for these woodlots."""
    provenance = Provenance(name, "forecast", f"{name} model", f"By {name}", "")

    def answer(points):
        asked = {point.site_id for point in points}
        series = {lot.pk: made.series(lot.pk, [1.0] * 48) for lot in gives if lot.pk in asked}
        refused = {
            pk: Finding("outside", "No forecast for this place.", pk) for pk in asked - set(series)
        }
        fields = {"series": series, "refused": refused, "provenance": provenance}
        return made.outcome(**fields | changes)

    provider = made.Scripted(answer, provenance)
    provider.host = host or name
    return provider


def refresh(*sources, now=NOW):
    return actions.refresh(now=now, sources=sources)


def asked(provider):
    return [sorted(point.site_id for point in points) for points, _ in provider.asked]


def outcomes(attempt):
    return [(row.provider, row.outcome) for row in attempt.sources.order_by("pk")]


def test_the_next_forecast_is_asked_only_for_woodlots_that_have_none_yet(lots):
    first, second, third = scripted("a", lots[:1]), scripted("b", lots[1:]), scripted("c", lots)
    attempt = refresh(*(made.source(one, key=str(one.host)) for one in (first, second, third)))
    assert asked(second) == [[lots[1].pk, lots[2].pk]]
    assert asked(third) == []
    assert outcomes(attempt) == [("a", "partial"), ("b", "ok")]


def test_the_ensembles_are_asked_for_all_and_the_first_forecast_too(lots):
    members = [scripted("a", lots), scripted("b", lots)]
    single, spare = scripted("c", lots), scripted("d", lots)
    attempt = refresh(
        made.source(*members, key="e", members=True),
        made.source(single, key="f"),
        made.source(spare, key="g"),
    )
    assert [len(one.asked) for one in (*members, single, spare)] == [1, 1, 1, 0]
    assert (attempt.outcome, ForecastRun.objects.count()) == ("ok", 3)


def failing(kind, **changes):
    return {"series": {}, "refused": {}, "failure": Finding(kind, "It failed."), **changes}


@pytest.mark.parametrize(
    ("kind", "asked_too"),
    [
        ("unreachable", 0),
        ("timed_out", 0),
        ("too_slow", 0),
        ("unavailable", 0),
        ("key_refused", 0),
        ("redirected", 0),
        # The fault of one model, or of one reply.
        ("bad_question", 1),
        ("not_json", 1),
    ],
)
def test_a_host_that_failed_is_not_asked_for_its_next_model(lots, kind, asked_too):
    first = scripted("a", host="h", **failing(kind))
    second, elsewhere = scripted("b", lots, host="h"), scripted("c", lots)
    attempt = refresh(
        made.source(first, second, key="e", members=True), made.source(elsewhere, key="f")
    )
    assert (len(second.asked), len(elsewhere.asked)) == (asked_too, 1)
    assert outcomes(attempt)[1] == ("b", "ok" if asked_too else "skipped")
    assert attempt.outcome == "partial"


def test_a_provider_that_asked_us_to_wait_is_left_alone_and_the_next_one_asked(lots):
    until = NOW + timedelta(hours=1)
    busy = scripted("a", **failing("rate_limited", not_before=until))
    spare = scripted("b", lots)
    sources = made.source(busy, key="e"), made.source(spare, key="f")
    refresh(*sources)
    attempt = refresh(*sources, now=NOW + timedelta(minutes=30))
    assert (len(busy.asked), len(spare.asked)) == (1, 2)
    skipped = attempt.sources.get(provider="a")
    assert (skipped.outcome, skipped.detail) == (
        "skipped",
        "Not asked: told to wait until 12:00 on 16 March.",
    )
    refresh(*sources, now=until)
    assert len(busy.asked) == 2


def test_told_to_wait_by_one_model_the_next_of_the_provider_is_not_asked(lots):
    busy = scripted("a", **failing("rate_limited", not_before=NOW + timedelta(hours=1)))
    same = scripted("a", lots, host="another")
    same.provenance = replace(same.provenance, model="second")
    attempt = refresh(made.source(busy, same, key="e", members=True))
    assert (same.asked, outcomes(attempt)) == ([], [("a", "failed"), ("a", "skipped")])


def test_when_the_time_of_a_refresh_is_over_nobody_else_is_asked(lots):
    late = scripted("b", lots)
    pace = replace(made.QUICK, refresh_seconds=0)
    attempt = actions.refresh(now=NOW, sources=[made.source(late)], pace=pace)
    assert (late.asked, outcomes(attempt)) == ([], [("b", "skipped")])
    assert "seconds of a refresh are over" in attempt.detail


def test_a_deadline_that_passes_just_then_is_the_services_failure_not_ours():
    with StandIn(now=NOW) as standin:
        outcome = made.fetch(made.ensemble(standin.url), made.points(1), seconds=0)
    assert (outcome.failure.kind, standin.seen) == ("too_slow", [])


def test_nothing_newer_anywhere_is_no_failure(lots):
    quiet = scripted("a", series={}, refused={})
    quiet.answer = made.outcome(
        {}, provenance=quiet.provenance, unchanged={lot.pk: None for lot in lots}
    )
    attempt = refresh(made.source(quiet))
    assert (attempt.outcome, outcomes(attempt)) == ("ok", [("a", "unchanged")])
    assert attempt.detail == "The services have nothing newer than what is stored."


def test_with_no_source_named_nobody_is_asked(lots, settings):
    settings.WEATHER_SOURCES = []
    with pytest.raises(actions.NoSourceError, match="names no service"):
        actions.refresh(now=NOW)


def test_the_settings_give_sources_hosts_and_models(settings):
    settings.WEATHER_ENSEMBLE_MODELS = ["ncep_gefs025", "cmc_gem_geps"]
    settings.WEATHER_NWS_URL = "https://grid.invalid"
    settings.WEATHER_CONTACT = made.CONTACT
    sources = configured.sources()
    assert [source.key for source in sources] == settings.WEATHER_SOURCES
    models = [one.provenance.model for source in sources for one in source.providers]
    assert models == ["ncep_gefs025", "cmc_gem_geps", "best_match", "forecast grid", "compact 2.0"]
    assert [source.members for source in sources] == [True, False, False, False]
    assert (sources[2].providers[0].host, sources[2].providers[0].contact) == (
        "grid.invalid",
        made.CONTACT,
    )


def test_every_source_answers_from_its_own_address(settings, lots):
    settings.WEATHER_CONTACT = made.CONTACT
    with StandIn(now=NOW) as standin:
        made.every_service_at(settings, standin.url)
        for key in ("nws", "met-norway"):
            settings.WEATHER_SOURCES = [key]
            assert actions.refresh(now=NOW).outcome == "ok"
    providers = set(ForecastRun.objects.values_list("provider", flat=True))
    assert providers == {"nws", "met-norway"}
    assert set(SourceAttempt.objects.values_list("outcome", flat=True)) == {"ok"}


def test_the_archive_is_asked_at_its_own_address(settings):
    with StandIn(now=NOW) as standin:
        settings.WEATHER_ARCHIVE_URL = standin.url
        first, last = NOW.date() - timedelta(days=400), NOW.date() - timedelta(days=380)
        outcome = configured.fetch_archive(made.points(1), first, last, "era5", now=NOW)
    assert outcome.series[7].temps_c.shape == (1, 21 * 24)
    assert standin.seen[0].path == "/v1/archive"
