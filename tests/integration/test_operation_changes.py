"""Constants, the operation and its people: what a change does, where it shows, what is refused."""

from datetime import timedelta

import pytest
from django.urls import reverse

from apps.operation import actions, display, queries
from apps.operation.catalogue import BY_KEY, CHOICES, CONSTANTS
from apps.operation.forms import ConstantForm, OperationForm
from apps.operation.models import CrewMember, SettingValue
from tests.factories import operation as people

pytestmark = pytest.mark.django_db

# Some constants are the owner's own to give, and stand at nothing until then.
GIVEN = [row for row in CONSTANTS if row.default is not None]


def row_of(key, unit_system="us"):
    return next(row for row in queries.setting_rows(unit_system) if row.key == key)


@pytest.fixture
def change(owner, fixed_clock):
    def change(key, value, **fields):
        actions.change_setting(key=key, value=value, **{"now": fixed_clock, "by": owner} | fields)

    return change


@pytest.mark.parametrize("row", CONSTANTS, ids=lambda row: row.key)
def test_every_constant_takes_both_its_limits_and_nothing_beyond(change, row):
    for value in (row.low, row.high):
        change(row.key, value)
        assert queries.constants().number(row.key) == value
    reach = max(abs(row.low), abs(row.high)) * 1e-3
    for value in (row.low - reach, row.high + reach):
        with pytest.raises(actions.SettingRefused, match="must be between"):
            change(row.key, value)
    assert queries.constants().number(row.key) == row.high


@pytest.mark.parametrize("unit_system", ["us", "metric"])
@pytest.mark.parametrize("row", GIVEN, ids=lambda row: row.key)
def test_every_default_can_be_typed_back_as_it_is_shown(row, unit_system):
    shown = display.shown_number(row.default, row.quantity, unit_system)
    form = ConstantForm(
        {"value": f"{shown:g}"}, initial={"value": row.default}, row=row, unit_system=unit_system
    )
    assert form.is_valid(), (row.key, form.errors)
    # Typed as shown, it is the finer figure that was kept.
    assert form.cleaned_data["value"] == pytest.approx(row.default, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("row", CHOICES, ids=lambda row: row.key)
def test_every_choice_takes_each_of_its_options(change, row):
    for name, words in row.options:
        change(row.key, name)
        assert queries.constants().choice(row.key) == name
        assert row_of(row.key).value == words


def test_keys_are_unique_and_name_their_room():
    assert len(BY_KEY) == len(CONSTANTS) + len(CHOICES)
    for key in BY_KEY:
        room, _, name = key.partition(".")
        assert room
        assert name.replace("_", "").isalnum(), key


def test_constants_name_a_quantity_the_pages_can_show():
    for row in CONSTANTS:
        assert row.quantity in display.QUANTITIES, row.key
        assert row.source.strip(), row.key


def test_unchanged_constants_stand_at_their_defaults():
    constants = queries.constants()
    assert constants.changed == frozenset()
    for row in GIVEN:
        assert constants.number(row.key) == row.default
    for row in CHOICES:
        assert constants.choice(row.key) == row.default


def test_constants_read_once_do_not_move_while_a_page_is_made(change):
    before = queries.constants()
    change("sugarhouse.syrup_brix", 66.9)
    assert before.number("sugarhouse.syrup_brix") == BY_KEY["sugarhouse.syrup_brix"].default
    assert queries.constants().number("sugarhouse.syrup_brix") == 66.9


def test_second_change_replaces_the_first_and_says_who_and_when(change, fixed_clock):
    later = fixed_clock + timedelta(days=1)
    change("sugarhouse.syrup_brix", 66.5)
    change("sugarhouse.syrup_brix", 66.9, now=later, by=people.owner("marek"))
    row = row_of("sugarhouse.syrup_brix")
    assert (row.value, row.changed_by, row.changed_at) == ("66.9 Brix", "Marek", later)
    assert SettingValue.objects.count() == 1


def test_change_outlives_the_person_who_made_it(change):
    marek = people.owner("marek")
    change("sugarhouse.syrup_brix", 66.9, by=marek)
    marek.delete()
    assert row_of("sugarhouse.syrup_brix").changed_by == ""
    assert queries.constants().number("sugarhouse.syrup_brix") == 66.9


def test_restoring_what_was_never_changed_is_no_error():
    actions.restore_default(key="sugarhouse.syrup_brix")
    assert not SettingValue.objects.exists()


def test_settings_come_group_by_group():
    groups = [row.group for row in queries.setting_rows("us")]
    assert groups == sorted(groups)
    assert len(groups) == len(BY_KEY)


DESCRIBED = {
    "name": "Ridge Road Sugaring",
    "place": "Pell Corners, New York",
    "unit_system": "us",
    "jurisdiction": "US-NY",
    "time_zone": "America/New_York",
}


@pytest.mark.parametrize(
    ("field", "typed", "taken"),
    [
        ("name", "R" * 120, True),
        ("name", "R" * 121, False),
        ("name", "", False),
        ("place", "", True),
        ("place", "P" * 121, False),
        ("unit_system", "metric", True),
        ("unit_system", "furlongs", False),
        ("jurisdiction", "US-NY", True),
        ("jurisdiction", "Atlantis", False),
        ("time_zone", "America/Toronto", True),
        ("time_zone", "America/Nowhere", False),
        ("time_zone", "", False),
    ],
)
def test_description_of_the_operation_has_its_limits(field, typed, taken):
    form = OperationForm(DESCRIBED | {field: typed}, instance=queries.current_operation())
    assert (field not in form.errors) is taken


def test_switching_units_changes_no_stored_value(owner_client, change):
    change("leaks.target_vacuum_kpa", 85.0)
    owner_client.post(reverse("operation:describe"), DESCRIBED | {"unit_system": "metric"})
    assert queries.constants().number("leaks.target_vacuum_kpa") == 85.0
    assert row_of("leaks.target_vacuum_kpa", "metric").value == "85.0 kPa"
    # 85 kPa / 3.386389 = 25.1 inHg (NIST SP 811 (2008), app. B.8).
    assert row_of("leaks.target_vacuum_kpa", "us").value == "25.1 inHg"


NEW = {"username": "wren", "first_name": "Wren", "role": "crew", "password": "snow-on-the-lines"}


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("username", ""),
        ("username", "two words"),
        ("username", "ina"),
        ("role", "boss"),
        ("role", ""),
        ("password", ""),
        ("password", "short"),
        ("password", "1234567890"),
    ],
)
def test_person_who_cannot_be_is_refused_at_the_field(owner_client, field, typed):
    page = owner_client.post(reverse("operation:crew"), NEW | {field: typed})
    assert field in page.context["form"].errors
    assert not CrewMember.objects.filter(username="wren").exists()


def test_password_is_never_sent_back_to_the_page(owner_client):
    page = owner_client.post(reverse("operation:crew"), NEW | {"username": ""})
    assert NEW["password"] not in page.content.decode()


@pytest.mark.parametrize(("role", "is_active"), [("crew", True), ("owner", False), ("crew", False)])
def test_only_owner_left_can_neither_step_down_nor_leave(owner, role, is_active):
    with pytest.raises(actions.CrewRefused):
        actions.change_crew(member=owner, role=role, is_active=is_active)
    kept = CrewMember.objects.get(pk=owner.pk)
    assert (kept.role, kept.is_active) == ("owner", True)


def test_owner_who_left_counts_as_none(owner):
    away = people.owner("marek")
    actions.change_crew(member=away, role="owner", is_active=False)
    with pytest.raises(actions.CrewRefused):
        actions.change_crew(member=owner, role="crew", is_active=True)


def test_person_who_comes_back_signs_in_with_the_same_password(owner_client, crew, client):
    for ticked in ({}, {"is_active": "on"}):
        url = reverse("operation:change_crew", args=[crew.pk])
        owner_client.post(url, {"role": "crew"} | ticked)
    assert client.login(username="sol", password=people.PASSWORD)


def test_people_who_left_are_listed_last():
    for name in ("abel", "zoe"):
        people.crew(name)
    CrewMember.objects.filter(username="abel").update(is_active=False)
    assert [member.username for member in queries.crew_members()] == ["zoe", "abel"]
