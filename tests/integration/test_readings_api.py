"""The readings endpoint: a token, a batch, and an answer for every reading by itself."""

import json
from datetime import UTC, datetime, timedelta
from threading import Barrier, Thread

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.operation.actions import stop_device
from apps.weather import actions_readings as actions
from apps.weather.models import SetAside, ThermometerReading
from apps.weather.payload import Reading
from apps.weather.queries.readings import observed_hours
from tests.factories import readings as made
from tests.factories.woods import woodlot

API = "/weather/readings/api/"
NOW = made.NOW
AT = datetime(2026, 3, 12, 14, 5, tzinfo=UTC)


@pytest.fixture
def new(db, fixed_clock):
    return actions.add_thermometer(name="North wall", woodlot=woodlot(), now=NOW)


def reading(minute=5, value=-1.5, **changes):
    told = {"at": f"2026-03-12T14:{minute:02d}:00Z", "quantity": "temperature", "unit": "C"}
    return told | {"value": value} | changes


def post(client, token, *readings, **headers):
    return client.post(
        API,
        json.dumps({"readings": readings}),
        content_type="application/json",
        headers={"authorization": f"Bearer {token}"} | headers,
    )


def kept():
    return list(ThermometerReading.objects.order_by("at").values_list("at", "temp_c"))


def test_a_batch_is_kept_without_a_session_or_a_form_token(client, new):
    client.handler.enforce_csrf_checks = True
    response = post(client, new.token, reading(5), reading(15, 30.2, unit="F"))
    assert response.json() == {"kept": 2, "known": 0, "refused": []}
    assert kept() == [(AT, -1.5), (AT + timedelta(minutes=10), pytest.approx(-1.0))]
    new.thermometer.device.refresh_from_db()
    assert new.thermometer.device.seen_at == NOW


def test_the_same_batch_again_changes_nothing(client, new):
    batch = [reading(minute) for minute in range(0, 60, 10)]
    assert post(client, new.token, *batch).json()["kept"] == 6
    before = kept()
    assert post(client, new.token, *batch).json() == {"kept": 0, "known": 6, "refused": []}
    assert kept() == before


def test_a_bad_reading_is_refused_by_itself_with_its_reason(client, new):
    answer = post(
        client,
        new.token,
        reading(5),
        reading(6, quantity="vacuum", unit="kPa"),
        reading(7, "cold"),
        reading(8),
    ).json()
    assert answer["kept"] == 2
    assert answer["refused"] == [
        {"place": 1, "reason": "vacuum is not kept yet"},
        {"place": 2, "reason": "value must be a number"},
    ]
    assert len(kept()) == 2


@pytest.mark.parametrize("batches", [[(1.0, 2.0)], [(1.0,), (2.0,)]])
def test_another_value_for_a_moment_already_kept_is_refused(client, new, batches):
    for values in batches:
        answer = post(client, new.token, *(reading(5, value) for value in values)).json()
    assert answer["refused"] == [
        {"place": len(batches[-1]) - 1, "reason": "1 C is kept for that moment already"}
    ]
    assert kept() == [(AT, 1.0)]


def test_a_broken_sensors_value_is_refused_shown_and_never_averaged_in(client, new):
    for _ in range(2):
        answer = post(client, new.token, reading(5, -85), reading(15, -2.0)).json()
    assert answer["refused"] == [{"place": 0, "reason": "-85 C is not between -60 and 60 C"}]
    (doubted,) = SetAside.objects.all()
    assert (doubted.at, doubted.value_c, doubted.source) == (AT, -85.0, "thermometer")
    seen = observed_hours(new.thermometer.woodlot, AT.replace(minute=0), 1)
    assert seen.temps_c.tolist() == [-2.0]


@pytest.mark.parametrize("scheme", ["Bearer wrong", "", "Basic {token}", "Bearer", "{token}"])
def test_without_its_token_nothing_is_read(client, new, scheme):
    response = post(client, "", reading(), authorization=scheme.format(token=new.token))
    assert response.status_code == 401
    assert response["WWW-Authenticate"] == "Bearer"
    assert response.json() == {"error": "No device sends with this token."}
    assert kept() == []


def test_a_stopped_device_sends_no_more(client, new):
    stop_device(device=new.thermometer.device)
    assert post(client, new.token, reading()).status_code == 401


def test_a_device_without_a_woodlot_is_told_so(client, db, fixed_clock):
    answer = post(client, made.device("Spare").token, reading())
    assert (answer.status_code, answer.json()["error"]) == (
        403,
        "This device stands in no woodlot.",
    )


@pytest.mark.parametrize(
    ("body", "status", "words"),
    [
        (b"at=now", 400, "not JSON"),
        (b"{}", 400, "must be"),
        (json.dumps({"readings": [{}] * 1001}).encode(), 400, "At most 1000 readings"),
        (b" " * 2_700_000, 413, "Send at most 1000 readings"),
    ],
)
def test_a_body_that_is_no_batch_is_refused_whole(client, new, body, status, words):
    response = client.post(
        API,
        body,
        content_type="application/json",
        headers={"authorization": f"Bearer {new.token}"},
    )
    assert response.status_code == status
    assert words in response.json()["error"]


def test_only_a_post_is_answered(client, new):
    assert client.get(API).status_code == 405


def batch_of(count, day):
    start = datetime(2026, 3, day, tzinfo=UTC)
    ats = (start + timedelta(seconds=30 * number) for number in range(count))
    return [reading(at=at.isoformat()) for at in ats]


def test_a_thousand_readings_take_no_more_questions_than_ten_but_their_inserts(client, new):
    # The very first request also makes the operation's row.
    post(client, new.token, *batch_of(1, 9))
    asked = []
    for count, day in ((10, 10), (1000, 11)):
        with CaptureQueriesContext(connection) as captured:
            assert post(client, new.token, *batch_of(count, day)).json()["kept"] == count
        # A database takes so many values in one insert, and no more.
        asked.append(sum("INSERT" not in row["sql"] for row in captured.captured_queries))
    assert asked[0] == asked[1] <= 8


@pytest.mark.django_db(transaction=True)
def test_the_same_batch_sent_twice_at_once_is_kept_once(fixed_clock):
    new = actions.add_thermometer(name="North wall", woodlot=woodlot(), now=NOW)
    sent = [Reading(n, AT + timedelta(minutes=n), -1.0) for n in range(50)]
    together = Barrier(2)
    faults = []

    def send():
        try:
            together.wait()
            actions.take_readings(thermometer=new.thermometer, sent=sent, now=NOW)
        except Exception as fault:
            faults.append(fault)
        finally:
            connection.close()

    threads = [Thread(target=send) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert len(kept()) == 50


@pytest.mark.django_db
def test_an_hour_is_the_mean_of_what_was_sent_in_it():
    lot = woodlot()
    thermometer = made.thermometer(lot)
    start = AT.replace(minute=0)
    for minute, temp_c in ((0, -2.0), (10, -1.0), (59, 0.0), (60, 5.0)):
        made.reading(thermometer, start + timedelta(minutes=minute), temp_c)
    seen = observed_hours(lot, start - timedelta(hours=1), 4)
    assert np.isnan(seen.temps_c[[0, 3]]).all()
    assert seen.temps_c[[1, 2]].tolist() == [-1.0, 5.0]
    assert seen.source == "2 h from the woodlot's own thermometer"


@pytest.mark.django_db
def test_what_a_thermometer_sent_stands_before_an_import_and_both_are_named():
    lot = woodlot()
    start = AT.replace(minute=0)
    made.imported(lot, start, [9.0, 8.0, None])
    made.reading(made.thermometer(lot), start, -1.0)
    seen = observed_hours(lot, start, 3)
    assert seen.temps_c[:2].tolist() == [-1.0, 8.0]
    assert np.isnan(seen.temps_c[2])
    assert seen.known_hours == 2
    assert seen.source == ("1 h from the woodlot's own thermometer and 1 h from an imported record")


@pytest.mark.django_db
def test_readings_of_another_woodlot_are_no_part_of_this_one():
    lot, other = woodlot("Beech Ledge"), woodlot("Cold Brook")
    made.reading(made.thermometer(other), AT, -1.0)
    made.imported(other, AT.replace(minute=0), [1.0])
    seen = observed_hours(lot, AT.replace(minute=0), 1)
    assert np.isnan(seen.temps_c).all()
    assert seen.source == "no thermometer and no imported record"
