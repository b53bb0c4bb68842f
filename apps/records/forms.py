"""A sheet handed in: as a file, or as text typed, pasted or mended."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from apps.records import payload

# About 25,000 lines; under the limit that the whole request is held to.
LARGEST_BYTES = 2_000_000
TOO_LARGE = "The sheet is larger than 2 MB. Hand it in woodlot by woodlot."


class SheetForm(forms.Form):
    sheet = forms.FileField(
        label="CSV file",
        required=False,
        # An empty file is told in the words of this page and not in those of the framework.
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,text/csv,text/plain"}),
    )
    text = forms.CharField(
        label="Or the rows as text",
        required=False,
        # Kept to the letter: the preview stands for exactly what will be written.
        strip=False,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false", "wrap": "off"}),
    )
    digest = forms.CharField(required=False, widget=forms.HiddenInput())

    def clean_sheet(self) -> str:
        upload: UploadedFile[bytes] | None = self.cleaned_data["sheet"]
        if upload is None:
            return ""
        # By its size first: what is too large is not even read.
        if (upload.size or 0) > LARGEST_BYTES:
            raise forms.ValidationError(TOO_LARGE)
        try:
            return payload.decode(upload.read())
        except payload.NotASheet as refusal:
            raise forms.ValidationError(str(refusal)) from refusal

    def clean_text(self) -> str:
        text = str(self.cleaned_data["text"])
        # In bytes, as a file is measured: accented letters take two.
        if len(text.encode()) > LARGEST_BYTES:
            raise forms.ValidationError(TOO_LARGE)
        return text

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.errors and not (cleaned["sheet"] or cleaned["text"]).strip():
            self.add_error("sheet", "Choose a file, or paste the rows as text.")
        return cleaned

    @property
    def rows_as_text(self) -> str:
        """The file if there is one: whoever chooses a file means that file."""
        return str(self.cleaned_data["sheet"] or self.cleaned_data["text"])
