"""What must always hold about the operation, shown by expecting the database to refuse."""

import pytest
from django.db import IntegrityError, transaction

from apps.operation.models import CrewMember, Operation, SettingValue
from tests.factories.operation import FIXED_NOW

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("constraint", "fields"),
    [
        ("operation_is_the_only_one", {"pk": 2}),
        ("operation_unit_system_known", {"pk": 1, "unit_system": "furlongs"[:8]}),
        ("operation_has_a_name", {"pk": 1, "name": ""}),
        ("operation_has_a_time_zone", {"pk": 1, "time_zone": ""}),
    ],
)
def test_database_refuses_operation(constraint, fields):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        Operation.objects.create(**fields)


@pytest.mark.parametrize(
    ("constraint", "fields"),
    [
        ("setting_has_a_key", {"key": "", "value": "1"}),
        ("setting_has_a_value", {"key": "a.b", "value": ""}),
    ],
)
def test_database_refuses_setting(constraint, fields):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        SettingValue.objects.create(changed_at=FIXED_NOW, **fields)


def test_database_refuses_a_second_value_of_one_setting():
    SettingValue.objects.create(key="a.b", value="1", changed_at=FIXED_NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        SettingValue.objects.create(key="a.b", value="2", changed_at=FIXED_NOW)


def test_database_refuses_an_unknown_role():
    with pytest.raises(IntegrityError, match="crew_role_known"), transaction.atomic():
        CrewMember.objects.create(username="x", role="boss")
