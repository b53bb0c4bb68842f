"""The settings page: every constant with its default and source, changed by owners only."""

from html import unescape

import pytest
from django.urls import reverse

from apps.domain import units
from apps.operation import actions, queries
from apps.operation.catalogue import BY_KEY, CHOICES, CONSTANTS, PRACTICE
from tests.factories import operation as people

KEY = "leaks.target_vacuum_kpa"


def _change(client, key, value):
    return client.post(reverse("operation:change_setting", args=[key]), {"value": value})


def test_settings_page_shows_every_constant_with_its_source(owner_client):
    page = unescape(owner_client.get(reverse("operation:settings")).content.decode())
    for row in (*CONSTANTS, *CHOICES):
        assert row.label in page
    assert page.count("Source:") == len(BY_KEY)
    assert PRACTICE in page


def test_every_default_lies_within_its_own_limits():
    for row in CONSTANTS:
        if row.default is not None:
            assert row.low <= row.default <= row.high, row.key
    for choice in CHOICES:
        assert choice.default in dict(choice.options), choice.key


def test_owner_types_inches_and_kilopascals_are_kept(owner_client, owner):
    assert _change(owner_client, KEY, "25.5").status_code == 302
    kept = queries.constants().number(KEY)
    assert kept == pytest.approx(25.5 * 3.386389, rel=1e-12)  # NIST SP 811, app. B.8
    row = next(row for row in queries.setting_rows("us") if row.key == KEY)
    assert (row.value, row.default, row.changed_by) == ("25.5 inHg", "26.0 inHg", "Ina")


def test_a_figure_without_a_default_is_unknown_until_the_owner_sets_it(owner_client):
    key = "season.syrup_price"
    page = owner_client.get(reverse("operation:settings")).content.decode()
    assert "yours to set" in page
    assert queries.constants().own(key) is None
    assert owner_client.get(reverse("operation:change_setting", args=[key])).status_code == 200
    _change(owner_client, key, "40")
    # 40 dollars a gallon over 3.785411784 litres a gallon: NIST SP 811, app. B.8.
    assert queries.constants().own(key) == pytest.approx(10.5669, abs=1e-4)
    row = next(row for row in queries.setting_rows("us") if row.key == key)
    assert (row.value, row.default) == ("40.00 dollars per gal", "not set")


def test_metric_operation_types_kilopascals(owner_client):
    people.operation(unit_system="metric")
    _change(owner_client, KEY, "85")
    assert queries.constants().number(KEY) == 85.0


@pytest.mark.parametrize("value", ["", "warm", "31", "-2", "nan"])
def test_refused_value_stays_in_the_form_and_changes_nothing(owner_client, value):
    response = _change(owner_client, KEY, value)
    assert response.status_code == 200
    assert "errorlist" in response.content.decode()
    assert response.context["form"]["value"].value() == value
    assert queries.constants().number(KEY) == BY_KEY[KEY].default


def test_default_typed_back_at_its_limit_is_accepted(owner_client):
    """29.9 in. is the upper limit: converting it both ways must not push it over."""
    assert _change(owner_client, KEY, "29.9").status_code == 302


def test_choice_takes_only_its_options(owner_client):
    assert _change(owner_client, "leaks.loss_model", "exponential").status_code == 200
    assert _change(owner_client, "leaks.loss_model", "compounding").status_code == 302
    assert queries.constants().choice("leaks.loss_model") == "compounding"


def test_restoring_the_default_forgets_the_change(owner_client):
    _change(owner_client, KEY, "20")
    owner_client.post(reverse("operation:restore_default", args=[KEY]))
    assert queries.constants().number(KEY) == BY_KEY[KEY].default
    assert KEY not in queries.constants().changed


def test_crew_reads_settings_and_changes_none(crew_client):
    assert crew_client.get(reverse("operation:settings")).status_code == 200
    response = _change(crew_client, KEY, "20")
    assert response.status_code == 403
    assert "Only an owner" in response.content.decode()
    assert queries.constants().number(KEY) == BY_KEY[KEY].default


def test_unknown_setting_is_not_found(owner_client):
    assert _change(owner_client, "leaks.luck", "7").status_code == 404


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("leaks.luck", 7.0, "no setting called"),
        ("leaks.loss_model", "cubic", "must be one of"),
        ("tapping.pairs", 0.0, "between 1 and 20"),
        ("tapping.pairs", float("nan"), "between 1 and 20"),
    ],
)
def test_action_names_what_it_refuses(owner, fixed_clock, key, value, said):
    with pytest.raises(actions.SettingRefused, match=said):
        actions.change_setting(key=key, value=value, now=fixed_clock, by=owner)


def test_owner_describes_the_operation(owner_client):
    fields = {
        "name": "Tamarack Hollow Sugaring",
        "place": "Pell Corners, New York",
        "unit_system": "metric",
        "jurisdiction": "US-NY",
        "time_zone": "America/New_York",
    }
    assert owner_client.post(reverse("operation:describe"), fields).status_code == 302
    row = queries.current_operation()
    assert {name: getattr(row, name) for name in fields} == fields


def test_refused_description_is_not_shown_as_if_it_held(owner_client):
    """A model form writes on its instance while it checks; the page head must not follow."""
    response = owner_client.post(reverse("operation:describe"), {"name": "Somewhere Else"})
    assert response.status_code == 200
    assert response.context["operation"].name == "My sugarbush"


def test_metric_settings_page_speaks_metric(owner_client):
    people.operation(unit_system="metric")
    page = owner_client.get(reverse("operation:settings")).content.decode()
    kpa = units.kpa_from_inhg(26)
    assert f"{kpa:.1f} kPa" in page
    assert "0.65 °C per 100 m" in page
