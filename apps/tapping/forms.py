"""What is typed about tapping, checked."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms

from apps.domain.tapping import season_of
from apps.operation.forms import QuantityField, UnitForm
from apps.tapping.models import CrewPlan
from apps.woods.models import Woodlot

# Sap runs between the end of autumn and leaf-out; a date outside is a slip of the finger.
RUN_MONTHS = (12, 1, 2, 3, 4, 5)


class DayInput(forms.DateInput):
    """A date picker; browsers exchange ISO dates whatever they show."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


def _refuse_future(day: date, today: date) -> date:
    if day > today:
        raise forms.ValidationError(f"Must not be after today, {today:%-d %B %Y}.")
    return day


class TallyForm(forms.Form):
    """Taps set on one line in one go; the quick buttons send only the number."""

    # Made with the page, so that the same press sent twice is known for one.
    uuid = forms.UUIDField(widget=forms.HiddenInput)
    taps_set = forms.IntegerField(
        label="Taps set", required=False, min_value=0, max_value=20000, help_text="In this go."
    )
    drops_renewed = forms.IntegerField(
        label="Drops renewed", required=False, min_value=0, max_value=20000
    )
    pair_hours = forms.FloatField(
        label="Hours, one pair",
        required=False,
        # Three minutes: a shorter go gives no pace worth the name, and nought would divide by it.
        min_value=0.05,
        max_value=24,
        help_text="Gives your own pace. Leave it empty if you did not watch the clock.",
    )
    tallied_on = forms.DateField(label="Day", required=False, widget=DayInput)
    finishes_line = forms.BooleanField(
        label="This line is finished", required=False, help_text="Whatever was planned."
    )
    note = forms.CharField(
        label="Note", required=False, max_length=200, help_text="Trees passed over, and why."
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_taps_set(self) -> int:
        return self.cleaned_data["taps_set"] or 0

    def clean_drops_renewed(self) -> int:
        return self.cleaned_data["drops_renewed"] or 0

    def clean_tallied_on(self) -> date:
        # The quick buttons send no day: they mean today.
        return _refuse_future(self.cleaned_data["tallied_on"] or self.today, self.today)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        said = ("taps_set", "drops_renewed", "finishes_line")
        # Nought taps and nothing else would be a row that says nothing, which no row may be.
        if not self.errors and not any(data.get(name) for name in said):
            self.add_error("taps_set", "Type the taps set, or the drops renewed, or say finished.")
        return data


class FindLineForm(forms.Form):
    """Which lines to list."""

    woodlot = forms.ModelChoiceField(
        Woodlot.objects.order_by("name"), required=False, empty_label="All woodlots"
    )
    line = forms.CharField(label="Line label", required=False, max_length=24)
    everything = forms.BooleanField(label="Finished lines too", required=False)


class FirstRunForm(forms.Form):
    """The day sap was first gathered in one season."""

    woodlot = forms.ModelChoiceField(
        Woodlot.objects.order_by("name"),
        label="Where",
        required=False,
        empty_label="Whole operation",
    )
    ran_on = forms.DateField(
        label="First sap gathered on",
        widget=DayInput,
        help_text="From your own records: the first day you gathered sap.",
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_ran_on(self) -> date:
        day: date = self.cleaned_data["ran_on"]
        # Before the future is asked about: a wrong month is the likelier slip and the better hint.
        if day.month not in RUN_MONTHS:
            raise forms.ValidationError("A first run comes between December and May.")
        return _refuse_future(day, self.today)


class CrewPlanForm(forms.Form):
    """How one season's tapping is meant to be worked."""

    pairs = forms.IntegerField(label="Pairs tapping", min_value=1, max_value=20)
    hours_per_day = forms.FloatField(label="Hours tapping a day", min_value=0.5, max_value=16)
    lost_days = forms.IntegerField(
        label="Days lost to weather",
        min_value=0,
        max_value=30,
        help_text="Used only beyond the reach of the forecast.",
    )
    rest_day = forms.ChoiceField(label="Day of rest", choices=CrewPlan.RestDay.choices)
    accept_missing = forms.IntegerField(
        label="First runs we accept to miss, in 10 seasons", min_value=0, max_value=9
    )
    ready_morning = forms.DateField(
        label="Own morning to be ready by",
        required=False,
        widget=DayInput,
        help_text="Goes before the first runs on record. Leave it empty to use those.",
    )

    def __init__(self, *args: Any, season: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.season = season

    def clean_ready_morning(self) -> date | None:
        day: date | None = self.cleaned_data["ready_morning"]
        # A morning of another year would move the whole plan by a year, silently.
        if day and season_of(day) != self.season:
            raise forms.ValidationError(
                f"Must lie in season {self.season}: "
                f"1 December {self.season - 1} to 30 November {self.season}."
            )
        return day


class SnowForm(UnitForm):
    """Snow seen on one day; only the woodlots typed are recorded."""

    seen_on = forms.DateField(label="Seen on", widget=DayInput)

    def __init__(self, *args: Any, woodlots: Iterable[Woodlot], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for woodlot in woodlots:
            field = QuantityField("snow", label=woodlot.name, required=False, low_si=0, high_si=5)
            # The fields made here come after the form has told its own fields the unit.
            field.use(kwargs["unit_system"])
            self.fields[f"snow_{woodlot.pk}"] = field
        self.today = today

    def clean_seen_on(self) -> date:
        return _refuse_future(self.cleaned_data["seen_on"], self.today)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not self.errors and not self.depths_m:
            self.add_error(None, "Type the snow of at least one woodlot.")
        return data

    @property
    def depths_m(self) -> dict[int, float]:
        return {
            int(name.removeprefix("snow_")): depth_m
            for name, depth_m in self.cleaned_data.items()
            if name.startswith("snow_") and depth_m is not None
        }
