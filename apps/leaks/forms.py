"""What the gauge in a pump house showed, and that something is gone from a line."""

from datetime import datetime
from typing import Any
from uuid import uuid4

from django import forms
from django.utils import timezone

from apps.leaks.models import VACUUM_HIGH_KPA
from apps.operation.forms import QuantityField, UnitForm
from apps.woods.models import PumpHouse


class PumpHouseChoice(forms.ModelChoiceField):
    """Pump houses by woodlot, since two may share a name."""

    def label_from_instance(self, obj: PumpHouse) -> str:
        return f"{obj.woodlot.name}: {obj.name}"


class MomentInput(forms.DateTimeInput):
    """A date and time to the minute; browsers exchange them in one form whatever they show."""

    input_type = "datetime-local"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%dT%H:%M")


class GaugeForm(UnitForm):
    """One reading; one over the ceiling is kept and marked, not refused."""

    uuid = forms.UUIDField(widget=forms.HiddenInput)
    pump_house = PumpHouseChoice(
        PumpHouse.objects.select_related("woodlot").order_by("woodlot__name", "name"),
        label="Pump house",
    )
    # Over the ceiling is let through up to what a broken dial may show: a fault worth knowing.
    vacuum = QuantityField("vacuum", label="Vacuum", low_si=0, high_si=VACUUM_HIGH_KPA)
    read_at = forms.DateTimeField(label="Read at", widget=MomentInput)
    note = forms.CharField(label="Note", required=False, max_length=200)

    def __init__(self, *args: Any, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = now
        self.fields["read_at"].initial = timezone.localtime(now)
        # Minted with the page: sent twice over a weak signal it is one reading.
        self.fields["uuid"].initial = uuid4

    def clean_read_at(self) -> datetime:
        moment: datetime = self.cleaned_data["read_at"]
        # A slip of the year would else stand first in the list until that year comes.
        if moment > self.now:
            raise forms.ValidationError("Must not be after now.")
        return moment


class ClearingForm(forms.Form):
    """One button; it carries the identifier made with its page."""

    uuid = forms.UUIDField(widget=forms.HiddenInput)
