from datetime import datetime
from uuid import UUID

from apps.field.actions.errors import NotForCrew
from apps.field.models import Phone
from apps.operation.models import CrewMember

USER_AGENT_CHARACTERS = 200


def greet_phone(*, uuid: UUID, person: CrewMember, user_agent: str, now: datetime) -> Phone:
    """The phone, put on the list at its first visit; a revoked one is left as it stands."""
    shown = user_agent.replace("\0", "")[:USER_AGENT_CHARACTERS]
    seen = {"person": person, "user_agent": shown, "seen_at": now}
    phone, is_new = Phone.objects.get_or_create(uuid=uuid, defaults=seen | {"added_at": now})
    if not is_new and phone.revoked_at is None:
        # In one statement that asks again: it may be revoked in this very moment.
        Phone.objects.filter(pk=phone.pk, revoked_at__isnull=True).update(**seen)
    return phone


def revoke_phone(*, phone: Phone, by: CrewMember, at: datetime) -> None:
    """Take in nothing more from a lost phone and sign it out; done twice it is once."""
    _owner_only(by)
    Phone.objects.filter(pk=phone.pk, revoked_at__isnull=True).update(revoked_at=at, revoked_by=by)


def allow_phone(*, phone: Phone, by: CrewMember) -> None:
    """A phone that was found again; whoever uses it signs in anew."""
    _owner_only(by)
    Phone.objects.filter(pk=phone.pk).update(revoked_at=None, revoked_by=None)


def _owner_only(by: CrewMember) -> None:
    if not by.is_owner:
        raise NotForCrew("Only an owner can say which phones are taken in.")
