from typing import Any

from django import forms
from django.utils import timezone

from apps.operation.forms import QuantityField
from apps.sugarhouse import queries
from apps.sugarhouse.forms.base import EntryForm, MomentField
from apps.sugarhouse.forms.sap import LARGEST_LITRES
from apps.sugarhouse.models import SapIn

# As many questions as a form on a phone bears; the rest is drawn by the one figure.
MOST_LOADS_LISTED = 12


class BatchForm(EntryForm):
    """One boil: its sap by one figure, oldest first, or load by load; and the syrup drawn."""

    at = MomentField(label="Last draw-off")
    sap = QuantityField(
        "volume",
        label="Sap boiled, oldest first",
        required=False,
        low_si=0.1,
        high_si=LARGEST_LITRES,
        help_text="Leave empty when you name the loads below.",
    )
    syrup = QuantityField("volume_fine", label="Syrup drawn", low_si=0.01, high_si=LARGEST_LITRES)
    syrup_brix = QuantityField("brix", label="Syrup density", low_si=60, high_si=70)
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, loads: tuple[SapIn, ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # Oldest first, as stock gives them: the ones a boil would take anyway.
        self.listed = loads[:MOST_LOADS_LISTED]
        for load in self.listed:
            field = QuantityField(
                "volume",
                # By the local day: an evening's load is already tomorrow's in UTC.
                label=f"Sap {load.origin}, {timezone.localtime(load.at):%d %b}",
                required=False,
                # Nothing from this load is an answer too.
                low_si=0.0,
                high_si=LARGEST_LITRES,
                help_text=f"{self.shown(load.remaining_litres, 'volume_fine')} there.",
            )
            field.use(self.unit_system)
            self.fields[f"draw_{load.pk}"] = field

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        # Dropping it silently would boil less than the crew meant to enter.
        if self._names_a_load_not_listed():
            raise forms.ValidationError("A load you named is used up by now: look again.")
        if self.errors:
            return cleaned
        draws = self.draws()
        if bool(draws) == bool(cleaned["sap"]):
            self.add_error("sap", "Give the sap boiled here, or load by load below: one of them.")
        elif cleaned["sap"]:
            cleaned["sap"] = self._all_of_it_if_shown(cleaned["sap"])
        return cleaned

    def draws(self) -> dict[int, float]:
        """Litres by load, where loads were named; a figure as shown means all of that load."""
        found = {}
        for load in self.listed:
            litres = self.cleaned_data.get(f"draw_{load.pk}")
            if litres:
                found[load.pk] = self.all_if_as_shown(litres, load.remaining_litres)
        return found

    def _names_a_load_not_listed(self) -> bool:
        named = {key for key, value in self.data.items() if key.startswith("draw_") and value}
        return not named <= set(self.fields)

    def _all_of_it_if_shown(self, litres: float) -> float:
        # What was on hand by the last draw-off, which may be hours before this is typed.
        stock = queries.stock(self.season, self.cleaned_data["at"])
        return self.all_if_as_shown(litres, stock.litres)
