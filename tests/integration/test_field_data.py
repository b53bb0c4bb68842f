"""What the phone takes into the woods: the walk in order, what to choose from, in few bytes."""

import gzip
import json
from uuid import uuid4

import pytest
from django.urls import reverse

from apps.domain.units import inches_from_mm, inhg_from_kpa
from apps.field.queries import woodlot_slugs
from apps.operation.models import CrewMember
from tests.factories import leaks, phone, sugarhouse, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
DATA = reverse("field:data")


@pytest.fixture
def data(crew_client):
    return lambda: crew_client.get(DATA, {"phone": phone.PHONE}).json()


@pytest.fixture
def hollow(crew):
    return woods.woodlot()


def test_it_says_whose_it_is_and_as_of_when(data, crew, hollow):
    told = data()
    assert told["format"] == 1
    assert told["server_now"] == told["as_of"] == phone.NOW_MS
    assert (told["zone"], told["operation"]) == ("America/New_York", "My sugarbush")
    assert told["person"] == {"id": crew.pk, "name": "Sol", "owner": False}
    assert (told["season"], told["drops_most"], told["usual_kpa"] > 0) == (2026, 5000, True)


def test_the_words_to_choose_from_are_those_of_the_desk(data, hollow):
    told = data()
    assert told["states"][-1] == ["frozen", "Frozen: no verdict"]
    assert ["tee", "Tee"] in told["causes"]
    assert ["drop", "Drop"] in told["parts"]
    assert told["works"][-1] == ["hung", "Hung tree: leave it"]


@pytest.mark.parametrize(
    ("system", "vacuum", "depth"),
    [
        ("us", ("inHg", inhg_from_kpa(1), 0.5, 1), ("in.", inches_from_mm(1), 0.25, 2)),
        ("metric", ("kPa", 1.0, 1.0, 1), ("cm", 0.1, 0.5, 1)),
    ],
)
def test_units_are_the_operations_own(data, hollow, system, vacuum, depth):
    people.operation(unit_system=system)
    units = data()["units"]
    for name, (label, per_si, step, places) in (("vacuum", vacuum), ("depth", depth)):
        shown = units[name]
        assert (shown["unit"], shown["step"], shown["places"]) == (label, step, places)
        assert shown["per_si"] == pytest.approx(per_si)
    assert units["vacuum"]["high_si"] == 120


def test_lines_come_in_the_order_of_the_walk(data, crew_client, hollow, crew):
    house = woods.pump_house(hollow)
    low = woods.line(hollow, "L2", planned_taps=100, pump_house=house)
    high = woods.line(hollow, "L10", planned_taps=200, pump_house=house)
    leaks.check(low, "leak_left", vacuum_before_kpa=80, hours=30)
    leaks.check(high, "leak_left", vacuum_before_kpa=40, hours=2)
    lines = data()["lines"]
    assert lines == [
        [high.pk, 0, "L10", 200, "leak_left", 0],
        [low.pk, 0, "L2", 100, "leak_left", 1],
    ]


def test_what_is_unknown_at_the_end_is_left_out_and_never_a_nought(data, hollow):
    line = woods.line(hollow, "L1")
    assert data()["lines"] == [[line.pk, 0, "L1", None, ""]]


def test_a_frozen_line_was_seen_and_not_walked(data, hollow):
    line = woods.line(hollow, "L1", planned_taps=5)
    leaks.check(line, "tight", hours=50)
    leaks.check(line, "frozen", hours=1)
    assert data()["lines"] == [[line.pk, 0, "L1", 5, "frozen", 2]]


@pytest.mark.parametrize(("accuracy_m", "told"), [(49.9, True), (50.0, False)])
def test_a_line_is_where_phones_were_that_knew_it_well_enough(data, hollow, accuracy_m, told):
    line = woods.line(hollow, "L1", planned_taps=5)
    where = {"latitude": 43.912345678, "longitude": -75.3, "position_accuracy_m": accuracy_m}
    leaks.bare_check(line, **where)
    leaks.bare_check(line, voided=True, **where | {"latitude": 10.0})
    (row,) = data()["lines"]
    assert row[6:] == ([43.91235, -75.3] if told else [])


def test_places_point_into_the_list_of_woodlots(data, hollow):
    other = woods.woodlot("Ash Bench")
    house = woods.pump_house(hollow)
    line = woods.line(hollow, "L1")
    tank = sugarhouse.tank()
    told = data()
    assert told["woodlots"] == [
        [other.pk, "Ash Bench", "ash-bench"],
        [hollow.pk, "Tamarack Hollow", "tamarack-hollow"],
    ]
    assert told["pump_houses"] == [[house.pk, "Lower pump house", 1]]
    assert told["lines"][0][:2] == [line.pk, 1]
    assert told["tanks"] == [[tank.pk, "Round tank"]]


def test_everybody_has_a_name_even_who_has_left(data, hollow, crew):
    gone = people.crew("wren")
    CrewMember.objects.filter(pk=gone.pk).update(is_active=False)
    assert data()["people"] == [[crew.pk, "Sol"], [gone.pk, "Wren"]]


def test_obstructions_still_open_come_along(data, hollow):
    line = woods.line(hollow, "L1")
    still = leaks.obstruction(line, "chainsaw", hours=30, note="maple top")
    leaks.clearing(leaks.obstruction(line, hours=3))
    assert data()["obstructions"] == [[str(still.uuid), line.pk, "chainsaw", "maple top", 1]]


def test_tags_of_two_woodlots_alike_differ_and_the_first_keeps_its_own(db):
    names = ("Pell Corner", "Pell  corner!", "Érablière", "???")
    rows = [woods.woodlot(name) for name in names]
    slugs = woodlot_slugs()
    assert [slugs[row.pk] for row in rows] == [
        "pell-corner",
        f"pell-corner-{rows[1].pk}",
        "erabliere",
        "woodlot",
    ]


def test_a_thousand_lines_cost_no_more_questions_than_three(
    crew_client, hollow, django_assert_max_num_queries
):
    crew_client.get(DATA, {"phone": phone.PHONE})
    counts = []
    for many in (3, 1000):
        woods.Line.objects.filter(parent__isnull=False).delete()
        woods.TapCount.objects.all().delete()
        woods.Line.objects.all().delete()
        woods.many_lines(hollow, many)
        with django_assert_max_num_queries(40) as asked:
            crew_client.get(DATA, {"phone": phone.PHONE})
        counts.append(len(asked))
    assert counts[0] == counts[1]


def body_of(client, **headers):
    answer = client.get(DATA, {"phone": phone.PHONE}, headers=headers)
    return answer.content


def walked(lot, many):
    """Lines with all that can be known of them: taps, a state, days and a place."""
    for n, line in enumerate(woods.many_lines(lot, many)):
        where = {"latitude": 43.9 + n / 7919, "longitude": -75.3 - n / 6007}
        leaks.bare_check(line, "leak_fixed", **where, position_accuracy_m=9)


def test_a_line_costs_forty_bytes_at_most(crew_client, hollow):
    bodies = []
    for many in (100, 300):
        lot = woods.woodlot(f"Lot of {many}")
        # The worst of both: every line said whole, and then packed.
        walked(lot, many)
        plain = body_of(crew_client)
        packed = body_of(crew_client, **{"accept-encoding": "gzip"})
        assert json.loads(gzip.decompress(packed)) == json.loads(plain)
        bodies.append((len(packed), len(json.loads(plain)["lines"])))
    (small, few), (large, more) = bodies
    assert (large - small) / (more - few) <= 40


def test_without_a_place_a_line_costs_forty_bytes_before_it_is_packed(crew_client, hollow):
    before = len(body_of(crew_client))
    lines = woods.many_lines(hollow, 200, planned_taps=115)
    for line in lines:
        leaks.bare_check(line, "leak_fixed")
    assert (len(body_of(crew_client)) - before) / len(lines) <= 40


def test_it_is_kept_by_no_cache_but_the_phones_own(crew_client, hollow):
    answer = crew_client.get(DATA, {"phone": uuid4()})
    assert "no-store" in answer["Cache-Control"]
    assert "private" in answer["Cache-Control"]
