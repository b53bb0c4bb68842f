"""What may be tried out on the start-date page without saving anything."""

from datetime import date
from typing import Any

from django import forms

from apps.domain.tapping import season_of
from apps.tapping.forms import RUN_MONTHS, DayInput


class AskForm(forms.Form):
    """Another morning to be ready by, another day to start."""

    ready = forms.DateField(label="Ready by the morning of", required=False, widget=DayInput)
    start = forms.DateField(label="Or start on", required=False, widget=DayInput)

    def __init__(self, *args: Any, season: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.season = season

    def _in_season(self, name: str) -> date | None:
        day: date | None = self.cleaned_data[name]
        if day and (season_of(day) != self.season or day.month not in RUN_MONTHS):
            raise forms.ValidationError(
                f"Must lie between 1 December {self.season - 1} and 31 May {self.season}."
            )
        return day

    def clean_ready(self) -> date | None:
        return self._in_season("ready")

    def clean_start(self) -> date | None:
        return self._in_season("start")
