"""Counting taps through the pages, whole and in fragments."""

from datetime import date
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.tapping.models import FirstRun, TapTally
from tests.factories import operation as people
from tests.factories import tapping, woods
from tests.factories.operation import FIXED_NOW

pytestmark = pytest.mark.django_db
PROGRESS = reverse("tapping:progress")
FIRST_RUNS = reverse("tapping:first_runs")


@pytest.fixture
def hollow(db):
    return woods.woodlot("Tamarack Hollow")


@pytest.fixture
def line(hollow):
    return woods.line(hollow, "L7", planned_taps=120)


def tally_url(line):
    return reverse("tapping:tally", args=[line.pk])


def send(client, line, **fields):
    return client.post(tally_url(line), {"uuid": uuid4(), **fields}, follow=True)


def text(response):
    return " ".join(response.content.decode().split())


def test_an_empty_operation_is_told_what_to_do_first(crew_client):
    assert "Add the woods first" in text(crew_client.get(PROGRESS))


def test_progress_shows_done_and_total(crew_client, line, crew):
    tapping.tally(line, crew, 45)
    page = text(crew_client.get(PROGRESS))
    assert "Tapping, season 2026" in page
    for cell in ("45", "120", "75", "0 of 1", "under way"):
        assert cell in page


def test_unknown_plan_is_said_and_not_shown_as_nought(crew_client, hollow):
    woods.line(hollow, "L1")
    page = text(crew_client.get(PROGRESS))
    assert "1 of 1 lines have no planned taps" in page
    # In the woodlot's row left, planned and pace; in the line's left and planned.
    assert page.count("unknown") == 5


def test_the_list_leaves_out_finished_lines_until_asked(crew_client, line, crew):
    tapping.tally(line, crew, 120)
    assert "L7" not in text(crew_client.get(PROGRESS))
    assert "L7" in text(crew_client.get(PROGRESS, {"everything": "on"}))


@pytest.mark.parametrize(
    ("wanted", "found"), [({"line": "l7"}, True), ({"line": "9"}, False), ({"woodlot": "0"}, True)]
)
def test_lines_are_found_by_label(crew_client, line, wanted, found):
    assert (">L7<" in text(crew_client.get(PROGRESS, wanted))) is found


def test_htmx_gets_the_lines_alone(crew_client, line):
    whole = crew_client.get(PROGRESS)
    part = crew_client.get(PROGRESS, headers={"HX-Request": "true"})
    assert text(part).startswith('<section id="lines"')
    assert 'id="lines"' in text(whole)
    assert "HX-Request" in whole.headers["Vary"]


@pytest.mark.parametrize("path", ["progress", "tally", "first_runs"])
def test_a_stranger_is_sent_to_sign_in(client, line, path):
    url = tally_url(line) if path == "tally" else reverse(f"tapping:{path}")
    assert client.get(url).status_code == 302


def test_a_quick_count_is_one_press(crew_client, line, crew):
    page = send(crew_client, line, taps_set="10")
    row = TapTally.objects.get()
    assert (row.taps_set, row.crew, row.season) == (10, crew, 2026)
    assert (row.tallied_on, row.received_at) == (date(2026, 3, 16), FIXED_NOW)
    assert text(page).count("Counted on line L7: 10 taps.") == 1


def test_the_page_counts_without_scripts(crew_client, line):
    page = text(crew_client.get(tally_url(line)))
    for taps in (1, 5, 10, 25):
        assert f'type="submit" name="taps_set" value="{taps}"' in page


def test_the_same_press_sent_twice_is_counted_once(crew_client, line):
    same = uuid4()
    for _ in range(2):
        send(crew_client, line, uuid=same, taps_set="5")
    assert TapTally.objects.get().taps_set == 5


def test_every_page_brings_a_new_identifier(crew_client, line):
    first, second = (
        crew_client.get(tally_url(line)).context["form"].initial["uuid"] for _ in range(2)
    )
    assert first != second


def test_a_full_tally_keeps_what_was_typed(crew_client, line):
    send(
        crew_client,
        line,
        taps_set="62",
        drops_renewed="8",
        pair_hours="1.5",
        tallied_on="2026-02-20",
        finishes_line="on",
        note="2 dead maples passed over",
    )
    row = TapTally.objects.get()
    assert (row.taps_set, row.drops_renewed, row.pair_hours) == (62, 8, 1.5)
    assert (row.finishes_line, row.tallied_on) == (True, date(2026, 2, 20))
    assert row.note == "2 dead maples passed over"


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"taps_set": "-3"}, "taps_set", "greater than or equal to 0"),
        ({"taps_set": "twelve"}, "taps_set", "whole number"),
        ({"taps_set": "20001"}, "taps_set", "less than or equal to 20000"),
        ({"taps_set": "5", "pair_hours": "25"}, "pair_hours", "less than or equal to 24"),
        ({"taps_set": "5", "pair_hours": "nan"}, "pair_hours", "Enter a number"),
        ({"taps_set": "5", "tallied_on": "2026-03-17"}, "tallied_on", "not be after today"),
        ({"taps_set": ""}, "taps_set", "Type the taps set"),
        ({"taps_set": "5", "uuid": "x"}, "uuid", "valid UUID"),
    ],
)
def test_bad_input_is_named_at_its_field_and_kept(crew_client, line, typed, field, words):
    response = send(crew_client, line, note="by the creek", **typed)
    assert words in str(response.context["form"].errors[field])
    assert 'value="by the creek"' in text(response)
    assert not TapTally.objects.exists()


def test_a_tally_taken_back_stays_in_the_history(crew_client, line, crew):
    row = tapping.tally(line, crew, 100)
    page = crew_client.post(reverse("tapping:void", args=[row.pk]), follow=True)
    row.refresh_from_db()
    assert (row.voided_by, row.voided_at) == (crew, FIXED_NOW)
    assert "<s>100 taps</s>" in text(page)
    assert "taken back by Sol" in text(page)
    assert '<span class="big">0</span>' in text(page)


def test_taking_back_twice_keeps_who_did_it_first(owner_client, line, crew):
    row = tapping.tally(line, crew, 100, voided_at=FIXED_NOW, voided_by=crew)
    owner_client.post(reverse("tapping:void", args=[row.pk]))
    row.refresh_from_db()
    assert row.voided_by == crew


@pytest.mark.parametrize(("who", "taken_back"), [("crew", False), ("owner", True)])
def test_only_its_maker_or_an_owner_takes_a_tally_back(client, line, fixed_clock, who, taken_back):
    row = tapping.tally(line, people.crew("wren"), 100)
    client.force_login(people.crew("marek", role=who))
    page = client.post(reverse("tapping:void", args=[row.pk]), follow=True)
    row.refresh_from_db()
    assert (row.voided_at is not None) is taken_back
    assert ("Only Wren or an owner" in text(page)) is not taken_back


def test_a_count_through_htmx_answers_with_the_fragment_and_its_message(crew_client, line):
    response = crew_client.post(
        tally_url(line),
        {"uuid": uuid4(), "taps_set": "25"},
        headers={"HX-Request": "true"},
        follow=True,
    )
    assert text(response).startswith('<div id="tally">')
    assert text(response).count("Counted on line L7: 25 taps.") == 1


def test_a_line_over_its_plan_says_so(crew_client, line, crew):
    tapping.tally(line, crew, 130)
    assert "10 over plan" in text(crew_client.get(tally_url(line)))


def test_a_finished_line_under_its_plan_says_so(crew_client, line, crew):
    tapping.tally(line, crew, 110)
    assert "under plan" not in text(crew_client.get(tally_url(line)))
    tapping.tally(line, crew, 0, finishes_line=True)
    assert "10 under plan" in text(crew_client.get(tally_url(line)))


def test_no_lines_is_an_honest_empty_list(crew_client, hollow):
    page = text(crew_client.get(PROGRESS))
    assert "No line to show" in page
    assert "no lines listed" in page


def test_cautions_stand_by_the_counting(crew_client, line):
    for url in (PROGRESS, tally_url(line)):
        page = text(crew_client.get(url))
        assert 'class="caution"' in page
        assert "Local codes and licensed practice" in page


def test_a_first_run_is_recorded_under_its_season(crew_client):
    crew_client.post(FIRST_RUNS, {"ran_on": "2025-12-28"})
    row = FirstRun.objects.get()
    assert (row.season, row.date, row.woodlot) == (2026, date(2025, 12, 28), None)


def test_the_same_first_run_sent_twice_is_one_row(crew_client, hollow):
    for _ in range(2):
        crew_client.post(FIRST_RUNS, {"ran_on": "2025-03-08", "woodlot": hollow.pk})
    assert FirstRun.objects.get().woodlot == hollow


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("2026-03-17", "not be after today"),
        ("2025-07-04", "between December and May"),
        ("soon", "valid date"),
        ("", "required"),
        ("2025-03-09", "already has 8 March 2025"),
    ],
)
def test_a_first_run_that_cannot_be_is_refused_and_kept_on_the_page(crew_client, typed, words):
    tapping.first_run(date(2025, 3, 8))
    response = crew_client.post(FIRST_RUNS, {"ran_on": typed})
    assert words in str(response.context["form"].errors["ran_on"])
    assert f'value="{typed}"' in text(response) or not typed
    assert FirstRun.objects.get().date == date(2025, 3, 8)


@pytest.mark.parametrize(("who", "status", "left"), [("owner", 302, 0), ("crew", 403, 1)])
def test_only_an_owner_removes_a_first_run(client, fixed_clock, who, status, left):
    row = tapping.first_run(date(2025, 3, 8))
    client.force_login(people.crew(role=who))
    response = client.post(reverse("tapping:remove_first_run", args=[row.pk]))
    assert (response.status_code, FirstRun.objects.count()) == (status, left)


def test_no_first_run_on_record_says_what_to_type(crew_client):
    assert "No first run on record" in text(crew_client.get(FIRST_RUNS))


def test_first_runs_show_whose_they_are(owner_client, hollow):
    tapping.first_run(date(2024, 3, 2))
    tapping.first_run(date(2024, 3, 5), woodlot=hollow)
    page = text(owner_client.get(FIRST_RUNS))
    for words in ("Sat 2 Mar 2024", "Whole operation", "Tue 5 Mar 2024", "Tamarack Hollow"):
        assert words in page


def queries_of(client, url):
    with CaptureQueriesContext(connection) as captured:
        assert client.get(url).status_code == 200
    return len(captured)


def test_progress_costs_the_same_at_ten_and_a_thousand_lines(crew_client, hollow, crew):
    counts = []
    for size in (10, 1000):
        for number in range(hollow.lines.count(), size):
            tapping.tally(woods.line(hollow, str(number), planned_taps=50), crew, 20)
        counts.append(queries_of(crew_client, PROGRESS))
    assert counts[0] == counts[1]


def test_a_line_costs_the_same_at_ten_and_a_thousand_tallies(crew_client, line, crew):
    counts = []
    for size in (10, 1000):
        for _ in range(line.tallies.count(), size):
            tapping.tally(line, crew, 1, voided_by=crew, voided_at=FIXED_NOW)
        counts.append(queries_of(crew_client, tally_url(line)))
    assert counts[0] == counts[1]


def test_first_runs_cost_the_same_at_ten_and_a_thousand_rows(crew_client):
    lots = [woods.woodlot(f"Lot {number}") for number in range(10)]
    counts = []
    for size in (10, 1000):
        for number in range(FirstRun.objects.count(), size):
            season = 1901 + number // 10
            tapping.first_run(date(season, 3, 1), woodlot=lots[number % 10])
        counts.append(queries_of(crew_client, FIRST_RUNS))
    assert counts[0] == counts[1]
