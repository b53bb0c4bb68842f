"""What the database refused during the tests is noted, so that no constraint goes untried."""

import re
from collections.abc import Iterator

import pytest
from django.apps import apps
from django.db import IntegrityError, connection
from django.db.models import CheckConstraint, UniqueConstraint

# SQLite names a check and PostgreSQL any constraint; SQLite names the columns of a unique one.
NAMED = re.compile(r"(?:CHECK constraint failed: |constraint \")(\w+)|index '(\w+)'")
COLUMNS = re.compile(r"UNIQUE constraint failed: (.+)")


def constraints() -> Iterator[tuple[str, frozenset[str] | None]]:
    """Each constraint's name, with the columns of a plain unique one."""
    for model in apps.get_models():
        if not model.__module__.startswith("apps."):
            continue
        for constraint in model._meta.constraints:
            columns = None
            if isinstance(constraint, UniqueConstraint):
                table = model._meta.db_table
                fields = [model._meta.get_field(name).column for name in constraint.fields]
                columns = frozenset(f"{table}.{column}" for column in fields)
            if isinstance(constraint, (CheckConstraint, UniqueConstraint)):
                yield constraint.name, columns


class Refusals:
    """Names of constraints by which the database refused something so far."""

    def __init__(self) -> None:
        self.names: set[str] = set()

    def __call__(self, execute, sql, params, many, context):
        try:
            return execute(sql, params, many, context)
        except IntegrityError as error:
            self.note(str(error))
            raise

    def note(self, message: str) -> None:
        for found in NAMED.finditer(message):
            self.names.add(found.group(1) or found.group(2))
        if match := COLUMNS.search(message):
            columns = frozenset(match.group(1).split(", "))
            self.names |= {name for name, own in constraints() if own == columns}


SEEN = Refusals()


@pytest.fixture(autouse=True)
def note_refusals():
    with connection.execute_wrapper(SEEN):
        yield


@pytest.fixture
def refusals() -> Refusals:
    return SEEN


def pytest_collection_modifyitems(items) -> None:
    """The audit of refusals comes after every test that could cause one."""
    items.sort(key=lambda item: "test_refusals_audit" in item.nodeid)
