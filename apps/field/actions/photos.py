"""A photo in pieces, beside the others until it is whole and checked, and then one of them."""

import os
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path
from uuid import UUID

from django.conf import settings

from apps.field import pictures
from apps.leaks import actions as leaks
from apps.leaks.models import MOST_BYTES, LeakCheck, Obstruction, Photo
from apps.operation.models import CrewMember

# An upload nobody has gone on with for a week has been given up; it begins anew if not.
KEPT_FOR = timedelta(days=7)
SUFFIXES = {"jpeg": "jpg", "png": "png", "webp": "webp"}


class RecordUnknown(Exception):
    """The record a photo belongs to is not here, or not yet."""


class PhotoRefused(Exception):
    """The photo is not kept, and what came of it is gone; the message says why."""


class OtherOffset(Exception):
    """The piece does not join on: so many bytes are here."""

    def __init__(self, received: int) -> None:
        super().__init__(f"{received} bytes are here.")
        self.received = received


@dataclass(frozen=True)
class Upload:
    """What a phone says of a photo with each piece of it."""

    uuid: UUID
    of: UUID
    sha256: str
    total: int


@dataclass(frozen=True)
class Progress:
    """How much of a photo is here, and whether it is kept for good."""

    received: int
    done: bool


def progress(*, uuid: UUID) -> Progress:
    photo = Photo.objects.filter(uuid=uuid).first()
    return Progress(photo.size_bytes, done=True) if photo else Progress(_size(_part(uuid)), False)


def take_piece(
    *, upload: Upload, at: int, piece: bytes, sender: CrewMember, now: datetime
) -> Progress:
    """Add one piece; with the last the photo is checked and kept.

    The same piece again, or two at once, change nothing. RecordUnknown, PhotoRefused, OtherOffset.
    """
    owner = _owner(upload.of, sender)
    if photo := Photo.objects.filter(uuid=upload.uuid).first():
        return _kept_before(photo, upload)
    if at + len(piece) > upload.total or upload.total > MOST_BYTES:
        raise PhotoRefused(f"A photo may have {MOST_BYTES // 1024 // 1024} MB at most.")
    path = _part(upload.uuid)
    if at == 0:
        _forget_abandoned(path.parent, now)
    if at != _size(path):
        raise OtherOffset(_size(path))
    _write(path, at, piece, now)
    if at + len(piece) < upload.total:
        return Progress(at + len(piece), done=False)
    return _finish(upload, path, owner, now)


def _owner(of: UUID, sender: CrewMember) -> LeakCheck | Obstruction:
    row: LeakCheck | Obstruction | None = (
        LeakCheck.objects.select_related("crew").filter(uuid=of).first()
        or Obstruction.objects.select_related("crew").filter(uuid=of).first()
    )
    if row is None:
        raise RecordUnknown("The record this photo belongs to is not here: send that one first.")
    # The same people who may hand in the record itself.
    if row.crew != sender and row.crew.is_active and not sender.is_owner:
        name = row.crew.shown_name
        raise PhotoRefused(
            f"{name} took this photo: have {name} sign in here, or an owner send it."
        )
    return row


def _kept_before(photo: Photo, upload: Upload) -> Progress:
    if photo.sha256 != upload.sha256:
        raise PhotoRefused("Another photo came under its identifier before: take it again.")
    return Progress(photo.size_bytes, done=True)


def _folder() -> Path:
    return Path(settings.MEDIA_ROOT)


def _part(uuid: UUID) -> Path:
    return _folder() / "partial" / f"{uuid}.part"


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0


def _write(path: Path, at: int, piece: bytes, now: datetime) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    # Written in its place and not at the end: of two alike at once the second changes nothing.
    handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
    with os.fdopen(handle, "r+b") as file:
        file.seek(at)
        file.write(piece)
        file.flush()
        os.fsync(file.fileno())
    # By our own clock, by which its age is told later.
    os.utime(path, (now.timestamp(), now.timestamp()))


def _forget_abandoned(folder: Path, now: datetime) -> None:
    oldest = (now - KEPT_FOR).timestamp()
    for path in folder.glob("*.part"):
        # Another request may be at the same, or may just have finished one.
        with suppress(FileNotFoundError):
            if path.stat().st_mtime < oldest:
                path.unlink()


def _finish(upload: Upload, path: Path, owner: LeakCheck | Obstruction, now: datetime) -> Progress:
    try:
        data = path.read_bytes()
        picture = _checked(upload, data)
        name = f"{upload.uuid.hex[:2]}/{upload.uuid}.{SUFFIXES[picture.kind]}"
        kept = _folder() / name
        kept.parent.mkdir(parents=True, exist_ok=True)
        # The file first: a row without its picture would be a lie, a picture without a row is not
        # seen and written over by the next try.
        path.replace(kept)
    except FileNotFoundError:
        return _finished_by_another(upload)
    except pictures.NotAPicture as no:
        path.unlink(missing_ok=True)
        raise PhotoRefused(str(no)) from no
    photo = leaks.attach_photo(
        uuid=upload.uuid,
        sha256=upload.sha256,
        size_bytes=len(data),
        width_px=picture.width_px,
        height_px=picture.height_px,
        kind=picture.kind,
        file_name=name,
        received_at=now,
        check=owner if isinstance(owner, LeakCheck) else None,
        obstruction=owner if isinstance(owner, Obstruction) else None,
    )
    return _kept_before(photo, upload)


def _checked(upload: Upload, data: bytes) -> pictures.Picture:
    if sha256(data).hexdigest() != upload.sha256:
        raise pictures.NotAPicture("It was damaged on the way: send it again.")
    return pictures.examine(data)


def _finished_by_another(upload: Upload) -> Progress:
    """The same last piece came twice at once, and the other request was quicker."""
    photo = Photo.objects.filter(uuid=upload.uuid).first()
    if photo is None:
        raise OtherOffset(0)
    return _kept_before(photo, upload)
