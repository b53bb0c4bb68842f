"""A file handed in: as a file, as text typed, pasted or mended, or as one kept from before."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.db.models import QuerySet

from apps.records import payload
from apps.records.payload import TrackChoice
from apps.woods import limits
from apps.woods.models import Line, Woodlot

# Five thousand lines of forty points each; more is handed in woodlot by woodlot.
LARGEST_BYTES = 20_000_000
# Text comes with the rest of the form, which is held to a limit of its own.
LARGEST_TEXT_BYTES = 2_000_000
TOO_LARGE = f"The file is larger than {LARGEST_BYTES // 10**6} MB. Hand it in woodlot by woodlot."
TEXT_TOO_LARGE = (
    f"The text is larger than {LARGEST_TEXT_BYTES // 10**6} MB. Hand it in as a file instead."
)


class SheetForm(forms.Form):
    sheet = forms.FileField(
        label="CSV, GeoJSON or GPX file",
        required=False,
        # An empty file is told in the words of this page and not in those of the framework.
        allow_empty_file=True,
        widget=forms.FileInput(
            attrs={"accept": ".csv,.geojson,.json,.gpx,text/csv,text/plain,application/geo+json"}
        ),
    )
    text = forms.CharField(
        label="Or its text",
        required=False,
        # Kept to the letter: the preview stands for exactly what will be written.
        strip=False,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false", "wrap": "off"}),
    )
    woodlot = forms.ModelChoiceField(
        label="Woodlot of the tracks",
        queryset=Woodlot.objects.none(),
        required=False,
        empty_label="not a GPX file",
    )
    kind = forms.ChoiceField(
        label="New lines among them are",
        choices=[("", "what the file says"), *Line.Kind.choices],
        required=False,
    )
    label = forms.CharField(
        label="Label, if it is one track",
        max_length=limits.LABEL_LETTERS,
        required=False,
        help_text="Empty: the name of each track is the label of its line.",
    )
    from_far_end = forms.BooleanField(
        label="Walked from the far end towards the pump",
        required=False,
        help_text="A line is kept from its pump end outwards; this turns the tracks round.",
    )
    handed = forms.IntegerField(required=False, widget=forms.HiddenInput())
    digest = forms.CharField(required=False, widget=forms.HiddenInput())

    TRACKS = ("woodlot", "kind", "label", "from_far_end")

    def __init__(self, *args: Any, woodlots: QuerySet[Woodlot], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["woodlot"].queryset = woodlots  # type: ignore[attr-defined]

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
        if len(text.encode()) > LARGEST_TEXT_BYTES:
            raise forms.ValidationError(TEXT_TOO_LARGE)
        return text

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        told = self.errors or cleaned["handed"] or (cleaned["sheet"] or cleaned["text"]).strip()
        if not told:
            self.add_error("sheet", "Choose a file, or paste its text.")
        return cleaned

    @property
    def rows_as_text(self) -> str:
        """The file if there is one: whoever chooses a file means that file."""
        return str(self.cleaned_data["sheet"] or self.cleaned_data["text"])

    @property
    def tracks(self) -> TrackChoice:
        chosen = self.cleaned_data
        woodlot = chosen["woodlot"]
        return TrackChoice(
            woodlot=woodlot.name if woodlot else "",
            kind=chosen["kind"],
            label=chosen["label"],
            from_far_end=chosen["from_far_end"],
        )

    @property
    def track_fields(self) -> dict[str, Any]:
        """What was chosen for tracks, to stand in the form that comes back."""
        return {name: self.data.get(name) for name in self.TRACKS}
