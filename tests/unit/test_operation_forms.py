"""A quantity field: typed in the operation's units, cleaned to SI, limits kept in SI."""

import pytest
from django import forms

from apps.operation.forms import QuantityField, UnitForm


class _Form(UnitForm):
    vacuum = QuantityField(
        "vacuum", label="Vacuum", low_si=0, high_si=26 * 3.386389, required=False
    )
    name = forms.CharField(required=False)


def _form(text, system="us"):
    return _Form({"vacuum": text}, unit_system=system)


def test_label_names_the_unit():
    assert _form("1").fields["vacuum"].label == "Vacuum (inHg)"
    assert _form("1", "metric").fields["vacuum"].label == "Vacuum (kPa)"


@pytest.mark.parametrize(
    ("text", "system", "kpa"),
    [("25.5", "us", 25.5 * 3.386389), ("85", "metric", 85.0), ("0", "us", 0.0)],
)
def test_typed_value_is_cleaned_to_si(text, system, kpa):
    form = _form(text, system)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["vacuum"] == pytest.approx(kpa, rel=1e-12)


def test_nothing_typed_stays_unknown():
    form = _form("")
    assert form.is_valid()
    assert form.cleaned_data["vacuum"] is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("26.1", "Must not be over 26.0 inHg."),
        ("-1", "Must not be under 0.0 inHg."),
        ("much", "Enter a number."),
        ("nan", "Enter a number."),
        ("inf", "Enter a number."),
    ],
)
def test_refusal_speaks_the_operations_units(text, said):
    form = _form(text)
    assert form.errors["vacuum"] == [said]
    assert form["vacuum"].value() == text


def test_value_at_the_limit_is_accepted_in_either_unit():
    assert _form("26").is_valid()
    assert _form(str(26 * 3.386389), "metric").is_valid()


def test_kept_value_is_shown_as_it_was_typed():
    form = _Form(initial={"vacuum": 25.5 * 3.386389}, unit_system="us")
    assert form["vacuum"].value() == 25.5


@pytest.mark.parametrize(
    ("kept_kpa", "shown"), [(25 * 3.386389, 'value="25"'), (25.5 * 3.386389, 'value="25.5"')]
)
def test_whole_numbers_show_without_a_point(kept_kpa, shown):
    assert shown in str(_Form(initial={"vacuum": kept_kpa}, unit_system="us")["vacuum"])


@pytest.mark.parametrize(
    ("text", "kpa"), [("25.2", 85.5), (" 25.2 ", 85.5), ("25.3", 25.3 * 3.386389), ("", None)]
)
def test_a_value_saved_as_it_was_shown_is_not_rounded(text, kpa):
    form = _Form({"vacuum": text}, initial={"vacuum": 85.5}, unit_system="us")
    assert form.is_valid(), form.errors
    assert form.cleaned_data["vacuum"] == (kpa and pytest.approx(kpa, rel=1e-12))


@pytest.mark.parametrize(
    ("quantity", "low_si", "system", "said"),
    [
        # A tenth of a litre is 0.026 gal: "under 0 gal" would contradict itself.
        ("volume", 0.1, "us", "Must not be under 0.03 gal."),
        ("volume", 0.1, "metric", "Must not be under 0.1 L."),
        ("volume", 0.0, "us", "Must not be under 0 gal."),
        # "in." has a point of its own, and a sentence ends once.
        ("depth", 25.4, "us", "Must not be under 1.00 in."),
        ("depth", 25.4, "metric", "Must not be under 2.5 cm."),
    ],
)
def test_refusal_names_a_limit_that_refuses(quantity, low_si, system, said):
    field = QuantityField(quantity, low_si=low_si)
    field.use(system)
    with pytest.raises(forms.ValidationError) as caught:
        field.clean("-1")
    assert caught.value.messages == [said]
