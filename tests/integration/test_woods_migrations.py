"""Records from before a rule was made come through its migration."""

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

BEFORE = [("woods", "0002_lease_terms_present")]
AFTER = [("woods", "0003_walk_within_a_day")]


def migrate(target):
    executor = MigrationExecutor(connection)
    executor.migrate(target)
    return MigrationExecutor(connection).loader.project_state(target).apps


@pytest.fixture
def the_past(transactional_db):
    yield migrate(BEFORE)
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


@pytest.mark.parametrize(("before", "after"), [(1440, 1440), (1441, None), (None, None)])
def test_a_walk_longer_than_a_day_is_forgotten_and_others_stay(the_past, before, after):
    place = {"latitude": 43.9, "longitude": -75.3, "elevation_m": 400}
    lot = the_past.get_model("woods", "Woodlot").objects.create(name="North", **place)
    lines = the_past.get_model("woods", "Line").objects
    lines.create(woodlot=lot, label="M1", kind="main", walk_minutes=before)
    now = migrate(AFTER)
    assert now.get_model("woods", "Line").objects.get().walk_minutes == after
