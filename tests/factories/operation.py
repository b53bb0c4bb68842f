"""People and the clock for tests."""

from datetime import UTC, datetime

from apps.operation.models import CrewMember, Operation
from apps.operation.queries import current_operation

FIXED_NOW = datetime(2026, 3, 16, 11, 0, tzinfo=UTC)
PASSWORD = "cold-hands-in-march"


def fixed_now() -> datetime:
    """07:00 on 16 March 2026 in New York: the middle of a season."""
    return FIXED_NOW


def operation(**changes) -> Operation:
    row = current_operation()
    for name, value in changes.items():
        setattr(row, name, value)
    row.save(update_fields=list(changes) or None)
    return row


def crew(username="sol", *, role="crew", first_name="") -> CrewMember:
    return CrewMember.objects.create_user(
        username, password=PASSWORD, role=role, first_name=first_name or username.title()
    )


def owner(username="ina") -> CrewMember:
    return crew(username, role="owner")
