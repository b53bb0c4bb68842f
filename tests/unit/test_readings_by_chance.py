"""Chance-made records and batches: what must hold whatever comes."""

import json
import random
from contextlib import suppress
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.weather import payload
from apps.weather.packing import PACKED, empty_year, first_hour_of_year, pack, unpack

NOW = datetime(2026, 3, 16, 11, 0, tzinfo=UTC)
START = datetime(2025, 1, 1, tzinfo=UTC)

temperatures = st.one_of(
    st.none(),
    st.integers(min_value=-6000, max_value=6000).map(lambda hundredths: hundredths / 100),
    st.sampled_from([-85.0, -127.0, 85.0, 60.01, -60.01]),
)
rows = st.lists(st.tuples(st.integers(min_value=0, max_value=40), temperatures), min_size=1)


def sheet(pairs):
    lines = (
        f"{START + timedelta(hours=hour):%Y-%m-%dT%H:%MZ},{'' if value is None else value}"
        for hour, value in pairs
    )
    return "\n".join(["time_utc,temp_c", *lines])


def believed(value):
    return value is not None and -60 <= value <= 60


def by_hand(pairs):
    """What each hour must come to: its one value, or None where there is none or there are two."""
    told = {}
    for hour, value in pairs:
        told.setdefault(hour, set())
        if believed(value):
            told[hour].add(value)
    return {hour: values.pop() if len(values) == 1 else None for hour, values in told.items()}


def as_hours(record):
    first = int(START.timestamp()) // 3600
    values = (None if np.isnan(value) else float(value) for value in record.temps_c)
    return dict(zip((record.unix_hours - first).tolist(), values, strict=True))


@given(rows)
def test_each_hour_comes_to_its_one_believable_value_or_to_none(pairs):
    assert as_hours(payload.read_hourly(sheet(pairs), NOW)) == by_hand(pairs)


@given(rows, st.randoms(use_true_random=False))
def test_the_order_of_the_rows_does_not_matter(pairs, rng):
    shuffled = pairs[:]
    rng.shuffle(shuffled)
    one, other = (payload.read_hourly(sheet(some), NOW) for some in (pairs, shuffled))
    assert as_hours(one) == as_hours(other)
    assert one.unix_hours.tolist() == sorted(one.unix_hours.tolist())


@given(rows)
def test_no_value_is_lost_unseen(pairs):
    record = payload.read_hourly(sheet(pairs), NOW)
    doubted = {(one.row, one.value_c) for one in record.set_aside}
    kept = as_hours(record)
    for row, (hour, value) in enumerate(pairs, start=2):
        if value is None:
            continue
        # Kept, shown as set aside, or the same as one of the two that are.
        shown = {shown_value for _, shown_value in doubted}
        disputed = kept[hour] is None
        assert kept[hour] == value or (row, value) in doubted or (disputed and shown), (row, value)


@given(rows)
def test_every_row_is_counted_once(pairs):
    record = payload.read_hourly(sheet(pairs), NOW)
    assert record.unix_hours.size + record.repeated == len(pairs)
    assert record.valid_hours + record.missing_hours == record.unix_hours.size
    latest, late = -1, 0
    for hour, _ in pairs:
        late += hour < latest
        latest = max(latest, hour)
    assert record.out_of_order == late


@given(st.text(max_size=300))
@settings(max_examples=300)
def test_any_text_is_read_or_refused_by_name(text):
    # Nothing but the named refusal may come out of it.
    with suppress(payload.NotHours):
        assert payload.read_hourly(text, NOW).unix_hours.size


@given(st.text(alphabet="0123456789-:TZ+. ", max_size=30), st.text(max_size=12))
def test_any_row_is_read_or_named(stamp, cell):
    good = "2025-01-05T00:00Z,1.0"
    text = f'time_utc,temp_c\n{stamp},"{cell.replace(chr(34), "")}"\n{good}\n'.replace("\0", "")
    record = payload.read_hourly(text, NOW)
    assert record.valid_hours + len(record.faults) + len(record.set_aside) >= 1
    assert all(fault.reason for fault in record.faults)


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=8,
)
readings = st.fixed_dictionaries(
    {},
    optional={
        "at": st.sampled_from(["2026-03-12T14:05:00Z", "2026-03-12", ""]) | anything,
        "quantity": st.sampled_from(["temperature", "vacuum"]) | anything,
        "value": st.floats(allow_nan=False, allow_infinity=False) | anything,
        "unit": st.sampled_from(["C", "F", "°C"]) | anything,
    },
)


def sendable(batch):
    try:
        return json.dumps({"readings": batch}, allow_nan=False).encode()
    except ValueError:
        return None


@given(st.lists(readings | anything, max_size=6))
@settings(max_examples=300)
def test_every_reading_of_any_batch_is_answered_once_and_in_its_place(batch):
    body = sendable(batch)
    if body is None:
        return
    sent = payload.read_batch(body, NOW)
    assert [one.place for one in sent] == list(range(len(batch)))
    for one in sent:
        if isinstance(one, payload.Reading):
            assert payload.COLDEST_C <= one.temp_c <= payload.WARMEST_C
            assert one.at <= NOW + payload.CLOCK_SLACK
        else:
            assert one.reason


@given(st.binary(max_size=200))
def test_any_bytes_are_a_batch_or_refused_by_name(body):
    with suppress(payload.NotABatch):
        sent = payload.read_batch(body, NOW)
        assert len(sent) == len(json.loads(body)["readings"])


@given(st.lists(st.integers(min_value=-6000, max_value=6000), max_size=50))
def test_hours_come_out_of_their_packing_to_the_hundredth(hundredths):
    temps_c = np.array(hundredths, dtype=np.float64) / 100
    back = unpack(pack(temps_c))
    assert np.rint(back * 100).astype(int).tolist() == hundredths
    assert len(pack(temps_c)) == len(hundredths) * PACKED.itemsize


def test_a_missing_hour_stays_missing_in_its_packing():
    assert np.isnan(unpack(pack(np.array([np.nan, 1.0])))).tolist() == [True, False]


def test_what_is_unpacked_may_be_written_to():
    hours = unpack(pack(np.array([1.0])))
    hours[0] = 2.0
    assert hours.tolist() == [2.0]


@pytest.mark.parametrize(
    ("year", "hours"), [(1900, 8760), (2000, 8784), (2023, 8760), (2024, 8784), (2100, 8760)]
)
def test_a_year_has_its_own_number_of_hours(year, hours):
    assert empty_year(year).size == hours
    assert np.isnan(empty_year(year)).all()


@pytest.mark.parametrize("year", [1900, 1969, 1970, 2000, 2026])
def test_the_first_hour_of_a_year_is_that_of_the_calendar(year):
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(hours=first_hour_of_year(year))
    assert moment == datetime(year, 1, 1, tzinfo=UTC)


def test_a_long_record_in_any_order_is_read_whole():
    rng = random.Random(20260316)
    pairs = [(hour, round(rng.uniform(-30, 30), 2)) for hour in range(5000)]
    shuffled = pairs[:]
    rng.shuffle(shuffled)
    assert as_hours(payload.read_hourly(sheet(shuffled), NOW)) == dict(pairs)
