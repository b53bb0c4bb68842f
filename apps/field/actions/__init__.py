"""Taking in what phones hand over, and saying which phones may."""

from apps.field.actions.errors import NotForCrew, Refused
from apps.field.actions.phones import allow_phone, greet_phone, revoke_phone
from apps.field.actions.records import Answer, OtherPerson, take_post

__all__ = [
    "Answer",
    "NotForCrew",
    "OtherPerson",
    "Refused",
    "allow_phone",
    "greet_phone",
    "revoke_phone",
    "take_post",
]
