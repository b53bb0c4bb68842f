"""Hours in a CSV and readings in a JSON batch: what is read, set aside, and refused by itself."""

import json
import math
from datetime import UTC, datetime

import pytest

from apps.weather import payload

NOW = datetime(2026, 3, 16, 11, 0, tzinfo=UTC)
HEAD = "time_utc,temp_c\n"


def read(rows, head=HEAD):
    return payload.read_hourly(head + rows, NOW)


def stamps(record):
    return [f"{record.moment(place):%dT%H}" for place in range(record.unix_hours.size)]


def test_hours_come_out_in_order_of_time_with_blanks_missing():
    record = read("2015-01-01T05:00Z,-9.36\n2015-01-01T06:00Z,\n2015-01-01T07:00Z,1\n")
    assert stamps(record) == ["01T05", "01T06", "01T07"]
    assert record.temps_c[[0, 2]].tolist() == [-9.36, 1.0]
    assert math.isnan(record.temps_c[1])
    assert (record.valid_hours, record.missing_hours) == (2, 1)
    assert record.faults == record.set_aside == ()


@pytest.mark.parametrize(
    "stamp",
    [
        "2015-01-01T05:00Z",
        "2015-01-01T05:00:00Z",
        "2015-01-01 05:00",
        "2015-01-01T05:00+00:00",
        "2015-01-01T00:00-05:00",
    ],
)
def test_a_stamp_is_utc_unless_it_states_its_offset(stamp):
    assert read(f"{stamp},1\n").moment(0) == datetime(2015, 1, 1, 5, tzinfo=UTC)


@pytest.mark.parametrize("value", ["-85", "-127", "85", "-60.01", "60.01"])
def test_an_unbelievable_value_is_set_aside_and_its_hour_missing(value):
    record = read(f"2015-01-01T05:00Z,{value}\n2015-01-01T06:00Z,1\n")
    (doubtful,) = record.set_aside
    assert (doubtful.row, doubtful.value_c) == (2, float(value))
    assert doubtful.reason == f"{float(value):g} C is not between -60 and 60 C"
    assert (record.valid_hours, record.missing_hours) == (1, 1)


@pytest.mark.parametrize("value", ["-60", "60"])
def test_the_ends_of_the_believable_range_are_believed(value):
    assert read(f"2015-01-01T05:00Z,{value}\n").temps_c.tolist() == [float(value)]


@pytest.mark.parametrize(
    ("cell", "reason"),
    [
        ("2015-13-01T05:00Z,1", "“2015-13-01T05:00Z” is not a time like 2015-01-01T05:00Z"),
        ("2015-01-01,1", "“2015-01-01” is not a time like 2015-01-01T05:00Z"),
        (",1", "“” is not a time like 2015-01-01T05:00Z"),
        ("2015-01-01T05:10Z,1", "2015-01-01T05:10Z is not the start of an hour"),
        ("2015-01-01T05:00:00.5Z,1", "2015-01-01T05:00:00.5Z is not the start of an hour"),
        ("2026-03-16T12:00Z,1", "2026-03-16T12:00Z has not come yet"),
        ("1899-12-31T23:00Z,1", "1899-12-31T23:00Z is before 1900"),
        ("2015-01-01T05:00Z,cold", "“cold” is not a number of degrees C"),
        ('2015-01-01T05:00Z,"1,5"', "“1,5” is not a number of degrees C"),
        (
            "2015-01-01T05:00Z,nan",
            "“nan” is not a number of degrees C; leave a missing hour blank",
        ),
        (
            "2015-01-01T05:00Z,1e999",
            "“1e999” is not a number of degrees C; leave a missing hour blank",
        ),
    ],
)
def test_a_row_that_cannot_be_read_is_named_and_hinders_no_other(cell, reason):
    record = read(f"{cell}\n2015-01-02T05:00Z,2\n")
    assert record.faults == (payload.Fault(2, reason),)
    assert record.temps_c.tolist() == [2.0]


def test_rows_out_of_order_are_sorted_and_counted():
    record = read("2015-01-01T07:00Z,3\n2015-01-01T05:00Z,1\n2015-01-01T06:00Z,2\n")
    assert record.temps_c.tolist() == [1.0, 2.0, 3.0]
    assert record.out_of_order == 2


@pytest.mark.parametrize(
    ("values", "kept"), [(("1", "1"), 1.0), (("", "1"), 1.0), (("1", ""), 1.0)]
)
def test_a_repeated_hour_that_agrees_is_counted_and_kept(values, kept):
    record = read("".join(f"2015-01-01T05:00Z,{value}\n" for value in values))
    assert record.temps_c.tolist() == [kept]
    assert (record.repeated, record.set_aside) == (1, ())


def test_two_different_values_for_one_hour_are_both_set_aside():
    record = read("".join(f"2015-01-01T05:00Z,{value}\n" for value in (1, 2, 1)))
    assert math.isnan(record.temps_c[0])
    assert [(one.row, one.value_c) for one in record.set_aside] == [(2, 1.0), (3, 2.0)]
    assert {one.reason for one in record.set_aside} == {"rows 2 and 3 differ on this hour"}
    assert record.repeated == 2


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "must head one column “time_utc”"),
        ("time,temp_c\n2015-01-01T05:00Z,1\n", "must head one column “time_utc”"),
        ("time_utc,temp_f\n2015-01-01T05:00Z,1\n", "must head one column “temp_c”"),
        ("time_utc,temp_c,temp_c\n", "must head one column “temp_c”"),
        (HEAD, "No row below the headings can be read."),
        (HEAD + "yesterday,1\n", "Row 2: “yesterday” is not a time"),
        (HEAD + '2015-01-01T05:00Z,"1\n', "The record cannot be read"),
    ],
)
def test_a_text_that_is_no_record_is_refused_whole(text, words):
    with pytest.raises(payload.NotHours, match=words.replace(".", r"\.")):
        payload.read_hourly(text, NOW)


@pytest.mark.parametrize("comma", [",", ";", "\t"])
def test_columns_may_stand_in_any_order_among_others_under_any_comma(comma):
    head = comma.join(["Station", " TEMP_C ", "time_utc"])
    row = comma.join(["north", "1.5", "2015-01-01T05:00Z"])
    assert payload.read_hourly(f"\ufeff{head}\r\n{row}\r\n\r\n", NOW).temps_c.tolist() == [1.5]


@pytest.mark.parametrize(
    ("data", "words"), [(b"\xff\xfe", "not UTF-8"), (b"time_utc\0", "not a CSV file")]
)
def test_bytes_that_are_no_text_are_refused(data, words):
    with pytest.raises(payload.NotHours, match=words):
        payload.decode(data)


def test_a_byte_order_mark_is_no_part_of_the_text():
    assert payload.decode(b"\xef\xbb\xbftime_utc") == "time_utc"


def reading(**changes):
    told = {"at": "2026-03-12T14:05:00Z", "quantity": "temperature", "value": -1.5, "unit": "C"}
    return told | changes


def judged(*readings):
    return payload.read_batch(json.dumps({"readings": readings}).encode(), NOW)


@pytest.mark.parametrize(
    ("changes", "temp_c"),
    [
        ({}, -1.5),
        ({"unit": "°C"}, -1.5),
        # 30 F is -1.11 C: NIST SP 811 (2008), appendix B.9.
        ({"value": 30, "unit": "F"}, -1.111),
        ({"value": 32, "unit": "°F"}, 0.0),
    ],
)
def test_a_temperature_is_read_to_celsius(changes, temp_c):
    (read_back,) = judged(reading(**changes))
    assert read_back.temp_c == pytest.approx(temp_c, abs=0.001)
    assert read_back.at == datetime(2026, 3, 12, 14, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"quantity": "vacuum"}, "vacuum is not kept yet"),
        ({"quantity": "flow"}, "flow is not kept yet"),
        ({"quantity": "mood"}, "quantity must be one of temperature"),
        ({"quantity": None}, "quantity must be one of temperature"),
        ({"quantity": ["temperature"]}, "quantity must be one of temperature"),
        ({"at": None}, "at is missing"),
        ({"at": "2026-03-12"}, "is not a time"),
        ({"at": "2026-03-12T14:05:00"}, "must state its offset"),
        ({"at": "2026-03-16T11:11:00Z"}, "has not come yet"),
        ({"value": "-1.5"}, "value must be a number"),
        ({"value": True}, "value must be a number"),
        ({"value": None}, "value must be a number"),
        ({"value": 10**400}, "value must be a finite number"),
        ({"unit": "K"}, "unit of a temperature must be C or F"),
        ({"unit": ["C"]}, "unit of a temperature must be C or F"),
        ({"unit": None}, "unit of a temperature must be C or F"),
    ],
)
def test_a_bad_reading_is_refused_by_itself_with_its_reason(changes, reason):
    refused, kept = judged(reading(**changes), reading())
    assert isinstance(refused, payload.Refused)
    assert reason in refused.reason
    assert (refused.place, kept.place, refused.doubtful) == (0, 1, None)


def test_an_unbelievable_reading_is_refused_and_handed_on_to_be_shown():
    (refused,) = judged(reading(value=-85))
    assert refused.doubtful == (datetime(2026, 3, 12, 14, 5, tzinfo=UTC), -85.0)
    assert refused.reason == "-85 C is not between -60 and 60 C"


def test_a_device_clock_may_run_ten_minutes_ahead():
    (kept,) = judged(reading(at="2026-03-16T11:10:00Z"))
    assert isinstance(kept, payload.Reading)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "not JSON"),
        (b"\xff", "not JSON"),
        (b'{"readings": [{"value": NaN}]}', "not JSON"),
        (b"[" * 100_000, "not JSON"),
        (b"[]", "must be"),
        (b'{"readings": {}}', "must be"),
        (json.dumps({"readings": [1] * 1001}).encode(), "At most 1000 readings"),
    ],
)
def test_a_body_that_is_no_batch_is_refused_whole(body, words):
    with pytest.raises(payload.NotABatch, match=words):
        payload.read_batch(body, NOW)


def test_a_reading_that_is_no_object_is_refused_by_itself():
    assert judged(7, reading())[0].reason == "a reading must be an object"
