"""Photos of leaks and obstructions; the pictures themselves are files, never rows."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact

from apps.leaks.models.checks import LeakCheck
from apps.leaks.models.obstructions import Obstruction

MOST_BYTES = 4 * 1024 * 1024
# As far as the sizes in a JPEG's header reach: ISO/IEC 10918-1 (1994), B.2.2, 16 bits each.
LONGEST_SIDE_PX = 65_535


class Photo(models.Model):
    """One picture of one check or one obstruction, checked when it arrived and kept as a file."""

    class Kind(models.TextChoices):
        JPEG = "jpeg", "JPEG"
        PNG = "png", "PNG"
        WEBP = "webp", "WebP"

    # Made by the phone: pieces sent again go to the same picture.
    uuid = models.UUIDField(unique=True)
    leak_check = models.ForeignKey(
        LeakCheck, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    obstruction = models.ForeignKey(
        Obstruction, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    # In hexadecimal, of the bytes as they were sent.
    sha256 = models.CharField(max_length=64)
    size_bytes = models.PositiveIntegerField()
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    # By its content, whatever it was called.
    kind = models.CharField(max_length=4, choices=Kind.choices)
    # Within the default storage; two rows of one file would lose both when one is mended.
    file_name = models.CharField(max_length=200, unique=True)
    received_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(leak_check__isnull=True, obstruction__isnull=False)
                | Q(leak_check__isnull=False, obstruction__isnull=True),
                name="photo_of_a_check_or_an_obstruction",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["jpeg", "png", "webp"]), name="photo_kind_known"
            ),
            models.CheckConstraint(
                condition=Exact(Length("sha256"), 64), name="photo_digest_is_whole"
            ),
            models.CheckConstraint(
                condition=Q(size_bytes__gte=1, size_bytes__lte=MOST_BYTES), name="photo_size_range"
            ),
            models.CheckConstraint(
                condition=Q(width_px__gte=1, width_px__lte=LONGEST_SIDE_PX),
                name="photo_width_range",
            ),
            models.CheckConstraint(
                condition=Q(height_px__gte=1, height_px__lte=LONGEST_SIDE_PX),
                name="photo_height_range",
            ),
        ]

    def __str__(self) -> str:
        return f"Photo of {self.leak_check or self.obstruction}"
