"""The phone's page: line, state, save, and what it says afterwards."""

from uuid import uuid4

import pytest
from django.urls import reverse

from apps.domain.units import kpa_from_inhg
from apps.leaks import queries
from apps.leaks.models import LeakCheck
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
CHECK = reverse("field:check")


@pytest.fixture
def line():
    return leaks.a_line("L7", planned_taps=120)


def send(client, line=None, state="tight", **typed):
    data = {"uuid": str(uuid4()), "state": state} | typed
    if line is not None:
        data["line"] = getattr(line, "pk", line)
    return client.post(CHECK, data)


def page(response):
    return response.content.decode()


def test_three_answers_are_enough(crew_client, crew, line):
    response = send(crew_client, line)
    check = LeakCheck.objects.get()
    assert response.url == reverse("field:saved", args=[check.uuid])
    assert (check.line, check.state, check.crew) == (line, "tight", crew)
    assert (check.observed_at, check.received_at) == (people.FIXED_NOW, people.FIXED_NOW)


def test_everything_typed_is_kept_in_si(crew_client, line):
    typed = {"vacuum_before": "18.5", "vacuum_after": "24", "cause": "chew", "place_drops": "12"}
    send(crew_client, line, "leak_fixed", note="squirrel again", **typed)
    check = LeakCheck.objects.get()
    assert check.vacuum_before_kpa == pytest.approx(kpa_from_inhg(18.5))
    assert check.vacuum_after_kpa == pytest.approx(kpa_from_inhg(24))
    assert (check.cause, check.place_drops, check.note) == ("chew", 12, "squirrel again")


def test_a_metric_operation_types_kilopascals(crew_client, line):
    people.operation(unit_system="metric")
    send(crew_client, line, vacuum_before="80.5")
    assert LeakCheck.objects.get().vacuum_before_kpa == 80.5


def test_sending_the_form_twice_records_one_check(crew_client, line):
    typed = {"uuid": str(uuid4())}
    first, second = (send(crew_client, line, "leak_left", **typed) for _ in range(2))
    assert first.url == second.url
    assert LeakCheck.objects.count() == 1
    assert queries.open_leaks().count() == 1


def test_a_second_check_under_a_used_identifier_is_asked_about_and_not_lost(crew_client, line):
    used = str(uuid4())
    send(crew_client, line, uuid=used)
    response = send(crew_client, line, "leak_left", uuid=used, note="by the beech")
    assert "save it again" in page(response)
    assert "by the beech" in page(response)
    fresh = response.context["form"]["uuid"].value()
    assert fresh != used
    send(crew_client, line, "leak_left", uuid=fresh)
    assert LeakCheck.objects.count() == 2


def test_each_visit_carries_its_own_identifier(crew_client, line):
    first, second = (crew_client.get(CHECK).context["form"]["uuid"].value() for _ in range(2))
    assert first != second


def test_the_page_is_never_kept_by_a_cache(crew_client, line):
    assert "no-store" in crew_client.get(CHECK)["Cache-Control"]


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ({"state": ""}, "Touch one of the four states."),
        ({"state": "leaky"}, "leaky"),
        ({"line": ""}, "Touch a line, or type its number."),
        ({"line": "999999"}, "Select a valid choice"),
        ({"label": "99"}, "No line 99 in any woodlot."),
        ({"vacuum_before": "36"}, "Must not be over 35.4 inHg."),
        ({"vacuum_after": "-1"}, "Must not be under 0.0 inHg."),
        ({"vacuum_after": "lots"}, "Enter a number."),
        ({"place_drops": "5001"}, "less than or equal to 5000"),
        ({"cause": "chew"}, "A cause goes with a leak, fixed or left."),
        ({"uuid": "not-one"}, "Enter a valid UUID."),
    ],
)
def test_bad_input_is_named_and_what_was_typed_stays(crew_client, line, typed, message):
    answers = {"line": line.pk, "note": "north fork", "vacuum_before": "20"} | typed
    response = send(crew_client, **answers)
    assert message in page(response)
    assert "north fork" in page(response)
    assert LeakCheck.objects.count() == 0
    for name in typed.keys() - {"uuid"}:
        assert response.context["form"][name].value() == typed[name]


def test_a_typed_number_goes_before_a_line_touched_earlier(crew_client, line):
    other = leaks.a_line("L8")
    send(crew_client, line, label="8")
    assert LeakCheck.objects.get().line == other


def test_a_line_chosen_on_another_page_comes_first_and_touched(crew_client):
    for number in range(1, 9):
        last = leaks.a_line(f"L{number}", planned_taps=10)
    response = crew_client.get(CHECK, {"line": last.pk})
    assert response.context["picks"].first[0].line == last
    assert f'value="{last.pk}" checked' in page(response)


@pytest.mark.parametrize("query", ["line=x", "line=0", "woodlot=x", "woodlot=99", "line=²"])
def test_a_nonsense_address_still_shows_the_page(crew_client, line, query):
    assert crew_client.get(f"{CHECK}?{query}").status_code == 200


def test_a_woodlot_narrows_the_lines(crew_client, line):
    other = woods.woodlot("Beech Hill")
    leaks.a_line("B1", woodlot=other)
    response = crew_client.get(CHECK, {"woodlot": other.pk})
    assert [row.line.label for row in response.context["picks"].first] == ["B1"]


def test_lines_beyond_a_screenful_are_one_touch_away_and_the_rest_are_typed(crew_client):
    for number in range(50):
        leaks.a_line(f"L{number}")
    picks = crew_client.get(CHECK).context["picks"]
    assert (len(picks.first), len(picks.more), picks.untold) == (3, 40, 7)


def test_without_lines_the_page_says_what_to_do(crew_client):
    assert "Add lines to a woodlot" in page(crew_client.get(CHECK))


def test_the_page_warns_those_who_work_alone(crew_client, line):
    assert "Tell someone where you are going" in page(crew_client.get(CHECK))


def test_somebody_not_signed_in_is_sent_to_sign_in(client, line):
    assert reverse("operation:sign_in") in client.get(CHECK).url
    assert reverse("operation:sign_in") in send(client, line).url
    assert LeakCheck.objects.count() == 0
