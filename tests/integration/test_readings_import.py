"""Importing in pieces, in any order, at once and again: the store ends as one import would."""

import random
from datetime import UTC, datetime, timedelta
from threading import Barrier, Thread

import numpy as np
import pytest
from django.db import connection

from apps.weather import actions_readings as actions
from apps.weather.models import RecordedYear, SetAside
from apps.weather.payload import read_hourly
from apps.weather.queries.readings import (
    observed_hours,
    own_records,
    plan_import,
    recorded,
    set_aside,
    whole_record,
)
from apps.woods.models import Woodlot
from tests.factories import readings as made
from tests.factories.woods import woodlot

pytestmark = pytest.mark.django_db
NOW = made.NOW
# Over the turn of a year, so that two rows are written.
START = datetime(2024, 12, 31, 12, tzinfo=UTC)


def record_of(temps_c, start=START):
    return read_hourly(made.sheet(start, temps_c), NOW)


def chance(seed, hours=48):
    rng = random.Random(seed)
    return [rng.choice([None, -85.0, round(rng.uniform(-30, 30), 2)]) for _ in range(hours)]


def stored(lot):
    record = whole_record(lot)
    return record and (record.start_at, np.nan_to_num(record.temps_c, nan=99).tolist())


@pytest.mark.parametrize("seed", range(12))
def test_a_record_in_pieces_and_in_any_order_is_the_record_in_one(seed):
    temps = chance(seed)
    one, other = woodlot("Beech Ledge"), woodlot("Cold Brook")
    made.imported(one, START, temps)
    pieces = list(range(0, len(temps), 7))
    random.Random(seed).shuffle(pieces)
    for first in pieces:
        made.imported(other, START + timedelta(hours=first), temps[first : first + 7])
    assert stored(one) == stored(other)
    assert [(row.at, row.value_c) for row in set_aside(one)] == [
        (row.at, row.value_c) for row in set_aside(other)
    ]


@pytest.mark.parametrize("seed", range(6))
def test_the_same_record_again_changes_nothing(seed):
    lot = woodlot()
    temps = chance(seed)
    made.imported(lot, START, temps)
    before, doubted = stored(lot), list(set_aside(lot).values_list("pk"))
    plan = made.imported(lot, START, temps)
    assert plan.changes_nothing
    assert plan.unchanged == record_of(temps).valid_hours
    assert (stored(lot), list(set_aside(lot).values_list("pk"))) == (before, doubted)


@pytest.mark.parametrize(
    ("before", "after", "counts"),
    [
        ([None, None], [1.0, None], (1, 0, 0, 0)),
        ([1.0, 2.0], [1.0, 2.0], (0, 0, 0, 2)),
        ([1.0, 2.0], [1.0, 3.0], (0, 1, 0, 1)),
        ([1.0, 2.0], [1.0, None], (0, 0, 1, 1)),
        ([1.0, 2.0], [1.0, -85.0], (0, 0, 1, 1)),
        ([1.0], [2.0, 3.0], (1, 1, 0, 0)),
        ([1.0, 2.0], [1.0], (0, 0, 0, 1)),
        # The same to the hundredth that is kept.
        ([1.001], [1.004], (0, 0, 0, 1)),
    ],
)
def test_what_an_import_would_do_is_counted_by_hour(before, after, counts):
    lot = woodlot()
    made.imported(lot, START, before)
    plan = plan_import(lot, record_of(after))
    assert (plan.added, plan.changed, plan.emptied, plan.unchanged) == counts
    assert plan.changes_nothing == (counts[:3] == (0, 0, 0))


def test_planning_writes_nothing():
    lot = woodlot()
    plan_import(lot, record_of([1.0, -85.0]))
    assert not RecordedYear.objects.exists()
    assert not SetAside.objects.exists()


def test_an_import_leaves_other_woodlots_alone():
    one, other = woodlot("Beech Ledge"), woodlot("Cold Brook")
    made.imported(other, START, [5.0, -85.0])
    before = stored(other)
    made.imported(one, START, [1.0, 2.0])
    assert stored(other) == before
    assert set_aside(other).count() == 1
    assert set_aside(one).count() == 0


def test_a_thermometers_doubted_value_is_no_imports_to_settle():
    lot = woodlot()
    SetAside.objects.create(
        woodlot=lot,
        source=SetAside.Source.THERMOMETER,
        at=START,
        value_c=-85,
        reason="broken",
        noted_at=NOW,
    )
    made.imported(lot, START, [1.0])
    assert set_aside(lot).count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_imports_into_one_woodlot_at_once_lose_no_hour():
    lot = woodlot()
    together, faults = Barrier(2), []

    def bring(shift):
        try:
            together.wait()
            start = START + timedelta(hours=shift)
            actions.import_hours(woodlot=lot, record=record_of([float(shift)] * 24, start), now=NOW)
        except Exception as fault:
            faults.append(fault)
        finally:
            connection.close()

    threads = [Thread(target=bring, args=(shift,)) for shift in (0, 24)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert whole_record(lot).temps_c.tolist() == [0.0] * 24 + [24.0] * 24


@pytest.mark.parametrize(
    ("shift", "hours", "known"),
    [
        (0, 3, [1.0, 2.0, 3.0]),
        (-2, 3, [None, None, 1.0]),
        (2, 3, [3.0, None, None]),
        (-5, 2, [None, None]),
        (9, 2, [None, None]),
        (1, 1, [2.0]),
        (0, 0, []),
    ],
)
def test_a_span_is_cut_from_the_record_with_what_lies_outside_missing(shift, hours, known):
    lot = woodlot()
    made.imported(lot, START, [1.0, 2.0, 3.0])
    seen = observed_hours(lot, START + timedelta(hours=shift), hours)
    assert [None if np.isnan(value) else value for value in seen.temps_c] == known


def test_a_span_over_several_years_is_read_from_each_of_them():
    lot = woodlot()
    for year in (2022, 2024):
        made.imported(lot, datetime(year, 1, 1, tzinfo=UTC), [float(year - 2000)])
    hours = (datetime(2025, 1, 1, tzinfo=UTC) - datetime(2021, 1, 1, tzinfo=UTC)) // timedelta(
        hours=1
    )
    seen = observed_hours(lot, datetime(2021, 1, 1, tzinfo=UTC), hours)
    places = np.flatnonzero(np.isfinite(seen.temps_c)).tolist()
    # By hand: 2021 has 8,760 hours, and so have 2022 and 2023.
    assert places == [8760, 3 * 8760]
    assert seen.temps_c[places].tolist() == [22.0, 24.0]


def test_a_whole_record_begins_and_ends_with_a_known_hour():
    lot = woodlot()
    made.imported(lot, START, [None, 1.0, None, 2.0, None])
    record = whole_record(lot)
    assert record.start_at == START + timedelta(hours=1)
    assert record.temps_c.size == 3
    assert record.known_hours == 2


def test_a_record_emptied_again_is_no_record():
    lot = woodlot()
    made.imported(lot, START, [1.0])
    made.imported(lot, START, [None])
    assert whole_record(lot) is None


def test_a_record_joins_what_was_imported_with_what_was_sent():
    lot = woodlot()
    made.imported(lot, START, [1.0, 2.0])
    made.readings(made.thermometer(lot), START + timedelta(hours=1), [5.0, 6.0])
    record = whole_record(lot)
    assert record.temps_c.tolist() == [1.0, 5.0, 6.0]
    assert record.source == (
        "2 h from the woodlot's own thermometer and 1 h from an imported record"
    )


def test_records_of_many_woodlots_are_told_apart():
    lots = [woodlot(f"Lot {number}") for number in range(4)]
    for number, lot in enumerate(lots[:3]):
        made.imported(lot, START, [float(number)])
    found = own_records(lots)
    assert {pk: record.temps_c.tolist() for pk, record in found.items()} == {
        lot.pk: [float(number)] for number, lot in enumerate(lots[:3])
    }


def test_each_row_of_the_page_says_what_its_woodlot_has():
    bare, full = woodlot("Beech Ledge"), woodlot("Cold Brook", temperature_offset_c=-1.5)
    made.imported(full, START, [1.0, -85.0] * 12 + [2.0])
    made.reading(made.thermometer(full), START)
    first, second = recorded(Woodlot.objects.order_by("name"))
    assert (first.woodlot, first.years, first.thermometers, first.set_aside) == (bare, (), (), 0)
    assert (second.years, second.set_aside, second.offset_c) == ((2024, 2025), 12, -1.5)
    assert [(one.device.name, one.last_at) for one in second.thermometers] == [
        ("North wall", START)
    ]
