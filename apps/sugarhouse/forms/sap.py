from typing import Any

from django import forms

from apps.domain.errors import DomainError
from apps.operation.forms import QuantityField, UnitForm
from apps.sugarhouse.actions import Measurement
from apps.sugarhouse.forms.base import EntryForm
from apps.sugarhouse.models import SapIn, SapOut, Tank
from apps.woods.models import Woodlot

# No load, run or boil of a small producer comes near: more is a slip of the decimal point.
LARGEST_LITRES = 1e6
# A meter counts for years.
LARGEST_READING_LITRES = 1e9
Method = SapIn.Method


def woodlot_field(**kwargs: Any) -> "forms.ModelChoiceField[Woodlot]":
    return forms.ModelChoiceField(
        Woodlot.objects.order_by("name"), required=False, label="Woodlot", **kwargs
    )


# Prefetched: checking a depth asks the chosen tank for its table.
def tank_field(**kwargs: Any) -> "forms.ModelChoiceField[Tank]":
    tanks = Tank.objects.prefetch_related("dip_points").order_by("name")
    return forms.ModelChoiceField(tanks, **kwargs)


def reading_field(label: str, quantity: str, **kwargs: Any) -> QuantityField:
    limits = {"low_si": 0.0, "high_si": LARGEST_READING_LITRES}
    return QuantityField(quantity, label=label, **limits | kwargs)


def sugar_field(**kwargs: Any) -> QuantityField:
    return QuantityField("brix", label="Sugar of this sap", low_si=0.5, high_si=40, **kwargs)


class SapForm(EntryForm):
    """What every way of measuring sap asks besides its own readings."""

    method: str
    wrong_field = "end"

    woodlot = woodlot_field(empty_label="Choose one, or leave for bought sap")
    seller = forms.CharField(
        max_length=120, required=False, help_text="Only for bought sap, which is no woodlot's."
    )
    brix = sugar_field(
        required=False,
        help_text=(
            "Leave it empty if nobody measured it: it can be filled in later, and until then this "
            "sap can be neither predicted nor shared out."
        ),
    )
    share = QuantityField(
        "share",
        label="Share of this measurement that is this source's",
        # A share of nothing is no entry, and the database refuses it.
        low_si=0.001,
        high_si=1,
        help_text="100 unless a tank or meter is shared; then enter each source with its share.",
    )
    share_rule = forms.CharField(
        label="How it was shared",
        max_length=120,
        required=False,
        help_text="Only when under 100 %, such as: by set taps, 1,200 of 2,000.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {"share": 1.0} | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        # The readings belong between the source and the questions all methods share.
        # Django puts a subclass's own fields last.
        own = [name for name in self.fields if name not in SapForm.base_fields]
        before, after = ["uuid", "at", "woodlot", "seller"], ["brix", "share", "share_rule"]
        self.order_fields([*before, *own, *after])

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        self._check_source(cleaned)
        if cleaned.get("share", 1) < 1 and not cleaned.get("share_rule"):
            self.add_error("share_rule", "Say by which rule the measurement was shared.")
        # Readings are reckoned only when each stands: one message a mistake.
        if not self.errors:
            self._check_measured()
        return cleaned

    def _check_source(self, cleaned: dict[str, Any]) -> None:
        # One of them is refused already; a second message would be about nothing typed.
        if "woodlot" not in cleaned or "seller" not in cleaned:
            return
        if not cleaned["woodlot"] and not cleaned["seller"]:
            self.add_error("woodlot", "Choose a woodlot, or name the seller of bought sap.")
        elif cleaned["woodlot"] and cleaned["seller"]:
            self.add_error("seller", "Sap is a woodlot's or bought, not both: clear one of them.")

    def _check_measured(self) -> None:
        try:
            litres = self.measured().litres
        except DomainError as error:
            self.add_error(self.wrong_field, self.refusal(error))
            return
        # Each reading can be right by itself and their product be absurd.
        if not 0 < litres <= LARGEST_LITRES:
            self.add_error(self.wrong_field, f"This comes to {self.shown(litres, 'volume')}.")

    def measured(self) -> Measurement:
        """How the sap was measured, from a form found right so far."""
        typed = self.cleaned_data
        return Measurement(
            method=self.method,
            volume_litres=typed.get("volume"),
            tank=typed.get("tank"),
            start=typed.get("start"),
            end=typed.get("end"),
            rolls_over_at=self._rolled_over_at(typed),
            litres_per_count=typed.get("per_count"),
            share=typed["share"],
            # A rule left over in the field explains nothing about a whole measurement.
            share_rule=typed["share_rule"] if typed["share"] < 1 else "",
        )

    @staticmethod
    def _rolled_over_at(typed: dict[str, Any]) -> float | None:
        """Kept only where the readings fell, which is where it explains anything."""
        limit: float | None = typed.get("rolls_over_at")
        return limit if limit and typed["end"] < typed["start"] else None


class LoadForm(SapForm):
    method = Method.LOAD
    wrong_field = "volume"

    volume = QuantityField("volume", label="Sap hauled", low_si=0.1, high_si=LARGEST_LITRES)
    tank = tank_field(required=False, label="From tank", empty_label="Not from a listed tank")


class TankRiseForm(SapForm):
    method = Method.TANK_RISE

    tank = tank_field(label="Tank", empty_label="Choose the tank")
    start = reading_field("Depth before", "depth")
    end = reading_field("Depth after", "depth")


class MeterForm(SapForm):
    method = Method.METER

    start = reading_field("Meter before", "volume_fine")
    end = reading_field("Meter after", "volume_fine")
    rolls_over_at = reading_field(
        "Meter starts again at zero after",
        "volume_fine",
        required=False,
        help_text="Only if it passed its largest figure since the reading before.",
    )


class DumpCounterForm(SapForm):
    method = Method.DUMP_COUNTER

    start = reading_field("Counter before", "count")
    end = reading_field("Counter after", "count")
    per_count = QuantityField(
        "volume_fine",
        label="Sap per dump",
        low_si=0.01,
        high_si=10_000,
        help_text="Calibrate it: count the dumps that fill a tank you can dip.",
    )
    rolls_over_at = reading_field(
        "Counter starts again at zero after",
        "count",
        required=False,
        help_text="Such as 10000 for four figures; only if it passed that since.",
    )


SAP_FORMS: dict[str, type[SapForm]] = {
    str(form.method): form for form in (LoadForm, TankRiseForm, MeterForm, DumpCounterForm)
}


class SugarForm(UnitForm):
    """The sugar of sap that came in without a reading."""

    brix = sugar_field()


class SapOutForm(EntryForm):
    """Sap leaving one load unboiled; `there_litres` is what the load still holds."""

    kind = forms.ChoiceField(label="What became of it", choices=SapOut.Kind.choices)
    volume = QuantityField("volume", label="Sap", low_si=0.1, high_si=LARGEST_LITRES)
    reason = forms.CharField(label="Buyer, or why it was dumped", max_length=200)

    def __init__(self, *args: Any, there_litres: float, **kwargs: Any) -> None:
        kwargs["initial"] = {"volume": there_litres} | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        self.there_litres = there_litres

    def clean_volume(self) -> float:
        return self.all_if_as_shown(self.cleaned_data["volume"], self.there_litres)
