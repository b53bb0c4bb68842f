"""A record handed in as a file or as text, and the name and place of a thermometer."""

from datetime import datetime
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from apps.weather import payload
from apps.woods.models import Woodlot

# About nine years of hours; under the limit that the whole request is held to.
LARGEST_BYTES = 2_000_000
TOO_LARGE = "The record is larger than 2 MB. Hand it in by years, or use the command."


class WoodlotChoice(forms.ModelChoiceField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(Woodlot.objects.order_by("name"), **kwargs)


class RecordForm(forms.Form):
    """Hours measured in one woodlot; cleaned, `record` holds what was read."""

    woodlot = WoodlotChoice()
    sheet = forms.FileField(
        label="CSV file",
        required=False,
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,text/csv,text/plain"}),
    )
    text = forms.CharField(
        label="Or the rows as text",
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false", "wrap": "off"}),
    )

    def __init__(self, *args: Any, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = now

    def clean_sheet(self) -> str:
        upload: UploadedFile[bytes] | None = self.cleaned_data["sheet"]
        if upload is None:
            return ""
        if (upload.size or 0) > LARGEST_BYTES:
            raise forms.ValidationError(TOO_LARGE)
        try:
            return payload.decode(upload.read())
        except payload.NotHours as refusal:
            raise forms.ValidationError(str(refusal)) from refusal

    def clean_text(self) -> str:
        text = str(self.cleaned_data["text"])
        if len(text.encode()) > LARGEST_BYTES:
            raise forms.ValidationError(TOO_LARGE)
        return text

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if {"sheet", "text"} & set(self.errors):
            return cleaned
        # Whoever chooses a file means that file.
        rows = cleaned["sheet"] or cleaned["text"]
        field = "sheet" if cleaned["sheet"] else "text"
        if not rows.strip():
            self.add_error("sheet", "Choose a file, or paste the rows as text.")
            return cleaned
        try:
            cleaned["record"] = payload.read_hourly(rows, self.now)
        except payload.NotHours as refusal:
            self.add_error(field, str(refusal))
        return cleaned | {"rows": rows}


class ThermometerForm(forms.Form):
    """What a new thermometer is called and which woodlot's air it measures."""

    name = forms.CharField(max_length=80, help_text="As the crew calls it: North wall.")
    woodlot = WoodlotChoice()
