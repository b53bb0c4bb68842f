"""What is typed about the woods, in the operation's units."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import RegexValidator
from django.forms import model_to_dict

from apps.domain.line_path import NotAPath, Path
from apps.operation.forms import QuantityField, UnitForm
from apps.woods import limits, payload
from apps.woods.models import Landowner, Lease, Line, PumpHouse, Woodlot
from apps.woods.queries import label_order

NOT_SAID = [("", "not said")]


class DateInput(forms.DateInput):
    input_type = "date"

    def __init__(self) -> None:
        # Browsers give and take this form alone, whatever they show to people.
        super().__init__(format="%Y-%m-%d")


def _season_field(label: str) -> forms.IntegerField:
    return forms.IntegerField(
        label=label, required=False, min_value=limits.SEASON[0], max_value=limits.SEASON[1]
    )


def _range_field(
    quantity: str, label: str, limits_si: tuple[float, float], help_text: str = ""
) -> QuantityField:
    low, high = limits_si
    return QuantityField(
        quantity, label=label, required=False, low_si=low, high_si=high, help_text=help_text
    )


class LandownerForm(UnitForm):
    name = forms.CharField(max_length=120)
    phone = forms.CharField(max_length=40, required=False)
    email = forms.EmailField(required=False)
    address = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 3}))


class WoodlotForm(UnitForm):
    # The link on a tag is made of this name, and a tag cannot be asked to change.
    name = forms.CharField(
        max_length=80,
        help_text="Printed line tags carry this name: after a change, print them again.",
    )
    landowner = forms.ModelChoiceField(
        queryset=Landowner.objects.order_by("name"),
        required=False,
        empty_label="our own land",
    )
    latitude = forms.FloatField(
        min_value=-90, max_value=90, help_text="Degrees, north positive: 43.9021"
    )
    longitude = forms.FloatField(
        min_value=-180, max_value=180, help_text="Degrees, east positive: in America below zero"
    )
    elevation_m = QuantityField(
        "elevation",
        label="Elevation",
        low_si=limits.ELEVATION_M[0],
        high_si=limits.ELEVATION_M[1],
        help_text="At the middle of the stand: the forecast is corrected to this height.",
    )
    aspect = forms.ChoiceField(
        label="Slope faces", choices=[*NOT_SAID, *Woodlot.Aspect.choices], required=False
    )
    area_ha = QuantityField("area", label="Area", required=False, low_si=0.001, high_si=100_000)
    maple_share = QuantityField(
        "share", label="Maples among the trees", required=False, low_si=0, high_si=1
    )
    temperature_offset_c = QuantityField(
        "temperature_difference",
        label="Warmer than the forecast by",
        low_si=-10,
        high_si=10,
        initial=0,
        help_text="Below zero for a frost pocket; 0 until your own thermometer says otherwise.",
    )
    access = forms.CharField(
        label="Getting there",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Gate, road, where to leave the truck.",
    )


class PumpHouseForm(UnitForm):
    name = forms.CharField(max_length=80)
    elevation_m = QuantityField(
        "elevation",
        label="Elevation",
        required=False,
        low_si=limits.ELEVATION_M[0],
        high_si=limits.ELEVATION_M[1],
        help_text="Sets the highest vacuum the air allows there.",
    )
    pump = forms.CharField(max_length=120, required=False, help_text="Kind and size of the pump.")


class LeaseForm(UnitForm):
    landowner = forms.ModelChoiceField(queryset=Landowner.objects.order_by("name"))
    rule = forms.ChoiceField(choices=Lease.Rule.choices)
    # 0 is a rate too: some land is tapped for a few jars of syrup.
    rate_per_tap = forms.DecimalField(
        label="Rate per tap ($)",
        required=False,
        min_value=0,
        max_digits=8,
        decimal_places=4,
        help_text="For a fixed or an indexed lease.",
    )
    index_then = forms.DecimalField(
        label="Index when the rate was agreed",
        required=False,
        min_value=Decimal("0.001"),
        max_digits=10,
        decimal_places=3,
        help_text="For an indexed lease: the index figure the lease names.",
    )
    # In per cent, as leases are written; it is kept as a share.
    gross_share = forms.DecimalField(
        label="Share of gross (%)",
        required=False,
        min_value=Decimal("0.01"),
        max_value=100,
        decimal_places=2,
        help_text="For a share of gross sales.",
    )
    starts_on = forms.DateField(label="Starts on", widget=DateInput())
    ends_on = forms.DateField(label="Ends on", widget=DateInput())

    NEEDED = {
        "fixed": ("rate_per_tap",),
        "indexed": ("rate_per_tap", "index_then"),
        "share": ("gross_share",),
    }

    def clean_gross_share(self) -> Decimal | None:
        percent: Decimal | None = self.cleaned_data["gross_share"]
        return None if percent is None else percent / 100

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        # One complaint a field: a number that cannot be read is not missing as well.
        for name in self.NEEDED.get(cleaned.get("rule", ""), ()):
            if cleaned.get(name) is None and name not in self.errors:
                self.add_error(name, "This rule needs it.")
        starts, ends = cleaned.get("starts_on"), cleaned.get("ends_on")
        if starts and ends and ends <= starts:
            self.add_error("ends_on", "Must be after the day it starts.")
        return cleaned


def lease_as_typed(lease: Lease) -> dict[str, Any]:
    """What somebody would have typed for this lease: its share in per cent, if it has one."""
    given = model_to_dict(lease)
    if lease.gross_share is not None:
        given["gross_share"] = lease.share_percent_shown
    return given


class PathField(forms.CharField):
    """Where a line runs, typed or pasted as GeoJSON; empty is a line nobody has mapped."""

    widget = forms.Textarea(attrs={"rows": 4, "spellcheck": "false", "autocomplete": "off"})

    def prepare_value(self, value: Any) -> Any:
        # Text is what was typed and refused: it goes back to the page untouched.
        return payload.write_path(value) if isinstance(value, list | tuple) else value

    def clean(self, value: Any) -> Path | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return payload.read_path(text)
        except (payload.NotGeometry, NotAPath) as error:
            raise forms.ValidationError(f"This is no path of a line: {error}.") from error


class LineForm(UnitForm):
    label = forms.CharField(
        max_length=limits.LABEL_LETTERS,
        validators=[
            RegexValidator(
                limits.UNWRITABLE, "Holds a character that cannot be on a tag.", inverse_match=True
            )
        ],
        help_text="As on the tag in the woods: M1, L12.",
    )
    # What a line is for decides whether taps are expected on it, so it is always asked.
    kind = forms.ChoiceField(choices=Line.Kind.choices)
    parent = forms.ModelChoiceField(
        label="Runs into",
        queryset=Line.objects.none(),
        required=False,
        help_text="The next line on the way to the pump. What runs into this one moves with it.",
    )
    pump_house = forms.ModelChoiceField(
        queryset=PumpHouse.objects.none(),
        required=False,
        empty_label="that of the line it runs into",
    )
    planned_taps = forms.IntegerField(
        required=False,
        min_value=limits.PLANNED_TAPS[0],
        max_value=limits.PLANNED_TAPS[1],
        help_text="On this line itself, not its branches. Empty: not counted. 0: it has none.",
    )
    length_m = _range_field("length", "Length", limits.LENGTH_M)
    fall_m = _range_field("length", "Fall", limits.FALL_M)
    diameter_mm = _range_field("diameter", "Diameter", limits.DIAMETER_MM)
    walk_minutes = _range_field(
        "minutes", "Walk to it", limits.WALK_MINUTES, "Empty: the usual walk of the settings."
    )
    installed_season = _season_field("Put up in season")
    drops_installed_season = _season_field("Drops put on in season")
    geometry = PathField(
        label="Where it runs (GeoJSON)",
        required=False,
        help_text=(
            "From the pump end outwards, longitude first: [[-75.3, 43.9], [-75.301, 43.901]], a "
            "LineString or a Feature, with heights in metres or without. Empty: not mapped."
        ),
    )

    def __init__(
        self, *args: Any, woodlot: Woodlot, season: int, line: Line | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        # The action refuses other woodlots and the line itself too; here they are not on offer.
        others = Line.objects.filter(woodlot=woodlot)
        if line is not None:
            others = others.exclude(pk=line.pk)
        parents = self.fields["parent"]
        parents.queryset = others  # type: ignore[attr-defined]
        # Ordered here and not by the database, which would put L10 before L2.
        labels = sorted(others.values_list("pk", "label"), key=lambda one: label_order(one[1]))
        parents.choices = [("", "no other line"), *labels]  # type: ignore[attr-defined]
        houses = woodlot.pump_houses.order_by("name")
        self.fields["pump_house"].queryset = houses  # type: ignore[attr-defined]
        self.fields["planned_taps"].label = f"Taps planned for {season}"
