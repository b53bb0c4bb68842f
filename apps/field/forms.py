"""One check as it is tapped in with gloves: line, state, save, and the rest only if wanted."""

from typing import Any, cast
from uuid import uuid4

from django import forms
from django.http import QueryDict

from apps.field.queries import NoSuchLine, SeveralLines, find_line
from apps.leaks.models import MOST_DROPS, VACUUM_HIGH_KPA, Cause, LeakCheck
from apps.operation.forms import QuantityField, UnitForm
from apps.woods.models import Line, Woodlot

MORE = ("vacuum_before", "vacuum_after", "cause", "place_drops", "note")


def vacuum_field(label: str, **kwargs: Any) -> QuantityField:
    field = QuantityField("vacuum", label=label, low_si=0, high_si=VACUUM_HIGH_KPA, **kwargs)
    field.widget.attrs["data-stepper"] = ""
    return field


class CheckForm(UnitForm):
    """A line, picked or typed, and the state it was found in."""

    uuid = forms.UUIDField(widget=forms.HiddenInput)
    # Not required by itself, since a line may be typed instead; clean() asks for one of the two.
    line = forms.ModelChoiceField(Line.objects.select_related("woodlot"), required=False)
    woodlot = forms.ModelChoiceField(
        Woodlot.objects.order_by("name"),
        required=False,
        label="In",
        empty_label="Any woodlot",
    )
    label = forms.CharField(required=False, label="Line number", max_length=24)
    # No state is set beforehand: a thumb that goes straight to Save must not report "tight".
    state = forms.ChoiceField(
        label="State",
        choices=LeakCheck.State.choices,
        error_messages={"required": "Touch one of the four states."},
    )
    vacuum_before = vacuum_field("Reading before", required=False)
    vacuum_after = vacuum_field("Reading after", required=False)
    cause = forms.ChoiceField(
        label="Cause", required=False, choices=[("", "Not said"), *Cause.choices]
    )
    place_drops = forms.IntegerField(
        label="Place: drops from the pump end",
        required=False,
        min_value=0,
        max_value=MOST_DROPS,
        # Brings up the large keys of the number pad.
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    note = forms.CharField(
        label="Note", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        # What was typed is meant: a line picked earlier may only be left over from before.
        if data.get("label"):
            data["line"] = self._typed_line(data)
        elif not data.get("line") and "line" not in self.errors:
            self.add_error("line", "Touch a line, or type its number.")
        # The database refuses it too; here it is said at the field, with the rest kept.
        if data.get("cause") and data.get("state") in ("tight", "frozen"):
            self.add_error("cause", "A cause goes with a leak, fixed or left.")
        # Nobody can mend an identifier that is out of sight: the page brings a new one.
        if "uuid" in self.errors:
            self.again_as_a_new_check()
        return data

    def _typed_line(self, data: dict[str, Any]) -> Line | None:
        try:
            return find_line(woodlot=data.get("woodlot"), typed=data["label"])
        except NoSuchLine:
            where = data.get("woodlot") or "any woodlot"
            self.add_error("label", f"No line {data['label']} in {where}.")
        except SeveralLines as several:
            self.add_error("label", f"More than one line fits: {several}. Type the whole label.")
        return None

    @property
    def more_is_open(self) -> bool:
        """Keep the optional part open when something in it was typed or needs mending."""
        # Asked of what was sent, since a field with an error has no cleaned value.
        return self.is_bound and any(self[name].value() or self[name].errors for name in MORE)

    @property
    def other_is_open(self) -> bool:
        """Keep a line number that was typed in sight."""
        return self.is_bound and bool(self["label"].value())

    def again_as_a_new_check(self) -> None:
        """The same answers under a fresh identifier, where the old one cannot be used."""
        data = cast("QueryDict", self.data).copy()
        data["uuid"] = str(uuid4())
        self.data = data


class ReadingAfterForm(UnitForm):
    """The reading that shows whether the fix worked."""

    vacuum_after = vacuum_field("Reading after the fix")
