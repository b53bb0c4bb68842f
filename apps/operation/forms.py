"""Fields typed in the operation's units and cleaned to SI, for every form in the house."""

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
        # Converting a limit back and forth may move it by a rounding: forgive a billionth.
        if self.low_si is not None and number_si < self.low_si - abs(self.low_si) * 1e-9:
            raise self._refusal("under", self.low_si)
        if self.high_si is not None and number_si > self.high_si + abs(self.high_si) * 1e-9:
            raise self._refusal("over", self.high_si)

    def _refusal(self, word: str, limit_si: float) -> forms.ValidationError:
        limit = display.shown(limit_si, self.quantity, self.unit_system)
        return forms.ValidationError(f"Must not be {word} {limit}.", code=word)


class UnitForm(forms.Form):
    """A form that speaks the operation's units; `initial` is SI, `cleaned_data` is SI."""

    def __init__(self, *args: Any, unit_system: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, QuantityField):
                field.use(unit_system)
