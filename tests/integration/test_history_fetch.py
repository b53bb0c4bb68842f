"""Past winters come one request at a time, stay when something fails, and go on from there."""

from datetime import UTC, datetime, timedelta
from io import StringIO

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from apps.weather import actions_history as actions
from apps.weather.client import configured
from apps.weather.models import ArchiveWinter, HistoryFetch
from apps.weather.queries.winters import missing, wanted, winter_progress
from tests.factories import readings as made
from tests.factories.woods import woodlot

pytestmark = pytest.mark.django_db
NOW = made.NOW


def run(archive, *, now=NOW, rests=None, told=None, **options):
    return actions.fetch_history(
        clock=lambda: now,
        rest=lambda: rests is not None and rests.append(1),
        told=lambda done: told is not None and told.append(done),
        fetch=archive,
        **{"winters": 4} | options,
    )


def here():
    return sorted(ArchiveWinter.objects.values_list("woodlot__name", "winter"))


@pytest.mark.parametrize(
    ("now", "newest"),
    [
        ((2026, 3, 16), 2025),
        # 31 May is over on 2 June UTC; the archive runs up to eight days behind.
        ((2026, 6, 9), 2025),
        ((2026, 6, 10), 2026),
        ((2026, 12, 31), 2026),
    ],
)
def test_a_winter_is_wanted_once_it_is_over_and_in_the_archive(now, newest):
    winters = wanted(datetime(*now, tzinfo=UTC))
    assert (winters[0], winters[-1], len(winters)) == (newest, newest - 24, 25)


def test_one_request_a_winter_brings_every_woodlot_with_a_rest_between():
    for name in ("Beech Ledge", "Cold Brook"):
        woodlot(name)
    archive, rests, told = made.Archive(), [], []
    fetched = run(archive, rests=rests, told=told)
    assert archive.asked == [(year, 2, made.MODEL) for year in (2025, 2024, 2023, 2022)]
    assert len(rests) == 3
    assert len(here()) == 8
    assert [(done.winter, done.stored, done.left) for done in told] == [
        (2025, 2, 3),
        (2024, 2, 2),
        (2023, 2, 1),
        (2022, 2, 0),
    ]
    assert fetched.outcome == HistoryFetch.Outcome.DONE
    assert fetched.detail == "8 winters stored, 0 still to fetch."


def test_the_hours_asked_for_make_the_first_and_last_local_days_whole():
    lot = woodlot()
    run(made.Archive(), winters=1)
    row = ArchiveWinter.objects.get()
    assert row.start_at == datetime(2024, 11, 30, tzinfo=UTC)
    assert row.start_at + timedelta(hours=row.hours) == datetime(2025, 6, 2, tzinfo=UTC)
    assert (row.woodlot, row.known_hours, row.provider) == (lot, row.hours, "made-up")
    assert row.temps_c().tolist() == [-3.0] * row.hours


def test_what_came_before_a_failure_stays_and_the_next_run_goes_on_from_there():
    woodlot()
    until = NOW + timedelta(minutes=30)
    stopped = run(made.Archive(fails_at=3, not_before=until))
    assert stopped.outcome == HistoryFetch.Outcome.STOPPED
    assert "The archive asks us to wait. 2 winters came before that." in stopped.detail
    assert [winter for _, winter in here()] == [2024, 2025]
    with pytest.raises(actions.HistoryRefused, match=r"wait until 11:30"):
        run(made.Archive())
    resumed = made.Archive()
    run(resumed, now=until)
    assert [year for year, _, _ in resumed.asked] == [2023, 2022]
    assert [winter for _, winter in here()] == [2022, 2023, 2024, 2025]


def test_nothing_is_asked_once_all_is_here():
    woodlot()
    run(made.Archive())
    again = made.Archive()
    assert run(again).detail == "0 winters stored, 0 still to fetch."
    assert again.asked == []


def test_a_new_woodlot_is_asked_for_alone():
    woodlot("Beech Ledge")
    run(made.Archive(), winters=1)
    new = woodlot("Cold Brook")
    assert missing([new], NOW, 1) == {2025: [new]}
    archive = made.Archive()
    run(archive, winters=1)
    assert archive.asked == [(2025, 1, made.MODEL)]


def test_another_pinned_model_is_another_history(settings):
    woodlot()
    run(made.Archive(), winters=1)
    settings.WEATHER_ARCHIVE_MODEL = "era5_land"
    archive = made.Archive()
    run(archive, winters=1)
    assert archive.asked == [(2025, 1, "era5_land")]
    assert sorted(ArchiveWinter.objects.values_list("model", flat=True)) == [
        "era5_land",
        "era5_seamless",
    ]


@pytest.mark.parametrize(
    ("later", "asked"),
    [(timedelta(hours=23), 0), (timedelta(days=1), 1), (timedelta(days=60), 1)],
)
def test_a_winter_that_came_without_its_last_days_is_asked_for_again_a_day_later(later, asked):
    lot = woodlot()
    june = datetime(2026, 6, 10, 12, tzinfo=UTC)
    run(made.Archive(empty_tail_hours=48), now=june, winters=1)
    row = ArchiveWinter.objects.get()
    assert row.hours - row.known_hours == 48
    assert np.isnan(row.temps_c()[-48:]).all()
    again = made.Archive()
    run(again, now=june + later, winters=1)
    assert len(again.asked) == asked
    row.refresh_from_db()
    assert (row.known_hours == row.hours) == bool(asked)
    assert ArchiveWinter.objects.filter(woodlot=lot).count() == 1


def test_hours_missing_in_a_winter_long_past_are_not_asked_for_for_ever():
    woodlot()
    run(made.Archive(empty_tail_hours=48), winters=1)
    again = made.Archive()
    run(again, now=NOW + timedelta(days=2), winters=1)
    assert again.asked == []


def test_a_winter_mostly_empty_is_not_kept():
    woodlot()
    archive = made.Archive(empty_tail_hours=2000)
    fetched = run(archive, winters=1)
    assert here() == []
    assert "Tamarack Hollow: only 55% of the hours came." in fetched.detail


def test_a_place_the_archive_refuses_hinders_no_other():
    woodlot("Beech Ledge", latitude=44.0)
    woodlot("Cold Brook")
    told = []
    fetched = run(made.Archive(refuses=44.0), winters=1, told=told)
    assert here() == [("Cold Brook", 2025)]
    assert told[0].problems == ("Beech Ledge: No data here.",)
    assert "1 still to fetch. 2025: Beech Ledge: No data here." in fetched.detail


def test_two_fetches_at_once_are_one():
    woodlot()
    made.history_fetch(outcome="running", detail="")
    with pytest.raises(actions.HistoryRefused, match="being fetched already"):
        run(made.Archive())


@pytest.mark.parametrize("apart", [timedelta(minutes=-6), timedelta(minutes=1)])
def test_a_fetch_cut_off_with_its_process_holds_nobody_off(apart):
    woodlot()
    made.history_fetch(started_at=NOW + apart, outcome="running", detail="")
    assert run(made.Archive()).outcome == HistoryFetch.Outcome.DONE
    assert HistoryFetch.objects.filter(detail="Cut off with its process.").count() == 1


def test_a_fault_of_our_own_lets_the_next_one_in():
    woodlot()

    def broken(*args, **kwargs):
        raise RuntimeError("broken")

    with pytest.raises(RuntimeError):
        run(broken)
    assert HistoryFetch.objects.get().detail == "Stopped by a fault of our own."
    assert run(made.Archive()).outcome == HistoryFetch.Outcome.DONE


def test_without_a_woodlot_there_is_nobody_to_ask_for():
    with pytest.raises(actions.HistoryRefused, match="no woodlot"):
        run(made.Archive())


def test_progress_counts_the_wanted_winters_of_each_woodlot():
    done, begun = woodlot("Beech Ledge"), woodlot("Cold Brook")
    for winter in range(2001, 2026):
        made.archive_winter(done, winter)
    made.archive_winter(begun, 2025)
    # One of another model and one too old are no part of this history.
    made.archive_winter(begun, 2024, model="era5_land")
    made.archive_winter(begun, 2000)
    rows = winter_progress([done, begun], NOW)
    assert [(row.here, row.wanted, row.whole) for row in rows] == [(25, 25, True), (1, 25, False)]


def test_the_command_prints_each_winter_as_it_comes(monkeypatch, fixed_clock):
    woodlot()
    monkeypatch.setattr(configured, "fetch_archive", made.Archive())
    out = StringIO()
    call_command("fetch_history", "--winters=2", "--pause=0", stdout=out)
    assert out.getvalue().splitlines() == [
        "winter 2025: 1 of 1 woodlots, 1 to go",
        "winter 2024: 1 of 1 woodlots, 0 to go",
        "2 winters stored, 0 still to fetch.",
    ]


def test_the_command_says_what_stopped_it(monkeypatch, fixed_clock):
    woodlot()
    monkeypatch.setattr(configured, "fetch_archive", made.Archive(fails_at=1))
    with pytest.raises(CommandError, match="Stopped: The archive asks us to wait"):
        call_command("fetch_history", stdout=StringIO())
    assert here() == []


def test_the_command_says_why_it_did_not_ask(fixed_clock):
    with pytest.raises(CommandError, match="woodlot"):
        call_command("fetch_history", stdout=StringIO())


def test_the_command_prints_what_the_archive_refused_under_its_winter(monkeypatch, fixed_clock):
    far = woodlot("Far lot", latitude=44.7)
    woodlot()
    monkeypatch.setattr(configured, "fetch_archive", made.Archive(refuses=far.latitude))
    out = StringIO()
    call_command("fetch_history", "--winters=1", "--pause=0", stdout=out)
    first, problem, *_ = out.getvalue().splitlines()
    # Still to go, as it is asked for again the next time.
    assert first == "winter 2025: 1 of 2 woodlots, 1 to go"
    assert problem.startswith("  ")
    assert "No data here." in problem
