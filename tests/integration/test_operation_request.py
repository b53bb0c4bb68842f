"""What every request carries: the moment, the local day, the operation, safe headers, a sign-in."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.test import RequestFactory
from django.urls import reverse
from django.utils import timezone

from apps.operation import clock
from apps.operation.access import owner_required
from apps.operation.context import operation as context_of
from apps.operation.middleware import OperationMiddleware, SafetyHeadersMiddleware
from apps.operation.models import CrewMember, Operation, SettingValue
from apps.operation.queries import current_operation
from tests.factories import operation as people

pytestmark = pytest.mark.django_db

SETTINGS = reverse("operation:settings")


def through(middleware, view=lambda request: HttpResponse()):
    """The request as a view sees it behind the middleware, and the response."""
    seen = []

    def inner(request):
        seen.append(request)
        return view(request)

    response = middleware(inner)(RequestFactory().get("/"))
    return seen[0], response


def at(settings, moment):
    settings.THAWLINE_CLOCK = f"{__name__}.told"
    told.moment = moment


def told():
    return told.moment


@pytest.mark.parametrize(
    ("moment", "zone", "today"),
    [
        (datetime(2026, 3, 16, 11, tzinfo=UTC), "America/New_York", date(2026, 3, 16)),
        # Midnight in New York is 04:00 UTC in summer time and 05:00 in winter.
        (datetime(2026, 3, 16, 3, 59, tzinfo=UTC), "America/New_York", date(2026, 3, 15)),
        (datetime(2026, 3, 16, 4, 0, tzinfo=UTC), "America/New_York", date(2026, 3, 16)),
        (datetime(2026, 1, 16, 4, 59, tzinfo=UTC), "America/New_York", date(2026, 1, 15)),
        (datetime(2026, 1, 16, 5, 0, tzinfo=UTC), "America/New_York", date(2026, 1, 16)),
        (datetime(2026, 3, 16, 3, 0, tzinfo=UTC), "America/Halifax", date(2026, 3, 16)),
        (datetime(2026, 3, 15, 15, 0, tzinfo=UTC), "Asia/Tokyo", date(2026, 3, 16)),
    ],
)
def test_today_is_the_operations_own_day(settings, moment, zone, today):
    at(settings, moment)
    people.operation(time_zone=zone)
    request, _ = through(OperationMiddleware)
    assert (request.now, request.today) == (moment, today)


def test_views_speak_the_operations_zone_and_nobody_else_does(settings):
    at(settings, people.FIXED_NOW)
    people.operation(time_zone="America/Halifax")
    zones = []
    through(OperationMiddleware, lambda request: zones.append(timezone.get_current_timezone()))
    assert zones == [ZoneInfo("America/Halifax")]
    assert timezone.get_current_timezone() != zones[0]


def test_zone_is_put_back_after_a_view_that_failed(settings):
    at(settings, people.FIXED_NOW)
    people.operation(time_zone="America/Halifax")

    def fail(request):
        raise RuntimeError("a view broke")

    with pytest.raises(RuntimeError):
        through(OperationMiddleware, fail)
    assert timezone.get_current_timezone() != ZoneInfo("America/Halifax")


def test_first_request_of_a_new_database_finds_an_operation(settings):
    at(settings, people.FIXED_NOW)
    Operation.objects.all().delete()
    request, _ = through(OperationMiddleware)
    assert (request.operation.pk, request.operation.name) == (1, "My sugarbush")
    assert Operation.objects.count() == 1


def test_asking_again_makes_no_second_operation():
    assert current_operation() == current_operation()
    assert Operation.objects.count() == 1


@pytest.mark.parametrize(
    "rule",
    [
        "default-src 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
        "form-action 'self'",
    ],
)
def test_every_answer_carries_the_strict_policy(rule):
    _, response = through(SafetyHeadersMiddleware)
    rules = response["Content-Security-Policy"].split("; ")
    assert rule in rules
    assert not any("unsafe" in other for other in rules if not other.startswith("style-src"))


def test_view_may_set_a_policy_of_its_own():
    own = HttpResponse(headers={"Content-Security-Policy": "default-src 'none'"})
    _, response = through(SafetyHeadersMiddleware, lambda request: own)
    assert response["Content-Security-Policy"] == "default-src 'none'"


@pytest.mark.parametrize("path", ["/nothing/here/", "/settings/", "/sign-in/"])
def test_policy_is_on_pages_found_and_not_found_alike(client, fixed_clock, path):
    assert "default-src 'self'" in client.get(path)["Content-Security-Policy"]


def test_clock_in_use_is_the_one_the_settings_name(settings):
    at(settings, people.FIXED_NOW)
    assert clock.now() == people.FIXED_NOW


def test_systems_clock_is_aware_and_in_utc():
    moment = clock.system_now()
    assert moment.utcoffset().total_seconds() == 0
    assert abs((datetime.now(UTC) - moment).total_seconds()) < 60


def test_templates_can_count_on_the_moment_even_where_there_is_none(settings):
    settings.THAWLINE_DEMO = True
    found = context_of(RequestFactory().get("/"))
    assert found == {"operation": None, "now": None, "today": None, "demo_mode": True}


def guarded(user):
    request = RequestFactory().get("/")
    request.user = user
    return owner_required(lambda request, word: HttpResponse(word))(request, "done")


def test_owner_passes_the_guard_with_all_arguments():
    assert guarded(CrewMember(role="owner")).content == b"done"


def test_crew_is_refused_with_the_reason():
    with pytest.raises(PermissionDenied, match="Only an owner can do this"):
        guarded(CrewMember(role="crew"))


OWNERS_ONLY = [
    ("operation:describe", []),
    ("operation:change_setting", ["leaks.walk_minutes"]),
    ("operation:crew", []),
]


@pytest.mark.parametrize(("name", "args"), OWNERS_ONLY)
def test_owners_pages_are_refused_to_crew_whatever_the_method(crew_client, name, args):
    url = reverse(name, args=args)
    assert crew_client.get(url).status_code == crew_client.post(url, {}).status_code == 403


@pytest.mark.parametrize(("name", "args"), OWNERS_ONLY)
def test_owners_pages_open_to_the_owner(owner_client, name, args):
    assert owner_client.get(reverse(name, args=args)).status_code == 200


@pytest.mark.parametrize("key", ["leaks.walk_minutes", "no.such.setting"])
def test_only_an_owner_restores_a_default(crew_client, key):
    url = reverse("operation:restore_default", args=[key])
    assert crew_client.post(url).status_code == 403


def test_restoring_is_never_a_plain_link(owner_client):
    url = reverse("operation:restore_default", args=["leaks.walk_minutes"])
    assert owner_client.get(url).status_code == 405


def test_setting_of_no_such_key_is_not_found(owner_client):
    url = reverse("operation:change_setting", args=["leaks.luck"])
    assert owner_client.get(url).status_code == 404


def test_person_of_no_such_number_is_not_found(owner_client):
    url = reverse("operation:change_crew", args=[999_999])
    assert owner_client.get(url).status_code == 404


def test_signed_in_person_is_led_past_the_sign_in(crew_client):
    response = crew_client.get(reverse("operation:sign_in"))
    assert response["Location"] == reverse("today:board")


def test_signing_out_asks_who_you_are_again(crew_client):
    crew_client.post(reverse("operation:sign_out"))
    assert crew_client.get(SETTINGS).status_code == 302


def test_rows_are_told_apart_in_words(crew):
    row = SettingValue(key="leaks.walk_minutes", value="25.0")
    assert str(row) == "leaks.walk_minutes = 25.0"
    assert str(Operation(name="Ridge Road")) == "Ridge Road"
    assert CrewMember(username="marek").shown_name == "marek"
    assert CrewMember(username="marek", first_name="Marek").shown_name == "Marek"
