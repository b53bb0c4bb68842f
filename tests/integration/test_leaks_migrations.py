"""Gauge readings from before they had identifiers each get one of their own."""

from datetime import timedelta

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from tests.factories.operation import FIXED_NOW

BEFORE = [("leaks", "0003_gauge_readings_taken_back")]
AFTER = [("leaks", "0004_from_the_phone")]


def migrate(target):
    MigrationExecutor(connection).migrate(target)
    return MigrationExecutor(connection).loader.project_state(target).apps


@pytest.fixture
def the_past(transactional_db):
    yield migrate(BEFORE)
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def readings(past, count):
    place = {"latitude": 43.9, "longitude": -75.3, "elevation_m": 400}
    lot = past.get_model("woods", "Woodlot").objects.create(name="North", **place)
    house = past.get_model("woods", "PumpHouse").objects.create(woodlot=lot, name="Lower")
    model = past.get_model("leaks", "GaugeReading")
    rows = [
        model(pump_house=house, read_at=FIXED_NOW - timedelta(hours=hour), vacuum_kpa=80 + hour)
        for hour in range(count)
    ]
    return model.objects.bulk_create(rows)


def test_each_reading_gets_its_own_and_keeps_its_number(the_past):
    rows = readings(the_past, 12)
    now = migrate(AFTER).get_model("leaks", "GaugeReading").objects.order_by("pk")
    assert len({row.uuid for row in now if row.uuid}) == 12
    assert [row.vacuum_kpa for row in now] == [row.vacuum_kpa for row in rows]


def test_it_can_be_taken_down_again_and_loses_no_reading(the_past):
    readings(the_past, 3)
    migrate(AFTER)
    past = migrate(BEFORE).get_model("leaks", "GaugeReading")
    assert past.objects.count() == 3
