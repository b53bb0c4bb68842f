"""A photo in pieces, beside the others until it is whole and checked, and then one of them."""

import os
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path
from uuid import UUID, uuid4

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
    try:
        _write(path, at, piece, now)
        if at + len(piece) < upload.total:
            return Progress(at + len(piece), done=False)
        data = _claim(path)
    except FileNotFoundError:
        return _claimed_by_another(upload)
    if len(data) < upload.total:
        return _claimed_by_another(upload)
    return _finish(upload, data, owner, now)


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
    # Only a first piece makes a file: a later one would make it of noughts up to its own place.
    flags = os.O_RDWR | (os.O_CREAT if at == 0 else 0) | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(path, flags, 0o600), "r+b") as file:
        # In its place and not at the end: of two alike at once the second changes nothing.
        file.seek(at)
        file.write(piece)
        file.flush()
        os.fsync(file.fileno())
    # By our own clock, by which its age is told later.
    os.utime(path, (now.timestamp(), now.timestamp()))


def _claim(path: Path) -> bytes:
    """Take the whole of it away from under any other request that is at the same piece."""
    # Killed here it is cleaned up by its age like every other, and the phone begins anew.
    mine = path.with_name(f"{uuid4()}.part")
    path.replace(mine)
    data = mine.read_bytes()
    mine.unlink()
    return data


def _claimed_by_another(upload: Upload) -> Progress:
    """The same piece came twice at once and the other request has it; asked again it is done."""
    photo = Photo.objects.filter(uuid=upload.uuid).first()
    if photo is None:
        raise OtherOffset(0)
    return _kept_before(photo, upload)


def _forget_abandoned(folder: Path, now: datetime) -> None:
    oldest = (now - KEPT_FOR).timestamp()
    for path in folder.glob("*.part"):
        # Another request may be at the same, or may just have finished one.
        with suppress(FileNotFoundError):
            if path.stat().st_mtime < oldest:
                path.unlink()


def _finish(upload: Upload, data: bytes, owner: LeakCheck | Obstruction, now: datetime) -> Progress:
    picture = _checked(upload, data)
    name = f"{upload.uuid.hex[:2]}/{upload.uuid}.{SUFFIXES[picture.kind]}"
    # The file first: a row without its picture would be a lie, a picture without a row is not
    # seen by anybody and written over by the next try.
    _keep(_folder() / name, data)
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
        raise PhotoRefused("It was damaged on the way: send it again.")
    try:
        return pictures.examine(data)
    except pictures.NotAPicture as no:
        raise PhotoRefused(str(no)) from no


def _keep(path: Path, data: bytes) -> None:
    """Written beside and renamed: whoever opens a picture opens the whole of it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = _part(uuid4())
    with beside.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
