"""Taps still in the trees: set less pulled, line by line, and how the page says it."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.tapping import queries
from apps.tapping.models import TapPull
from tests.factories import operation as people
from tests.factories import tapping, woods

pytestmark = pytest.mark.django_db
PAGE, TAPPING = reverse("tapping:pulls"), reverse("tapping:progress")


def text_of(response):
    return " ".join(response.content.decode().split())


@pytest.fixture
def sol(db):
    return people.crew()


@pytest.fixture
def line(db):
    return woods.line(woods.woodlot("North"), "L7")


@pytest.mark.parametrize(
    ("set_", "pulled", "finishes", "left"),
    [
        ([100], [], False, 100),
        ([60, 40], [30, 20], False, 50),
        ([100], [100], False, 0),
        ([100], [97], True, 0),  # three spouts rotted away: somebody looked
        ([100], [103], False, 0),  # more came out than were counted in
        ([100], [0], True, 0),
    ],
)
def test_what_is_left_is_set_less_pulled(line, sol, set_, pulled, finishes, left):
    for taps in set_:
        tapping.tally(line, sol, taps)
    for taps in pulled:
        tapping.pull(line, sol, taps, finishes_line=finishes)
    (row,) = queries.pull_progress(2026)
    assert row.taps_left == left


def test_counts_taken_back_and_other_seasons_are_not_in_it(line, sol):
    tapping.tally(line, sol, 100)
    tapping.pull(line, sol, 30, voided_at=people.FIXED_NOW, voided_by=sol)
    tapping.pull(line, sol, 40, season=2025)
    tapping.pull(line, sol, 10)
    (row,) = queries.pull_progress(2026)
    assert (row.taps_pulled, row.taps_left) == (10, 90)
    assert queries.pulled_so_far(2026) == 10


@pytest.mark.parametrize("drops", [0, 12])
def test_a_line_without_taps_has_nothing_to_pull(line, sol, drops):
    tapping.tally(line, sol, 0, drops_renewed=drops, finishes_line=True)
    assert queries.pull_progress(2026) == []


def test_taps_pulled_where_none_were_counted_are_shown_and_none_are_left(line, sol):
    tapping.pull(line, sol, 12)
    (row,) = queries.pull_progress(2026)
    assert (row.taps_set, row.taps_pulled, row.taps_left) == (0, 12, 0)


def test_a_woodlot_is_the_sum_of_its_lines(line, sol):
    # One line with more pulled than set never makes another's taps fewer.
    other = woods.line(line.woodlot, "L8")
    for each, taps, out in ((line, 100, 110), (other, 50, 20)):
        tapping.tally(each, sol, taps)
        tapping.pull(each, sol, out)
    (row,) = queries.pulls_by_woodlot(queries.pull_progress(2026))
    assert (row.taps_set, row.taps_pulled, row.taps_left) == (150, 130, 30)


def test_an_empty_page_says_what_to_do(crew_client):
    text = text_of(crew_client.get(PAGE))
    assert "No taps set for season 2026 on record, so none are known to be in the trees" in text


def test_the_page_lists_the_lines_with_taps_left_as_people_count(crew_client, crew, line):
    for label, out in (("L10", 10), ("L2", 0), ("L3", 50)):
        each = woods.line(line.woodlot, label)
        tapping.tally(each, crew, 50)
        if out:
            tapping.pull(each, crew, out)
    response = crew_client.get(PAGE)
    assert [row.line.label for row in response.context["page"]] == ["L2", "L10"]
    text = text_of(response)
    assert "60 of 150 set" in text
    assert '<span class="big">90</span> still in the trees' in text
    assert "before bark closes on the spout: common practice, no source" in text


def test_a_woodlot_with_none_left_says_so_in_a_word(crew_client, crew, line):
    tapping.tally(line, crew, 50)
    tapping.pull(line, crew, 50)
    assert '<span class="badge good">none</span>' in text_of(crew_client.get(PAGE))


def test_in_june_the_taps_of_the_spring_are_still_those_to_pull(line, sol):
    assert queries.season_to_tap(date(2026, 6, 2)) == 2027
    assert queries.season_to_pull(date(2026, 6, 2)) == 2026


def test_the_tapping_page_leads_there_once_pulling_has_begun(crew_client, crew, line):
    tapping.tally(line, crew, 50)
    assert "pulling has begun" not in text_of(crew_client.get(TAPPING))
    tapping.pull(line, crew, 20)
    assert "20 taps out so far" in text_of(crew_client.get(TAPPING))


def test_the_lines_own_page_lists_its_counts_and_takes_them_back(crew_client, crew, line):
    row = tapping.pull(line, crew, 20, finishes_line=True, note="two snapped off")
    page = reverse("tapping:tally", args=[line.pk])
    text = text_of(crew_client.get(page))
    for words in ("20 taps", "all out", "two snapped off"):
        assert words in text
    void = reverse("tapping:void_pull", args=[row.pk])
    text = text_of(crew_client.post(void, follow=True))
    assert "Taken back: 20 pulled taps." in text
    assert "<s>20 taps</s>" in text
    assert not TapPull.objects.standing().exists()


def test_another_ones_count_is_not_theirs_to_take_back(crew_client, line):
    row = tapping.pull(line, people.crew("wren"))
    void = reverse("tapping:void_pull", args=[row.pk])
    assert void not in text_of(crew_client.get(reverse("tapping:tally", args=[line.pk])))
    assert "Only Wren or an owner" in text_of(crew_client.post(void, follow=True))
    assert TapPull.objects.standing().exists()


def test_it_takes_a_touch_by_somebody_signed_in(client, crew, line):
    void = reverse("tapping:void_pull", args=[tapping.pull(line, crew).pk])
    assert reverse("operation:sign_in") in client.post(void).url
    client.force_login(crew)
    assert client.get(void).status_code == 405
    assert client.post(reverse("tapping:void_pull", args=[999])).status_code == 404
    assert TapPull.objects.standing().exists()


def test_it_asks_as_often_of_two_lines_as_of_sixty(crew_client, crew, line):
    counts = []
    for more in (2, 58):
        for _ in range(more):
            each = woods.line(line.woodlot, f"M{line.woodlot.lines.count()}")
            tapping.tally(each, crew, 50)
            tapping.pull(each, crew, 5)
        with CaptureQueriesContext(connection) as asked:
            assert crew_client.get(PAGE).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]
