"""The paper form typed in at the desk: whose walk it was, and one short row a line."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils import timezone

from apps.field.actions.paper import SheetRow
from apps.field.forms import vacuum_field
from apps.field.paper import STATE_OF_KEY, cause_numbers, check_uuid
from apps.leaks.models import MOST_DROPS, LeakCheck
from apps.leaks.standing import LineStanding
from apps.operation.forms import UnitForm
from apps.operation.models import CrewMember
from apps.woods.models import Line

# As long as a phone's records are taken.
OLDEST = timedelta(days=400)
WITHOUT_A_LEAK = (LeakCheck.State.TIGHT, LeakCheck.State.FROZEN)


class WalkForm(forms.Form):
    """What stands at the head of the sheet."""

    sheet = forms.UUIDField(widget=forms.HiddenInput)
    walked_on = forms.DateField(
        label="Walked on", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )
    # The hour decides which of two checks of a line is the later one.
    walked_at = forms.TimeField(
        label="About when", widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"})
    )
    crew = forms.ModelChoiceField(
        CrewMember.objects.filter(is_active=True).order_by("first_name", "username"),
        label="Who walked",
        empty_label=None,
    )

    def __init__(self, *args: Any, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = now
        choice = self.fields["crew"]
        choice.label_from_instance = lambda member: member.shown_name  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if "walked_on" in data and "walked_at" in data:
            walked = timezone.make_aware(datetime.combine(data["walked_on"], data["walked_at"]))
            if not self.now - OLDEST <= walked <= self.now:
                late = walked > self.now
                words = "That is still to come." if late else "That is over 400 days ago."
                self.add_error("walked_on", words)
            data["observed_at"] = walked
        return data


class RowForm(UnitForm):
    """One line of the sheet; a row left empty was not walked."""

    state = forms.CharField(required=False)
    vacuum_before = vacuum_field("Before", required=False)
    vacuum_after = vacuum_field("After", required=False)
    cause = forms.ChoiceField(
        required=False,
        choices=[("", ""), *((code, f"{n} {words}") for n, code, words in cause_numbers())],
    )
    place_drops = forms.IntegerField(required=False, min_value=0, max_value=MOST_DROPS)
    note = forms.CharField(required=False, max_length=500)

    def __init__(self, *args: Any, standing: LineStanding, **kwargs: Any) -> None:
        super().__init__(*args, prefix=f"line{standing.line.pk}", **kwargs)
        self.standing = standing

    @property
    def is_blank(self) -> bool:
        """Whether nothing at all was typed, told before anything is checked."""
        return not any(str(self[name].value() or "").strip() for name in self.fields)

    @property
    def state_words(self) -> str:
        state = STATE_OF_KEY.get(str(self["state"].value() or "").strip().upper())
        return str(state.label) if state else ""

    def clean_state(self) -> str:
        key = self.cleaned_data["state"].upper()
        if not key:
            raise forms.ValidationError("Say the state: T, F, L or Z.")
        if key not in STATE_OF_KEY:
            raise forms.ValidationError(f"{key} is no state: T, F, L or Z.")
        return str(STATE_OF_KEY[key])

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        # The database refuses it too; here the row and the column are said.
        if data.get("cause") and data.get("state") in WITHOUT_A_LEAK:
            self.add_error("cause", "A cause goes with a leak, fixed or left.")
        return data


class SheetForm:
    """The head and every row together: good when all that was typed is."""

    def __init__(
        self,
        data: QueryDict | None,
        *,
        standings: Sequence[LineStanding],
        unit_system: str,
        now: datetime,
        initial: dict[str, Any],
    ) -> None:
        self.head = WalkForm(data, now=now, initial=initial)
        self.rows = [
            RowForm(data, standing=standing, unit_system=unit_system) for standing in standings
        ]
        self.is_bound = data is not None
        # Why the sheet as a whole was not taken.
        self.refusal = ""

    @property
    def typed(self) -> list[RowForm]:
        return [row for row in self.rows if not row.is_blank]

    @property
    def wrong(self) -> list[RowForm]:
        """The rows to mend; a blank one has nothing wrong with it."""
        return [row for row in self.typed if row.errors] if self.is_bound else []

    def is_valid(self) -> bool:
        # All of them, so that every bad row is named at once.
        good = self.head.is_valid() and not self.wrong if self.is_bound else False
        if good and not self.typed:
            self.refusal = "No line has a state yet."
        return good and not self.refusal

    def refuse(self, line: Line, reason: str) -> None:
        """Mark the row that is at odds with the records."""
        row = next(row for row in self.rows if row.standing.line == line)
        row.add_error("state", reason)

    def sheet_rows(self) -> list[SheetRow]:
        sheet = self.head.cleaned_data["sheet"]
        return [_sheet_row(check_uuid(sheet, row.standing.line.pk), row) for row in self.typed]


def _sheet_row(uuid: Any, row: RowForm) -> SheetRow:
    answers = row.cleaned_data
    found = {
        "vacuum_before_kpa": answers["vacuum_before"],
        "vacuum_after_kpa": answers["vacuum_after"],
        "cause": answers["cause"],
        "place_drops": answers["place_drops"],
        "note": answers["note"],
    }
    return SheetRow(uuid, row.standing.line, answers["state"], found)
