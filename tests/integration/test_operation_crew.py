"""Who may sign in, and who may change that."""

import pytest
from django.urls import reverse

from apps.operation import actions
from apps.operation.models import CrewMember
from tests.factories import operation as people


def test_every_page_but_sign_in_asks_who_you_are(client, db):
    response = client.get(reverse("operation:settings"))
    assert response.status_code == 302
    assert response["Location"].startswith(reverse("operation:sign_in"))


def test_signing_in_leads_to_the_page_asked_for(client, crew):
    response = client.post(
        reverse("operation:sign_in"),
        {"username": "sol", "password": people.PASSWORD, "next": reverse("operation:settings")},
    )
    assert response["Location"] == reverse("operation:settings")


def test_sign_in_sends_nobody_to_another_site(client, crew):
    response = client.post(
        reverse("operation:sign_in"),
        {"username": "sol", "password": people.PASSWORD, "next": "https://elsewhere.example/"},
    )
    assert response["Location"] == reverse("today:board")


def test_wrong_password_keeps_the_name_typed(client, crew):
    response = client.post(reverse("operation:sign_in"), {"username": "sol", "password": "no"})
    assert response.status_code == 200
    assert 'value="sol"' in response.content.decode()


def test_owner_adds_a_person_who_can_sign_in(owner_client, client):
    fields = {"username": "wren", "first_name": "Wren", "role": "crew"}
    response = owner_client.post(
        reverse("operation:crew"), fields | {"password": "snow-on-the-lines"}
    )
    assert response.status_code == 302
    member = CrewMember.objects.get(username="wren")
    assert member.check_password("snow-on-the-lines")
    assert not member.is_owner


def test_short_password_is_refused_and_nobody_is_added(owner_client):
    fields = {"username": "wren", "first_name": "Wren", "role": "crew", "password": "short"}
    response = owner_client.post(reverse("operation:crew"), fields)
    assert "at least 10" in response.content.decode()
    assert not CrewMember.objects.filter(username="wren").exists()


def test_crew_page_is_for_owners(crew_client):
    assert crew_client.get(reverse("operation:crew")).status_code == 403


def test_person_who_left_signs_in_no_more(owner_client, crew):
    url = reverse("operation:change_crew", args=[crew.pk])
    assert owner_client.post(url, {"role": "crew"}).status_code == 302
    assert not owner_client.login(username="sol", password=people.PASSWORD)


def test_last_owner_cannot_step_down(owner_client, owner):
    url = reverse("operation:change_crew", args=[owner.pk])
    response = owner_client.post(url, {"role": "crew", "is_active": "on"})
    assert "at least one owner" in response.content.decode()
    owner.refresh_from_db()
    assert owner.is_owner


def test_second_owner_may_step_down(owner):
    second = people.owner("marek")
    actions.change_crew(member=second, role="crew", is_active=True)
    assert CrewMember.objects.get(pk=second.pk).role == "crew"


@pytest.mark.parametrize("count", [10, 1000])
def test_crew_page_asks_the_same_whatever_its_length(
    owner_client, count, django_assert_num_queries
):
    CrewMember.objects.bulk_create(CrewMember(username=f"hand{number}") for number in range(count))
    with django_assert_num_queries(5):  # session, person, operation, count, one page
        assert owner_client.get(reverse("operation:crew")).status_code == 200


@pytest.mark.parametrize("count", [0, len(actions.BY_KEY)])
def test_settings_page_asks_the_same_however_many_are_changed(
    owner_client, owner, fixed_clock, count, django_assert_num_queries
):
    for key in list(actions.BY_KEY)[:count]:
        row = actions.BY_KEY[key]
        value = row.high if row.default is None else row.default
        actions.change_setting(key=key, value=value, now=fixed_clock, by=owner)
    with django_assert_num_queries(4):  # session, person, operation, settings
        owner_client.get(reverse("operation:settings"))


def test_pages_carry_a_strict_script_policy(owner_client):
    response = owner_client.get(reverse("operation:settings"))
    policy = response["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "script-src" not in policy
    assert "unsafe-eval" not in policy
