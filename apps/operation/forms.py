"""Fields typed in the operation's units and cleaned to SI, for every form in the house."""

from collections.abc import Mapping
from typing import Any

from django import forms

from apps.operation import display


class QuantityField(forms.FloatField):
    """A number with a unit; inside a UnitForm it cleans to SI and shows what was stored."""

    def __init__(self, quantity: str, **kwargs: Any) -> None:
        self.quantity = quantity
        self.unit_system = "us"
        # The limits are SI and checked after conversion, so that one pair serves both systems.
        self.low_si: float | None = kwargs.pop("low_si", None)
        self.high_si: float | None = kwargs.pop("high_si", None)
        super().__init__(**kwargs)

    def use(self, unit_system: str) -> None:
        self.unit_system = unit_system
        unit = display.unit_for(self.quantity, unit_system)
        if unit.label:
            self.label = f"{self.label} ({unit.label})"
        self.widget.attrs.setdefault("step", "any")
        self.widget.attrs["inputmode"] = "decimal"

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            return display.shown_number(value, self.quantity, self.unit_system)
        return value

    def clean(self, value: Any) -> float | None:
        number = super().clean(value)
        if number is None:
            return None
        number_si = display.stored(number, self.quantity, self.unit_system)
        self._check(number_si)
        return number_si

    def _check(self, number_si: float) -> None:
        # Converting limits back and forth may move them by a rounding; forgive a billionth.
        for limit, word, outside in (
            (self.low_si, "under", lambda v, x: v < x - abs(x) * 1e-9),
            (self.high_si, "over", lambda v, x: v > x + abs(x) * 1e-9),
        ):
            if limit is not None and outside(number_si, limit):
                shown = display.shown(limit, self.quantity, self.unit_system)
                raise forms.ValidationError(f"Must not be {word} {shown}.", code=word)


class UnitForm(forms.Form):
    """A form that speaks the operation's units; `initial` is SI, `cleaned_data` is SI."""

    def __init__(self, *args: Any, unit_system: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, QuantityField):
                field.use(unit_system)
