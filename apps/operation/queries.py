"""What the operation is set to."""

from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

from django.db.models import QuerySet

from apps.operation import display
from apps.operation.catalogue import CHOICES, CONSTANTS, Choice, Constant
from apps.operation.models import CrewMember, Device, Operation, SettingValue

NOT_SET = "not set"


def current_operation() -> Operation:
    # A new database has no row yet, and every page needs one.
    return Operation.objects.get_or_create(pk=1)[0]


class Constants:
    """Every constant in use, read once: numbers in SI, choices as their key."""

    def __init__(self, changed: dict[str, str]) -> None:
        # Keys the catalogue knows and no others: a constant that was dropped leaves its row
        # behind.
        in_use = {row.key: changed.get(row.key, row.default) for row in CONSTANTS}
        self._numbers = {key: float(value) for key, value in in_use.items() if value is not None}
        self._choices = {row.key: changed.get(row.key, row.default) for row in CHOICES}
        self.changed = frozenset(changed)

    def number(self, key: str) -> float:
        return self._numbers[key]

    def own(self, key: str) -> float | None:
        """A number that has no default: None until the owner sets it."""
        return self._numbers.get(key)

    def choice(self, key: str) -> str:
        return self._choices[key]


def constants() -> Constants:
    return Constants(dict(SettingValue.objects.values_list("key", "value")))


@dataclass(frozen=True)
class SettingRow:
    """One constant as the settings page shows it."""

    key: str
    label: str
    group: str
    value: str
    default: str
    source: str
    changed_at: datetime | None
    changed_by: str


def _words(row: Constant | Choice, text: str | None, unit_system: str) -> str:
    if isinstance(row, Choice):
        return dict(row.options)[text or row.default]
    number = row.default if text is None else float(text)
    if number is None:
        return NOT_SET
    return display.shown(number, row.quantity, unit_system)


def setting_rows(unit_system: str) -> list[SettingRow]:
    changed = {row.key: row for row in SettingValue.objects.select_related("changed_by")}
    rows = []
    for row in (*CONSTANTS, *CHOICES):
        kept = changed.get(row.key)
        rows.append(
            SettingRow(
                key=row.key,
                label=row.label,
                group=row.group,
                value=_words(row, kept.value if kept else None, unit_system),
                default=_words(row, None, unit_system),
                source=row.source,
                changed_at=kept.changed_at if kept else None,
                changed_by=kept.changed_by.shown_name if kept and kept.changed_by else "",
            )
        )
    # Stable: within a group the order of the catalogue stays.
    return sorted(rows, key=lambda row: row.group)


def crew_members() -> QuerySet[CrewMember]:
    # Who has left stays listed, since records point to them, but at the end.
    return CrewMember.objects.order_by("-is_active", "username")


def hashed(token: str) -> str:
    return sha256(token.encode()).hexdigest()


def device_of(token: str) -> Device | None:
    """The device that may send with this token; None for a stranger or one that was stopped."""
    return Device.objects.filter(token_sha256=hashed(token), active=True).first()
