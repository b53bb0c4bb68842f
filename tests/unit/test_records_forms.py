"""A sheet handed in as a file, as text, as both or as nothing."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from apps.records import forms
from apps.records.forms import SheetForm
from apps.woods.models import Woodlot

HEAD = "woodlot,label,kind"


def form(text="", data=None, name="lines.csv"):
    files = {} if data is None else {"sheet": SimpleUploadedFile(name, data)}
    return SheetForm({"text": text}, files, woodlots=Woodlot.objects.none())


@pytest.mark.parametrize(
    ("text", "data", "read"),
    [
        (HEAD, None, HEAD),
        ("", HEAD.encode(), HEAD),
        (HEAD, b"from the file", "from the file"),
        (HEAD, b"", HEAD),
        ("", HEAD.encode("utf-8-sig"), HEAD),
        (f"  {HEAD}\n", None, f"  {HEAD}\n"),
    ],
)
def test_whoever_chooses_a_file_means_that_file(text, data, read):
    handed_in = form(text, data)
    assert handed_in.is_valid()
    assert handed_in.rows_as_text == read


@pytest.mark.parametrize(
    ("text", "data"),
    [("", None), (" \n\t", None), ("", b""), ("", b"  \r\n"), ("", b"\xef\xbb\xbf")],
)
def test_nothing_at_all_is_asked_for_again(text, data):
    assert list(form(text, data).errors) == ["sheet"]


@pytest.mark.parametrize(("over", "fits"), [(0, True), (1, False)])
def test_a_file_may_be_twenty_megabytes_and_no_more(over, fits):
    assert form(data=b"x" * (forms.LARGEST_BYTES + over)).is_valid() is fits


@pytest.mark.parametrize(
    ("letters", "fits"), [(forms.LARGEST_TEXT_BYTES // 2, True), (10**6 + 1, False)]
)
def test_pasted_text_is_measured_in_bytes_as_a_file_is(letters, fits):
    handed_in = form("é" * letters)
    assert handed_in.is_valid() is fits
    assert handed_in.errors.get("text", []) == ([] if fits else [forms.TEXT_TOO_LARGE])


def test_a_file_that_is_no_text_is_blamed_at_the_file_and_the_text_stays():
    handed_in = form(HEAD, "Érable".encode("latin-1"))
    assert "not UTF-8 text" in handed_in.errors["sheet"][0]
    assert handed_in["text"].value() == HEAD


@pytest.mark.parametrize("name", ["lines.csv", "LINES.TXT", "no-ending"])
def test_what_counts_is_in_the_file_and_not_its_name(name):
    assert form(data=HEAD.encode(), name=name).is_valid()
