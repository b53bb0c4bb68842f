"""A picture's row, once its file is checked and kept."""

from datetime import datetime
from uuid import UUID

from apps.leaks.actions.errors import SentBefore
from apps.leaks.models import LeakCheck, Obstruction, Photo


def attach_photo(
    *,
    uuid: UUID,
    sha256: str,
    size_bytes: int,
    width_px: int,
    height_px: int,
    kind: str,
    file_name: str,
    received_at: datetime,
    check: LeakCheck | None = None,
    obstruction: Obstruction | None = None,
) -> Photo:
    """Hang one picture on its check or obstruction, once; the file is in the default storage.

    SentBefore when the identifier belongs to another picture, or to the same one elsewhere.
    """
    row, is_new = Photo.objects.get_or_create(
        uuid=uuid,
        defaults={
            "leak_check": check,
            "obstruction": obstruction,
            "sha256": sha256,
            "size_bytes": size_bytes,
            "width_px": width_px,
            "height_px": height_px,
            "kind": kind,
            "file_name": file_name,
            "received_at": received_at,
        },
    )
    # By content: the same bytes may have been written to another file when sent again.
    asked = (sha256, check and check.pk, obstruction and obstruction.pk)
    if not is_new and (row.sha256, row.leak_check_id, row.obstruction_id) != asked:
        raise SentBefore(row)
    return row
