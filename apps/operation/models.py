"""The operation itself: one farm per database, its crew, and the constants it has changed."""

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.db.models import Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact


class Operation(models.Model):
    """The one farm this database belongs to; its row has id 1 and there is never a second."""

    class UnitSystem(models.TextChoices):
        US = "us", "US (gallons, inches, °F)"
        METRIC = "metric", "Metric (litres, kPa, °C)"

    name = models.CharField(max_length=120, default="My sugarbush")
    place = models.CharField(max_length=120, blank=True)
    unit_system = models.CharField(max_length=8, choices=UnitSystem.choices, default=UnitSystem.US)
    jurisdiction = models.CharField(max_length=8, default="US")
    time_zone = models.CharField(max_length=64, default="America/New_York")

    class Meta:
        constraints = [
            # One farm a database: a second row would be read by some pages and not by others.
            models.CheckConstraint(condition=Q(pk=1), name="operation_is_the_only_one"),
            models.CheckConstraint(
                # A third system would be shown as metric without a word.
                condition=Q(unit_system__in=["us", "metric"]),
                name="operation_unit_system_known",
            ),
            models.CheckConstraint(condition=~Q(name=""), name="operation_has_a_name"),
            models.CheckConstraint(condition=~Q(time_zone=""), name="operation_has_a_time_zone"),
        ]

    def __str__(self) -> str:
        return self.name


class SettingValue(models.Model):
    """One constant the owner has changed; a key without a row stands at its default."""

    key = models.CharField(max_length=64, unique=True)
    # Text, because a number is kept to its last digit and a choice by its key.
    value = models.CharField(max_length=200)
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(
        # The value in use outlives the person who chose it.
        "operation.CrewMember",
        on_delete=models.SET_NULL,
        null=True,
        related_name="+",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(key=""), name="setting_has_a_key"),
            models.CheckConstraint(condition=~Q(value=""), name="setting_has_a_value"),
        ]

    def __str__(self) -> str:
        return f"{self.key} = {self.value}"


class CrewMember(AbstractUser):
    """One person who signs in; records keep pointing here after that person has left."""

    class Role(models.TextChoices):
        OWNER = "owner", "Owner"
        CREW = "crew", "Crew"

    role = models.CharField(max_length=8, choices=Role.choices, default=Role.CREW)

    class Meta:
        constraints = [
            # Whoever has no known role would be neither owner nor crew.
            models.CheckConstraint(condition=Q(role__in=["owner", "crew"]), name="crew_role_known"),
        ]

    @property
    def is_owner(self) -> bool:
        return self.role == self.Role.OWNER

    @property
    def shown_name(self) -> str:
        return self.first_name or self.username


class Device(models.Model):
    """One instrument that sends readings by itself, known by the hash of its token."""

    name = models.CharField(max_length=80, unique=True)
    # The token itself is shown once and kept nowhere; 256 random bits need no slow hash.
    token_sha256 = models.CharField(max_length=64, unique=True)
    active = models.BooleanField(default=True)
    added_at = models.DateTimeField()
    seen_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="device_has_a_name"),
            models.CheckConstraint(
                condition=Exact(Length("token_sha256"), 64), name="device_token_hash_whole"
            ),
        ]

    def __str__(self) -> str:
        return self.name
