"""What may be changed about the operation, its constants and its crew."""

import secrets
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction

from apps.operation.catalogue import BY_KEY, Choice, Constant
from apps.operation.models import CrewMember, Device, Operation, SettingValue
from apps.operation.queries import hashed


class SettingRefused(ValueError):
    """The value is outside what the setting may be; the message says which values it may take."""


class CrewRefused(ValueError):
    """The change would lock everybody out of the operation."""


class DeviceRefused(ValueError):
    """The device cannot be added; the message says why."""


def _checked(key: str, value: float | str) -> str:
    row = BY_KEY.get(key)
    if row is None:
        raise SettingRefused(f"There is no setting called {key}.")
    if isinstance(row, Choice):
        # The form offers these alone, but a command or a script may ask for anything.
        names = [name for name, _ in row.options]
        if value not in names:
            raise SettingRefused(f"{row.label} must be one of {', '.join(names)}.")
        return str(value)
    return _checked_number(row, value)


def _checked_number(row: Constant, value: float | str) -> str:
    number = float(value)
    # A limit typed in inches comes back from kilopascals a rounding off.
    slack = 1e-9 * max(abs(row.low), abs(row.high))
    if not row.low - slack <= number <= row.high + slack:  # a NaN fails here too
        raise SettingRefused(f"{row.label} must be between {row.low:g} and {row.high:g}.")
    # The shortest text that reads back as the very same number.
    return repr(number)


def change_setting(*, key: str, value: float | str, now: datetime, by: CrewMember) -> None:
    """Keep the owner's value of one constant, in SI, in place of its default."""
    text = _checked(key, value)
    SettingValue.objects.update_or_create(
        key=key, defaults={"value": text, "changed_at": now, "changed_by": by}
    )


def restore_default(*, key: str) -> None:
    # No row is the default, so a default that improves later reaches this operation too.
    SettingValue.objects.filter(key=key).delete()


def describe_operation(
    *,
    operation: Operation,
    name: str,
    place: str,
    unit_system: str,
    jurisdiction: str,
    time_zone: str,
) -> None:
    operation.name, operation.place = name, place
    operation.unit_system, operation.jurisdiction = unit_system, jurisdiction
    operation.time_zone = time_zone
    operation.save(update_fields=["name", "place", "unit_system", "jurisdiction", "time_zone"])


def add_crew(*, username: str, first_name: str, role: str, password: str) -> CrewMember:
    return CrewMember.objects.create_user(
        username, password=password, first_name=first_name, role=role
    )


@transaction.atomic
def change_crew(
    *, member: CrewMember, role: str, is_active: bool, email: str | None = None
) -> None:
    """Change what a person may do; the last active owner stays one, or nobody could get back in.

    The address stays as it is where none is given.
    """
    member.role, member.is_active = role, is_active
    if email is not None:
        member.email = email
    member.save(update_fields=["role", "is_active", "email"])
    # Counted after the write and inside its transaction, so that two changes cannot both pass.
    if not CrewMember.objects.filter(role=CrewMember.Role.OWNER, is_active=True).exists():
        raise CrewRefused("The operation needs at least one owner who can sign in.")


@dataclass(frozen=True)
class NewDevice:
    """A device just added, with the token that is shown this once."""

    device: Device
    token: str


def add_device(*, name: str, now: datetime) -> NewDevice:
    """Let one instrument send readings. Raises DeviceRefused for a name already used."""
    token = secrets.token_urlsafe(32)
    try:
        with transaction.atomic():
            device = Device.objects.create(name=name, token_sha256=hashed(token), added_at=now)
    except IntegrityError as error:
        raise DeviceRefused(f"There is already a device called {name}.") from error
    return NewDevice(device, token)


def stop_device(*, device: Device) -> None:
    """Its token opens nothing from now on; what it sent stays."""
    Device.objects.filter(pk=device.pk).update(active=False)


def note_device_seen(*, device: Device, now: datetime) -> None:
    Device.objects.filter(pk=device.pk).update(seen_at=now)
