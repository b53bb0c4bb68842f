"""Fields typed in the operation's units and cleaned to SI, for every form in the house."""

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth import password_validation

from apps.operation import display
from apps.operation.catalogue import JURISDICTIONS, Choice, Constant
from apps.operation.models import CrewMember, Operation


class QuantityField(forms.FloatField):
    """A number with a unit; inside a UnitForm it cleans to SI and shows what was stored."""

    def __init__(self, quantity: str, **kwargs: Any) -> None:
        self.quantity = quantity
        # A field is made once for all requests; use() tells the copy in a form its units.
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
        # Browsers refuse anything but whole numbers otherwise.
        self.widget.attrs.setdefault("step", "any")
        # A phone shows its digits at once, which gloves can hit.
        self.widget.attrs["inputmode"] = "decimal"

    def prepare_value(self, value: Any) -> Any:
        # Text is what was typed and refused: it goes back to the page untouched.
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            number = display.shown_number(value, self.quantity, self.unit_system)
            return int(number) if number.is_integer() else number
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
        unit = display.unit_for(self.quantity, self.unit_system)
        decimals = unit.decimals
        # "Not under 0" would contradict the refusal of a small amount: show enough of the limit.
        while limit_si and round(float(unit.show(limit_si)), decimals) == 0:
            decimals += 1
        limit = display.shown(limit_si, self.quantity, self.unit_system, decimals)
        # "in." ends with a point of its own.
        return forms.ValidationError(f"Must not be {word} {limit.rstrip('.')}.", code=word)


class UnitForm(forms.Form):
    """A form that speaks the operation's units; `initial` is SI, `cleaned_data` is SI."""

    def __init__(self, *args: Any, unit_system: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, QuantityField):
                field.use(unit_system)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in cleaned:
            # Saved as it was shown: the value kept is the finer one, not its rounding.
            if self._is_as_shown(name):
                cleaned[name] = self.initial[name]
        return cleaned

    def _is_as_shown(self, name: str) -> bool:
        field, kept = self.fields[name], self.initial.get(name)
        if kept is None or not isinstance(field, QuantityField):
            return False
        # Compared as text, as 12.0 typed over a shown 12 is a correction and no echo.
        return str(self[name].data).strip() == str(field.prepare_value(kept))


class ConstantForm(UnitForm):
    """The value of one constant."""

    def __init__(self, *args: Any, row: Constant, unit_system: str, **kwargs: Any) -> None:
        super().__init__(*args, unit_system=unit_system, **kwargs)
        field = QuantityField(row.quantity, label=row.label, low_si=row.low, high_si=row.high)
        field.use(unit_system)
        self.fields["value"] = field


class ChoiceForm(UnitForm):
    """One of the named alternatives of a choice."""

    def __init__(self, *args: Any, row: Choice, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["value"] = forms.ChoiceField(label=row.label, choices=row.options)


class OperationForm(forms.ModelForm):
    """What the operation is called, where it is and which units and rules it keeps."""

    jurisdiction = forms.ChoiceField(
        choices=JURISDICTIONS, help_text="Decides the density limits shown for syrup."
    )
    time_zone = forms.ChoiceField(
        choices=[(name, name) for name in sorted(available_timezones())],
        help_text="A day starts and ends at midnight here.",
    )

    class Meta:
        model = Operation
        fields = ["name", "place", "unit_system", "jurisdiction", "time_zone"]


class CrewForm(forms.ModelForm):
    """A new person with a first password, to be told to them in person."""

    password = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least 10 characters. Tell it to them in person.",
    )

    class Meta:
        model = CrewMember
        fields = ["username", "first_name", "role"]
        labels = {"username": "Sign-in name", "first_name": "Name shown"}
        help_texts = {"username": "Letters, digits and @ . + - _ only."}

    def clean_password(self) -> str:
        password = str(self.cleaned_data["password"])
        # Checked here and not on the model, so that the message stands at its field.
        password_validation.validate_password(password)
        return password


class CrewChangeForm(forms.ModelForm):
    """What a person may do, whether they may sign in at all, and where the brief goes."""

    class Meta:
        model = CrewMember
        fields = ["role", "email", "is_active"]
        labels = {"is_active": "May sign in", "email": "E-mail address"}
        help_texts = {
            "is_active": "Take the tick away when someone leaves: their records stay.",
            "email": "Owners with an address are sent the morning brief, where mail is set up.",
        }
