"""The phones that log in the woods, and what each of them has handed in."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact

from apps.domain.phone_clock import SHOWN_FROM_MS


class Phone(models.Model):
    """One phone's store of records; an app installed anew, or another browser, is another phone."""

    # Made by the phone on its first day and kept in its store.
    uuid = models.UUIDField(unique=True)
    # Who signed in on it last: records say for themselves whose they are.
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="phones"
    )
    user_agent = models.CharField(max_length=200, blank=True)
    added_at = models.DateTimeField()
    seen_at = models.DateTimeField()
    # Lost or given away: it may send nothing, and whoever is signed in on it is signed out.
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(revoked_at__isnull=True, revoked_by__isnull=True)
                | Q(revoked_at__isnull=False, revoked_by__isnull=False),
                name="phone_revoked_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"Phone of {self.person.shown_name}"


class ReceiptQuerySet(models.QuerySet["Receipt"]):
    """What phones handed in, to be narrowed."""

    def of_checks(self) -> "ReceiptQuerySet":
        return self.filter(kind=Receipt.Kind.CHECK)

    def worth_showing(self) -> "ReceiptQuerySet":
        """Those whose time a person should look at: an uncertain one, or a clock far off."""
        far_off = Q(clock_offset_ms__gt=SHOWN_FROM_MS) | Q(clock_offset_ms__lt=-SHOWN_FROM_MS)
        return self.filter(far_off | Q(time_is_certain=False))


class Receipt(models.Model):
    """One record taken from a phone, written together with what it says and never without it.

    It keeps both clocks and the record as it was sent, whatever later becomes of the row.
    """

    class Kind(models.TextChoices):
        CHECK = "check", "Check"
        VOID = "void", "Taken back"
        AFTER = "after", "Reading after"
        TALLY = "tally", "Tap tally"
        PULL = "pull", "Pulled taps"
        DIP = "dip", "Tank dip"
        GAUGE = "gauge", "Gauge reading"
        OBSTRUCTION = "obstruction", "Obstruction"
        CLEAR = "clear", "Cleared"
        NOTE = "note", "Note"

    class Method(models.TextChoices):
        STEADY = "steady", "The phone's clock, which nobody set meanwhile"
        COUNTED = "counted", "Counted by the phone's timer"
        SET_ONCE = "set_once", "The phone's clock, which was set once meanwhile"
        RECKONED = "reckoned", "Reckoned back from when it was sent"

    uuid = models.UUIDField(unique=True)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    phone = models.ForeignKey(Phone, on_delete=models.PROTECT, related_name="receipts")
    # Who saw it, and who was signed in when it was sent; seldom two people.
    crew = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    # As the phone's clock showed it, what was added, and the time that is gone by.
    device_at = models.DateTimeField()
    clock_offset_ms = models.BigIntegerField()
    clock_method = models.CharField(max_length=8, choices=Method.choices)
    time_is_certain = models.BooleanField()
    observed_at = models.DateTimeField()
    received_at = models.DateTimeField()
    # Tells the same record sent again from another one under its identifier.
    digest = models.CharField(max_length=64)
    payload = models.JSONField()

    objects = ReceiptQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["phone", "received_at"], name="receipt_phone_received")]
        constraints = [
            models.CheckConstraint(
                # Spelled out, since a class body cannot reach the names of its own neighbour.
                condition=Q(
                    kind__in=[
                        *("check", "void", "after", "tally", "pull"),
                        *("dip", "gauge", "obstruction", "clear", "note"),
                    ]
                ),
                name="receipt_kind_known",
            ),
            models.CheckConstraint(
                condition=Q(clock_method__in=["steady", "counted", "set_once", "reckoned"]),
                name="receipt_clock_method_known",
            ),
            models.CheckConstraint(
                condition=Exact(Length("digest"), 64), name="receipt_digest_is_whole"
            ),
            models.CheckConstraint(
                condition=Q(observed_at__lte=F("received_at")),
                name="receipt_seen_before_it_was_received",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} by {self.crew.shown_name}"
