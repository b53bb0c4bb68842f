"""The start date on its page, against a calendar on paper.

The paper, for season 2026 (1 February a Sunday), at the default crew plan of 2 pairs, 6 hours,
2 lost days, Sundays off, accepting to miss 2 in 10:

    Tamarack Hollow   1,150 taps,  8 in. of snow: 1,150 / 100 = 11.5 pair-hours
    Beech Ridge       1,000 taps, 18 in.        : 1,000 /  80 = 12.5
    Swamp Lot           600 taps, 30 in.        :   600 /  60 = 10.0
    together 34.0 pair-hours / 12 a day = 2.83, so 3 working days; 5 with the lost ones

    First runs in order: 18 Feb (2017), 21 Feb (2018), 24 Feb (2020), 28 Feb (2023), ...
    The third earliest of ten is 24 February: ready that Tuesday morning, two of ten missed.

    Mon 23  tapping      Fri 20  tapping
    Sun 22  rest         Thu 19  lost
    Sat 21  tapping      Wed 18  lost, and the start
"""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.tapping.models import CrewPlan, SnowDepth
from tests.factories import operation as people
from tests.factories import tapping, weather, woods

pytestmark = pytest.mark.django_db
URL = reverse("outlook:start_date")
CREW_PLAN = reverse("outlook:crew_plan")
SNOW = reverse("outlook:snow")
FIRST_RUNS = [
    date(2016, 3, 2),
    date(2017, 2, 18),
    date(2018, 2, 21),
    date(2019, 3, 12),
    date(2020, 2, 24),
    date(2021, 3, 6),
    date(2022, 3, 1),
    date(2023, 2, 28),
    date(2024, 3, 3),
    date(2025, 3, 9),
]
INCH_M = 0.0254
MIDNIGHT = datetime(2026, 2, 16, 5, 0, tzinfo=UTC)  # of Monday 16 February in New York


def at(year, month, day) -> datetime:
    return datetime(year, month, day, 12, 0, tzinfo=UTC)


def late_january() -> datetime:
    return at(2026, 1, 26)


def mid_february() -> datetime:
    return at(2026, 2, 16)


def summer() -> datetime:
    return at(2025, 7, 4)


@pytest.fixture
def january(owner_client, settings):
    settings.THAWLINE_CLOCK = f"{__name__}.late_january"
    return owner_client


@pytest.fixture
def february(owner_client, settings):
    settings.THAWLINE_CLOCK = f"{__name__}.mid_february"
    return owner_client


@pytest.fixture
def lots(db):
    rows = []
    for name, taps, inches in [
        ("Tamarack Hollow", 1150, 8),
        ("Beech Ridge", 1000, 18),
        ("Swamp Lot", 600, 30),
    ]:
        lot = woods.woodlot(name)
        woods.line(lot, "1", planned_taps=taps)
        tapping.snow_depth(lot, inches * INCH_M, seen_on=date(2026, 1, 20))
        rows.append(lot)
    return rows


@pytest.fixture
def ten_seasons(db):
    for day in FIRST_RUNS:
        tapping.first_run(day)


def text(response):
    return " ".join(response.content.decode().split())


def answer(response):
    return response.context["page"].answer


def kinds(response):
    calendar = answer(response).back.calendar
    return [(day.date.day, day.kind) for day in calendar]


def forecast(lots, days, *, fetched_at=MIDNIGHT):
    """One run for all woodlots; `days` are whole days of hours from Monday 16 February."""
    run = weather.run(fetched_at=fetched_at)
    for lot in lots:
        weather.stored(run, lot, [hour for day in days for hour in day], start_at=MIDNIGHT)


def steady(temp_c) -> list[float]:
    return [temp_c] * 24


FREEZE_THAW = [-5.0] * 12 + [6.0] * 12


def test_the_start_date_is_that_of_the_calendar_on_paper(january, lots, ten_seasons):
    response = january.get(URL)
    back = answer(response).back
    assert back.start_date == date(2026, 2, 18)
    assert (back.pair_hours, back.working_days, back.lost_days) == (34.0, 3, 2)
    assert kinds(response) == [
        (18, "lost"),
        (19, "lost"),
        (20, "tapping"),
        (21, "tapping"),
        (22, "rest"),
        (23, "tapping"),
    ]


@pytest.mark.parametrize(
    "words",
    [
        "Start by Wed 18 February.",
        "2,750 taps left are 34 pair-hours of work, 3 working days of 12 pair-hours;",
        "2 more are allowed for weather; 1 day of rest is skipped.",
        "every tap is in by the morning of <strong>Tue 24 February</strong>",
        "the 3rd earliest of 10 first runs on record: accepting to miss 2 in 10 means 2 of 10",
        "would have missed 2 of 10 past first runs (2017, 2018).",
        "h) = 2.83, so <strong>3 working days</strong>",
        "80 an hour",
        "12.5",
        "There is no forecast in store.",
        "common practice, no source",
    ],
)
def test_the_page_says_the_answer_and_where_it_comes_from(january, lots, ten_seasons, words):
    assert words in text(january.get(URL))


def test_metric_operations_read_snow_in_centimetres(january, lots, ten_seasons):
    people.operation(unit_system="metric")
    page = text(january.get(URL))
    assert "46 cm" in page
    assert "Beech Ridge (cm)" in page


def test_every_shown_start_says_which_seasons_it_would_have_missed(january, lots, ten_seasons):
    rows = answer(january.get(URL)).others
    missed = {row.start: row.missed for row in rows}
    assert missed[date(2026, 2, 18)] == (2017, 2018)
    # A week later is Wed 25: five working days end on Mon 2 March, ready Tue 3. 2024's 3 March
    # lies after a 29 February, so its place is 4 March here.
    assert missed[date(2026, 2, 25)] == (2017, 2018, 2020, 2022, 2023)
    assert missed[date(2026, 2, 11)] == ()


@pytest.mark.parametrize(
    ("typed", "start", "words"),
    [
        ({"ready": "2026-02-28"}, date(2026, 2, 23), "the morning you typed to try."),
        ({"start": "2026-03-09"}, date(2026, 2, 18), "tried"),
    ],
)
def test_another_date_can_be_tried_without_saving(january, lots, ten_seasons, typed, start, words):
    response = january.get(URL, typed)
    assert answer(response).back.start_date == start
    assert words in text(response)
    assert not CrewPlan.objects.exists()


@pytest.mark.parametrize("typed", ["2026-06-01", "2025-11-30", "soon"])
def test_a_date_outside_the_season_is_refused_and_kept(january, lots, ten_seasons, typed):
    response = january.get(URL, {"ready": typed})
    assert response.context["ask"].errors["ready"]
    assert f'value="{typed}"' in text(response)
    assert answer(response).back.start_date == date(2026, 2, 18)


def test_without_first_runs_it_says_what_is_missing_and_what_can_be_said(january, lots):
    page = text(january.get(URL))
    assert "3 working days, but no date to be ready by." in page
    assert "No first run is on record." in page
    # Mon 26, Tue 27 and Wed 28 January.
    assert "tapping ends on <strong>Wed 28 January</strong>" in page


def test_without_first_runs_an_own_morning_still_gives_a_start(january, lots):
    tapping.crew_plan(ready_morning=date(2026, 2, 24))
    response = january.get(URL)
    assert answer(response).back.start_date == date(2026, 2, 18)
    assert "the morning set in the crew plan." in text(response)
    assert "is unknown: none is on record" in text(response)
    assert "unknown: none on record" in text(response)


@pytest.mark.parametrize("planned", [False, True])
def test_without_planned_taps_it_says_what_is_missing(january, ten_seasons, planned):
    if planned:
        woods.line(woods.woodlot(), "1")
    page = text(january.get(URL))
    words = "no line has planned taps" if planned else "there are no woodlots"
    assert f"Not known yet: {words}" in page


def test_lines_without_a_plan_are_left_out_and_said(january, lots, ten_seasons):
    woods.line(lots[0], "2")
    page = text(january.get(URL))
    assert "Tamarack Hollow (1 of 2 lines)" in page
    assert "the start can only be earlier" in page


def test_snow_nobody_saw_is_unknown_and_planned_as_deep(january, ten_seasons):
    woods.line(woods.woodlot(), "1", planned_taps=600)
    response = january.get(URL)
    assert answer(response).back.pair_hours == 10.0
    assert "as in deep snow" in text(response)


def test_a_mistyped_plan_is_not_counted_out_for_years(january, ten_seasons):
    woods.line(woods.woodlot(), "1", planned_taps=20000)
    tapping.crew_plan(pairs=1, hours_per_day=0.5)
    assert "More than 120 days of work." in text(january.get(URL))


def test_everything_tapped_is_said(january, lots, ten_seasons, owner):
    for lot in lots:
        tapping.tally(lot.lines.get(), owner, 0, finishes_line=True)
    assert "Every planned tap is in." in text(january.get(URL))


def test_a_woodlot_with_first_runs_of_its_own_shows_its_own_morning(january, lots, ten_seasons):
    for season in (2023, 2024, 2025):
        tapping.first_run(date(season, 2, season - 2010), woodlot=lots[1])
    page = text(january.get(URL))
    assert '<td class="day">Fri 13 Feb</td><td>0 of 3</td>' in page


def test_in_summer_the_season_to_come_is_planned(owner_client, settings, lots):
    settings.THAWLINE_CLOCK = f"{__name__}.summer"
    assert "When to start tapping, season 2026" in text(owner_client.get(URL))


def test_the_forecast_takes_the_place_of_the_lost_days(february, lots, ten_seasons):
    # Nothing cold up to 27 Feb: Mon 23, Sat 21, Fri 20, and no further day.
    forecast(lots, [steady(-6)] * 12)
    response = february.get(URL)
    assert kinds(response) == [(20, "tapping"), (21, "tapping"), (22, "rest"), (23, "tapping")]
    page = text(response)
    assert "it reaches to Fri 27 February" in page
    assert "No day up to then is ruled out by cold (under 10 °F" in page
    assert "Wind is not in the stored forecast, so wind chill is not known" in page


def test_days_ruled_out_by_cold_are_skipped_and_shown(february, lots, ten_seasons):
    # Thu 19, Fri 20 and Sat 21 at -20 C: tapping Mon 23, Wed 18, Tue 17.
    forecast(lots, [steady(-6)] * 3 + [steady(-20)] * 3 + [steady(-6)] * 6)
    response = february.get(URL)
    assert kinds(response) == [
        (17, "tapping"),
        (18, "tapping"),
        (19, "ruled out"),
        (20, "ruled out"),
        (21, "ruled out"),
        (22, "rest"),
        (23, "tapping"),
    ]
    assert "3 days the forecast rules out are skipped" in text(response)
    assert "Thu 19 Feb (warmest -4 °F)" in text(response)


def test_a_missing_hour_never_rules_a_day_out(february, lots, ten_seasons):
    holed = [-20.0] * 8 + [float("nan")] * 8 + [-20.0] * 8
    forecast(lots, [steady(-6)] * 3 + [holed] * 3 + [steady(-6)] * 6)
    assert answer(february.get(URL)).back.start_date == date(2026, 2, 20)


def test_a_stale_forecast_is_said_and_the_allowance_used(february, lots, ten_seasons):
    forecast(lots, [steady(-20)] * 12, fetched_at=mid_february() - timedelta(hours=73))
    response = february.get(URL)
    assert answer(response).back.start_date == date(2026, 2, 18)
    assert "No forecast fit to plan by: the newest is 3 days old" in text(response)


def test_a_woodlot_without_a_forecast_is_named(february, lots, ten_seasons):
    forecast(lots[:2], [steady(-6)] * 12)
    assert "Swamp Lot: No forecast yet" in text(february.get(URL))


def test_freeze_thaw_days_while_woods_stand_untapped_are_named(february, lots, ten_seasons):
    # Start Fri 20; Sat 21 freezes and thaws; the next day of work is Mon 23.
    forecast(lots, [steady(-6)] * 5 + [FREEZE_THAW] + [steady(-6)] * 6)
    response = february.get(URL)
    page = text(response)
    assert date(2026, 2, 23) in [row.start for row in answer(response).others]
    assert "<strong>Sat 21 Feb</strong> (Beech Ridge, Swamp Lot, Tamarack Hollow)" in page
    assert "Starting after them means Mon 23 February" in page


def test_days_of_unknown_thaw_and_days_beyond_the_forecast_are_said(february, lots, ten_seasons):
    holed = [float("nan"), *steady(-6)[1:]]
    forecast(lots, [steady(-6)] * 4 + [holed] + [steady(-6)])
    page = text(february.get(URL))
    # The forecast ends with Sat 21; the plan runs to Mon 23.
    assert "Not known, because hours are missing: Fri 20 Feb" in page
    assert "2 days of the plan lie beyond the forecast" in page


def test_a_start_that_has_passed_is_counted_forward(owner_client, lots, ten_seasons):
    # Today is Monday 16 March: three days of work, ready on Thursday 19.
    page = text(owner_client.get(URL))
    assert "The day to start was Wed 18 February, 26 days ago." in page
    assert "tapping ends on <strong>Wed 18 March</strong>" in page
    assert "morning of Thu 19 March. Of 10 past first runs, 10 came before" in page


def test_the_evening_goes_by_the_pace_and_hours_observed(february, lots, ten_seasons, owner):
    # 200 taps in 4 pair-hours on the one day so far: 50 an hour, 4 hours a day. Left there
    # 950 / 50 = 19, with 12.5 and 10: 41.5 pair-hours, 11 days from Tue 17, Sunday off.
    tapping.tally(lots[0].lines.get(), owner, 200, tallied_on=date(2026, 2, 16), pair_hours=4)
    forward = answer(february.get(URL)).forward
    assert (forward.work.pair_hours, forward.pair_hours_per_day) == (41.5, 4)
    assert (forward.from_day, forward.work.working_days) == (date(2026, 2, 17), 11)
    assert forward.work.finish_date == date(2026, 2, 28)


def test_once_under_way_and_late_only_what_lies_ahead_is_said(
    owner_client, lots, ten_seasons, owner
):
    # Today is Monday 16 March: 950 / 100 + 12.5 + 10 = 32 pair-hours, three days of 12.
    tapping.tally(lots[0].lines.get(), owner, 200)
    response = owner_client.get(URL)
    page = text(response)
    assert "Tapping is under way: all in by the morning of Thu 19 March." in page
    assert "The morning to be ready by was <strong>Tue 24 February</strong>" in page
    assert "The day to start was" not in page
    assert "Other start dates" not in page
    assert len(response.context["figure"].spec["data"]) == 2


def test_once_under_way_in_time_the_plan_still_counts_back(february, lots, ten_seasons, owner):
    tapping.tally(lots[0].lines.get(), owner, 200, tallied_on=date(2026, 2, 16))
    page = text(february.get(URL))
    assert "Tapping is under way: all in by the morning of Fri 20 February." in page
    assert "need every working day from Wed 18 February on" in page


def test_under_way_without_first_runs_the_end_can_still_be_said(february, lots, owner):
    tapping.tally(lots[0].lines.get(), owner, 200, tallied_on=date(2026, 2, 16))
    page = text(february.get(URL))
    assert "Tapping is under way" in page
    assert "so there is no date to be ready by" in page


def test_taps_left_after_the_first_run_are_called_what_they_are(
    owner_client, lots, ten_seasons, owner
):
    tapping.tally(lots[0].lines.get(), owner, 200)
    tapping.first_run(date(2026, 2, 26))
    page = text(owner_client.get(URL))
    assert "The first run has come; 2,550 taps are not set." in page
    assert "say so on the line" in page


def test_a_first_run_this_season_is_told_and_no_part_of_the_history(february, lots, ten_seasons):
    tapping.first_run(date(2026, 2, 15))
    response = february.get(URL)
    assert "Sap was first gathered this season on Sun 15 February" in text(response)
    assert len(response.context["page"].history) == 10


def test_the_picture_and_the_table_hold_the_same_dates(january, lots, ten_seasons):
    response = january.get(URL)
    runs, ready, window = response.context["figure"].spec["data"]
    assert runs["x"][:2] == ["2026-03-03", "2026-02-18"]
    assert set(ready["x"]) == {"2026-02-24"}
    assert window["x"] == ["2026-02-18", "2026-02-23"]
    places = [run.this_season for run in response.context["page"].past_runs]
    assert [str(day) for day in places] == sorted(runs["x"])


PLAN = {
    "pairs": "3",
    "hours_per_day": "5.5",
    "lost_days": "1",
    "rest_day": "none",
    "accept_missing": "0",
    "ready_morning": "",
}


def test_the_owner_saves_the_crew_plan_and_it_is_used(january, lots, ten_seasons):
    january.post(CREW_PLAN, PLAN)
    response = january.get(URL)
    # Ready on 18 Feb; 34 / 16.5 = 2.06, so 3 days and one lost: Sat 14, Sun 15, Mon 16, Tue 17.
    assert answer(response).back.start_date == date(2026, 2, 14)
    assert "As saved for this season." in text(response)


def test_saving_the_crew_plan_twice_keeps_one_row(january):
    for pairs in ("3", "4"):
        january.post(CREW_PLAN, PLAN | {"pairs": pairs})
    assert CrewPlan.objects.get().pairs == 4


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("pairs", "0"),
        ("pairs", "21"),
        ("hours_per_day", "0.4"),
        ("hours_per_day", "17"),
        ("lost_days", "-1"),
        ("lost_days", "31"),
        ("rest_day", "monday"),
        ("accept_missing", "10"),
        ("ready_morning", "2027-02-01"),
        ("ready_morning", "later"),
    ],
)
def test_a_crew_plan_that_cannot_be_is_refused_and_kept(january, field, typed):
    response = january.post(CREW_PLAN, PLAN | {field: typed})
    assert response.context["crew_form"].errors[field]
    assert 'value="5.5"' in text(response) or field == "hours_per_day"
    assert not CrewPlan.objects.exists()


def test_the_crew_reads_the_plan_and_does_not_change_it(crew_client, lots):
    assert "An owner changes these." in text(crew_client.get(URL))
    assert crew_client.post(CREW_PLAN, PLAN).status_code == 403
    assert not CrewPlan.objects.exists()


def test_snow_is_recorded_where_it_was_typed_and_nowhere_else(crew_client, lots):
    crew_client.post(SNOW, {"seen_on": "2026-03-15", f"snow_{lots[0].pk}": "24"})
    row = SnowDepth.objects.get(seen_on=date(2026, 3, 15))
    assert (row.woodlot, row.season) == (lots[0], 2026)
    assert row.depth_m == pytest.approx(24 * INCH_M)


def test_snow_typed_again_for_the_same_day_is_a_correction(crew_client, lots):
    for inches in ("24", "12"):
        crew_client.post(SNOW, {"seen_on": "2026-03-15", f"snow_{lots[0].pk}": inches})
    assert SnowDepth.objects.get(seen_on=date(2026, 3, 15)).depth_m == pytest.approx(0.3048)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"seen_on": "2026-03-17"}, "seen_on"),
        ({"seen_on": ""}, "seen_on"),
        ({"depth": "-1"}, "depth"),
        ({"depth": "200"}, "depth"),
        ({"depth": "deep"}, "depth"),
        ({"depth": ""}, "__all__"),
    ],
)
def test_snow_that_cannot_be_is_refused_and_kept(crew_client, lots, changes, field):
    typed = {"seen_on": "2026-03-15", "depth": "24"} | changes
    name = f"snow_{lots[0].pk}"
    response = crew_client.post(SNOW, {"seen_on": typed["seen_on"], name: typed["depth"]})
    assert response.context["snow_form"].errors[name if field == "depth" else field]
    assert typed["depth"] == "" or f'value="{typed["depth"]}"' in text(response)
    assert SnowDepth.objects.count() == 3


def test_the_page_costs_the_same_for_ten_lines_and_a_thousand(owner_client, lots, owner):
    counts = []
    for size in (10, 1000):
        for number in range(lots[0].lines.count(), size):
            line = woods.line(lots[0], f"L{number}", planned_taps=8)
            tapping.tally(line, owner, 4, uuid=uuid4())
        for season in range(2026 - size // 10, 2026):
            if season not in lots[1].first_runs.values_list("season", flat=True):
                tapping.first_run(date(season, 3, 1), woodlot=lots[1])
        with CaptureQueriesContext(connection) as captured:
            assert owner_client.get(URL).status_code == 200
        counts.append(len(captured))
    assert counts[0] == counts[1]


def test_a_stranger_is_sent_to_sign_in(client):
    assert client.get(URL).status_code == 302
