from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from django import forms
from django.utils import timezone

from apps.domain.errors import DomainError, OutOfRange
from apps.domain.tapping import season_of
from apps.operation import display
from apps.operation.forms import UnitForm
from apps.sugarhouse.readings import ReadingsDoNotRise

# A field cut to minutes can lie a little ahead of the clock that filled it in.
SLACK = timedelta(minutes=2)
# Converting a figure there and back moves it by less than this.
SAME_LITRES = 1e-6


class MomentField(forms.DateTimeField):
    """A date and time of the operation's own clock, typed in one field."""

    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")


class EntryForm(UnitForm):
    """One entry in the books: made once however often it is sent, and never ahead of time."""

    uuid = forms.UUIDField(widget=forms.HiddenInput)
    at = MomentField(label="When")

    def __init__(self, *args: Any, now: datetime, **kwargs: Any) -> None:
        # Minted when the form is shown: going back and saving again is the same entry.
        kwargs["initial"] = {"uuid": uuid4(), "at": now} | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        self.now = now
        self.unit_system: str = kwargs["unit_system"]

    def clean_at(self) -> datetime:
        at: datetime = self.cleaned_data["at"]
        if at > self.now + SLACK:
            raise forms.ValidationError("This time is still to come.")
        return at

    @property
    def season(self) -> int:
        # By the local day: at midnight of 30 November the new season has begun.
        return season_of(timezone.localtime(self.cleaned_data["at"]).date())

    def shown(self, value_si: float, quantity: str) -> str:
        return display.shown(value_si, quantity, self.unit_system)

    def all_if_as_shown(self, litres: float, there_litres: float) -> float:
        """What is there, if what was typed is a rounded figure the pages show of it."""
        # Lists show whole gallons, small rests and this form hundredths: either was read off a
        # page.
        for quantity in ("volume", "volume_fine"):
            rounded = display.shown_number(there_litres, quantity, self.unit_system)
            if abs(litres - display.stored(rounded, quantity, self.unit_system)) < SAME_LITRES:
                return there_litres
        return litres

    def refusal(self, error: DomainError) -> str:
        """The arithmetic's refusal in the units that were typed."""
        if isinstance(error, ReadingsDoNotRise):
            return "The end must be above the start."
        # The arithmetic speaks millimetres, the stick in the tank may not.
        if isinstance(error, OutOfRange) and error.name == "depth_mm":
            low, high = self.shown(error.low, "depth"), self.shown(error.high, "depth")
            typed = self.shown(error.value, "depth").rstrip(".")
            return f"This tank reads from {low} to {high}, not {typed}."
        return f"These readings make no volume: {error}."
