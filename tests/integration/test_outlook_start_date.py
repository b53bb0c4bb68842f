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

from datetime import date
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.tapping.models import CrewPlan
from tests.factories import operation as people
from tests.factories import outlook as paper
from tests.factories import tapping, woods

pytestmark = pytest.mark.django_db
URL = reverse("outlook:start_date")


@pytest.fixture
def january(owner_client, settings):
    paper.stand_at(settings, paper.late_january)
    return owner_client


@pytest.fixture
def february(owner_client, settings):
    paper.stand_at(settings, paper.mid_february)
    return owner_client


@pytest.fixture
def lots(db):
    return paper.lots()


@pytest.fixture
def ten_seasons(db):
    paper.ten_seasons()


def text(response):
    return " ".join(response.content.decode().split())


def answer(response):
    return response.context["page"].answer


def headline(response):
    return response.context["verdict"].headline


def kinds(response):
    calendar = answer(response).back.calendar
    return [(day.date.day, day.kind) for day in calendar]


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
        "Counted back: start by Wed 18 February.",
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
    ("typed", "words"),
    [
        (
            {"ready": "2026-02-28"},
            "<strong>start by Mon 23 February</strong>. That would have missed 3 of 10 past",
        ),
        ({"start": "2026-03-09"}, '<span class="badge cold">tried</span>'),
    ],
)
def test_another_date_can_be_tried_and_moves_nothing(january, lots, ten_seasons, typed, words):
    before = january.get(URL)
    tried = january.get(URL, typed)
    assert words in text(tried)
    assert words not in text(before)
    assert answer(tried).back == answer(before).back
    assert headline(tried) == headline(before)
    assert not CrewPlan.objects.exists()


def test_a_morning_tried_without_first_runs_misses_nobody_knows_how_many(january, lots):
    page = text(january.get(URL, {"ready": "2026-02-24"}))
    assert "<strong>start by Wed 18 February</strong>. How many first runs" in page


@pytest.mark.parametrize("typed", ["2026-06-01", "2025-11-30", "soon"])
def test_a_date_outside_the_season_is_refused_and_kept(january, lots, ten_seasons, typed):
    response = january.get(URL, {"ready": typed})
    assert response.context["ask"].errors["ready"]
    assert f'value="{typed}"' in text(response)
    assert answer(response).back.start_date == date(2026, 2, 18)


def test_without_first_runs_it_says_what_is_missing_and_what_can_be_said(january, lots):
    page = text(january.get(URL))
    assert "Cannot say: there is neither a forecast nor a past first run to go by." in page
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
    assert f"Cannot say: {words}" in page


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
    assert "Cannot say: more than 120 days of work." in text(january.get(URL))


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
    paper.stand_at(settings, paper.summer)
    assert "When to start tapping, season 2026" in text(owner_client.get(URL))


def test_a_start_that_has_passed_is_counted_forward(owner_client, lots, ten_seasons):
    # Today is Monday 16 March: three days of work, ready on Thursday 19.
    page = text(owner_client.get(URL))
    assert "It will be late whatever you do: start Mon 16 March." in page
    assert "Counted back, the day to start was Wed 18 February, 26 days ago." in page
    assert "That day is past: the answer weighs what can still be done." in page


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
    assert "It will be late whatever you do: go on Mon 16 March." in page
    assert "every tap is in by the morning of Thu 19 March. Of 10 past first runs, 10" in page
    assert "The morning to be ready by was <strong>Tue 24 February</strong>" in page
    assert "the day to start was" not in page
    assert "Other start dates" not in page


def test_once_under_way_in_time_the_plan_still_counts_back(february, lots, ten_seasons, owner):
    tapping.tally(lots[0].lines.get(), owner, 200, tallied_on=date(2026, 2, 16))
    page = text(february.get(URL))
    # A tally of today spends it: three days from Tue 17.
    assert "every tap is in by the morning of Fri 20 February." in page
    assert "need every working day from Wed 18 February on" in page


def test_under_way_without_first_runs_the_end_can_still_be_said(february, lots, owner):
    tapping.tally(lots[0].lines.get(), owner, 200, tallied_on=date(2026, 2, 16))
    page = text(february.get(URL))
    assert "every tap is in by the morning of Fri 20 February." in page
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
    tapping.crew_plan(ready_morning=date(2026, 2, 24))
    response = january.get(URL)
    runs, ready, window = response.context["figure"].spec["data"]
    assert runs["x"][:2] == ["2026-03-03", "2026-02-18"]
    assert set(ready["x"]) == {"2026-02-24"}
    assert window["x"] == ["2026-02-18", "2026-02-23"]
    places = [run.this_season for run in response.context["page"].past_runs]
    assert [str(day) for day in places] == sorted(runs["x"])


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
