"""The edges of what tapping takes, who may do what, and the order things are listed in."""

from datetime import UTC, date, datetime
from uuid import uuid4

import pytest
from django.urls import reverse

from apps.tapping import queries
from apps.tapping.forms import CrewPlanForm, FirstRunForm, SnowForm, TallyForm
from apps.tapping.models import FirstRun, TapTally
from tests.factories import operation as people
from tests.factories import tapping, woods
from tests.factories.operation import FIXED_NOW

pytestmark = pytest.mark.django_db
TODAY = date(2026, 3, 16)
PLAN = {
    "pairs": "2",
    "hours_per_day": "6",
    "lost_days": "2",
    "rest_day": "none",
    "accept_missing": "2",
}


@pytest.fixture
def hollow():
    return woods.woodlot("Tamarack Hollow")


@pytest.fixture
def line(hollow):
    return woods.line(hollow, "L7", planned_taps=120)


def text_of(response):
    return " ".join(response.content.decode().split())


def errors(form):
    return list(form.errors)


@pytest.mark.parametrize(
    ("field", "low", "high", "under", "over"),
    [
        ("taps_set", "0", "20000", "-1", "20001"),
        ("drops_renewed", "0", "20000", "-1", "20001"),
        ("pair_hours", "0.05", "24", "0", "24.1"),
    ],
)
def test_a_tally_is_taken_at_its_limits_and_refused_beyond(field, low, high, under, over):
    for typed, refused in [(low, []), (high, []), (under, [field]), (over, [field])]:
        data = {"uuid": str(uuid4()), "finishes_line": "on", field: typed}
        assert errors(TallyForm(data, today=TODAY)) == refused, typed


@pytest.mark.parametrize(
    ("field", "low", "high", "under", "over"),
    [
        ("pairs", "1", "20", "0", "21"),
        ("hours_per_day", "0.5", "16", "0.4", "16.1"),
        ("lost_days", "0", "30", "-1", "31"),
        ("accept_missing", "0", "9", "-1", "10"),
        ("rest_day", "saturday", "sunday", "", "monday"),
    ],
)
def test_a_crew_plan_is_taken_at_its_limits_and_refused_beyond(field, low, high, under, over):
    for typed, refused in [(low, []), (high, []), (under, [field]), (over, [field])]:
        assert errors(CrewPlanForm(PLAN | {field: typed}, season=2026)) == refused, typed


@pytest.mark.parametrize(
    ("unit_system", "high", "over"), [("metric", "500", "501"), ("us", "196.8", "196.9")]
)
def test_snow_is_taken_up_to_five_metres_in_either_unit(hollow, unit_system, high, over):
    name = f"snow_{hollow.pk}"
    for typed, refused in [("0", []), (high, []), (over, [name]), ("-1", [name]), ("deep", [name])]:
        data = {"seen_on": "2026-03-15", name: typed}
        form = SnowForm(data, woodlots=[hollow], today=TODAY, unit_system=unit_system)
        assert errors(form) == refused, typed


@pytest.mark.parametrize(
    ("seen_on", "field"), [("2026-03-16", []), ("2026-03-17", ["seen_on"]), ("", ["seen_on"])]
)
def test_snow_is_seen_by_today(hollow, seen_on, field):
    data = {"seen_on": seen_on, f"snow_{hollow.pk}": "10"}
    assert errors(SnowForm(data, woodlots=[hollow], today=TODAY, unit_system="us")) == field


def test_snow_of_no_woodlot_says_to_type_one(hollow):
    form = SnowForm({"seen_on": "2026-03-15"}, woodlots=[hollow], today=TODAY, unit_system="metric")
    assert form.non_field_errors() == ["Type the snow of at least one woodlot."]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("2025-06-10", "between December and May"),
        ("2025-11-30", "between December and May"),
        ("2026-03-17", "Must not be after today, 16 March 2026."),
        ("someday", "Enter a valid date."),
        ("", "This field is required."),
    ],
)
def test_a_first_run_that_cannot_be_is_named(typed, words):
    assert words in str(FirstRunForm({"ran_on": typed}, today=TODAY).errors["ran_on"])


def test_a_single_tap_is_a_count(line, crew):
    tapping.tally(line, crew, 1)
    assert queries.taps_set_by_line(2026) == {line.pk: 1}


@pytest.mark.parametrize("fields", [{"season": 2025}, {"voided_at": FIXED_NOW}])
def test_pace_and_day_leave_out_other_seasons_and_what_was_taken_back(line, crew, fields):
    tapping.tally(line, crew, 80, pair_hours=2)
    taken_back = {"voided_by": crew} if "voided_at" in fields else {}
    tapping.tally(line, crew, 500, pair_hours=1, **fields, **taken_back)
    assert queries.observed_pace_by_woodlot(2026) == {line.woodlot_id: 40}
    assert queries.observed_pair_hours_per_day(2026) == 2


def test_hours_without_a_tap_are_no_pace(line, crew):
    tapping.tally(line, crew, 0, drops_renewed=30, pair_hours=2)
    assert queries.observed_pace_by_woodlot(2026) == {}


def test_first_runs_are_listed_latest_season_first_the_operations_own_among_them(hollow):
    ridge = woods.woodlot("Beech Ridge")
    for season, lot in [(2023, None), (2025, hollow), (2025, ridge), (2024, hollow)]:
        tapping.first_run(date(season, 3, 1), woodlot=lot)
    listed = [(row.season, row.woodlot and row.woodlot.name) for row in queries.first_runs()]
    assert listed == [
        (2025, "Beech Ridge"),
        (2025, "Tamarack Hollow"),
        (2024, "Tamarack Hollow"),
        (2023, None),
    ]


def test_only_an_owner_takes_a_first_run_off_the_record(client, fixed_clock, crew, owner):
    row = tapping.first_run(date(2025, 3, 8))
    url = reverse("tapping:remove_first_run", args=[row.pk])
    client.force_login(crew)
    assert client.post(url).status_code == 403
    client.force_login(owner)
    assert client.get(url).status_code == 405
    assert FirstRun.objects.exists()
    assert client.post(url).status_code == 302
    assert not FirstRun.objects.exists()


def test_taking_a_date_off_the_record_takes_a_second_touch(owner_client):
    row = tapping.first_run(date(2025, 3, 8))
    page = text_of(owner_client.get(reverse("tapping:first_runs")))
    folded = page[page.index("<details> <summary>Remove") : page.rindex("</details>")]
    assert reverse("tapping:remove_first_run", args=[row.pk]) in folded
    assert page.index("Add a first run") < page.index("Latest season first")


def test_a_second_date_for_a_season_is_refused_on_the_page_and_keeps_what_was_typed(crew_client):
    url = reverse("tapping:first_runs")
    for day in ("2025-03-08", "2025-03-08"):
        assert crew_client.post(url, {"ran_on": day}).status_code == 302
    refused = crew_client.post(url, {"ran_on": "2025-03-10"})
    assert "already has 8 March 2025 on record" in text_of(refused)
    assert 'value="2025-03-10"' in text_of(refused)
    assert FirstRun.objects.get().date == date(2025, 3, 8)


@pytest.mark.parametrize("name", ["tally", "void", "remove_first_run"])
def test_what_is_not_there_is_not_found(owner_client, name):
    assert owner_client.post(reverse(f"tapping:{name}", args=[999])).status_code == 404


def test_taking_back_needs_a_touch_and_a_name(client, line, crew):
    url = reverse("tapping:void", args=[tapping.tally(line, crew).pk])
    assert client.post(url).status_code == 302
    client.force_login(crew)
    assert client.get(url).status_code == 405
    assert TapTally.objects.standing().exists()


# In New York it is still the 16th at 03:59 UTC on the 17th, and the 17th a minute later.
@pytest.mark.parametrize(
    ("utc", "day"),
    [((2026, 3, 17, 3, 59), date(2026, 3, 16)), ((2026, 3, 17, 4, 0), date(2026, 3, 17))],
)
def test_a_press_counts_for_the_day_it_is_in_the_woods(crew_client, line, monkeypatch, utc, day):
    monkeypatch.setattr(people, "FIXED_NOW", datetime(*utc, tzinfo=UTC))
    url = reverse("tapping:tally", args=[line.pk])
    crew_client.post(url, {"uuid": uuid4(), "taps_set": "5"})
    assert TapTally.objects.get().tallied_on == day


def test_a_press_on_the_last_of_may_is_for_this_season_and_on_the_first_of_june_for_the_next(
    crew_client, line, monkeypatch
):
    url = reverse("tapping:tally", args=[line.pk])
    for day in (1, 2):
        # 03:00 UTC: the evening before in the woods.
        monkeypatch.setattr(people, "FIXED_NOW", datetime(2026, 6, day, 3, 0, tzinfo=UTC))
        crew_client.post(url, {"uuid": uuid4(), "taps_set": "5"})
    seasons = TapTally.objects.order_by("pk").values_list("tallied_on", "season")
    assert list(seasons) == [(date(2026, 5, 31), 2026), (date(2026, 6, 1), 2027)]


def test_long_lists_of_lines_and_tallies_come_fifty_a_page(crew_client, hollow, line, crew):
    for number in range(100, 160):
        woods.line(hollow, f"X{number}", planned_taps=1)
    page = crew_client.get(reverse("tapping:progress"), {"page": "2"}).context["page"]
    assert (page.paginator.count, len(page)) == (61, 11)
    for _ in range(51):
        tapping.tally(line, crew, 1)
    last = crew_client.get(reverse("tapping:tally", args=[line.pk]), {"page": "no"})
    assert len(last.context["page"]) == 50
