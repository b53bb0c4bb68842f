"""What the operation is set to."""

from apps.operation.catalogue import CHOICES, CONSTANTS
from apps.operation.models import Operation, SettingValue


def current_operation() -> Operation:
    return Operation.objects.get_or_create(pk=1)[0]


class Constants:
    """Every constant in use, read once: numbers in SI, choices as their key."""

    def __init__(self, changed: dict[str, str]) -> None:
        self._numbers = {row.key: float(changed.get(row.key, row.default)) for row in CONSTANTS}
        self._choices = {row.key: changed.get(row.key, row.default) for row in CHOICES}
        self.changed = frozenset(changed)

    def number(self, key: str) -> float:
        return self._numbers[key]

    def choice(self, key: str) -> str:
        return self._choices[key]


def constants() -> Constants:
    return Constants(dict(SettingValue.objects.values_list("key", "value")))
