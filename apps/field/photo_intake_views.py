"""Photos from the phone, piece by piece; how far one has come can be asked at any time."""

import re
from uuid import UUID

from django.http import HttpResponse, JsonResponse
from django.http.request import UnreadablePostError
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from apps.field.actions import photos
from apps.field.intake_views import for_a_phone, refusal
from apps.field.payload.fields import UUID_TEXT
from apps.operation.http import Request

MOST_PIECE_BYTES = 256 * 1024
SHA256 = re.compile(r"[0-9a-f]{64}", re.ASCII)
WHOLE = re.compile(r"[0-9]{1,9}", re.ASCII)


@for_a_phone
@never_cache
@require_http_methods(["GET", "PUT"])
def photo(request: Request, uuid: UUID) -> HttpResponse:
    if request.method == "GET":
        return _told(photos.progress(uuid=uuid))
    upload = _upload(request, uuid)
    if upload is None:
        return refusal(422, "The phone did not say which photo this is, or which part of it.")
    if int(request.META.get("CONTENT_LENGTH") or 0) > MOST_PIECE_BYTES:
        return refusal(413, f"At most {MOST_PIECE_BYTES // 1024} KB at a time.")
    try:
        return _told(
            photos.take_piece(
                upload=upload,
                at=int(request.GET["at"]),
                piece=request.body,
                sender=request.user,
                now=request.now,
            )
        )
    except photos.RecordUnknown as no:
        return refusal(404, str(no))
    except photos.OtherOffset as other:
        return JsonResponse({"received": other.received}, status=409)
    except photos.PhotoRefused as no:
        return refusal(422, str(no))
    except (UnreadablePostError, OSError):
        # The phone went out of reach, or the disk is full: the piece is sent again later.
        return refusal(503, "busy")


def _upload(request: Request, uuid: UUID) -> photos.Upload | None:
    of, digest, total, at = (request.GET.get(name, "") for name in ("of", "sha256", "total", "at"))
    if not (UUID_TEXT.fullmatch(of) and SHA256.fullmatch(digest)):
        return None
    if not (WHOLE.fullmatch(total) and WHOLE.fullmatch(at)):
        return None
    return photos.Upload(uuid, UUID(of), digest, int(total))


def _told(now: photos.Progress) -> JsonResponse:
    return JsonResponse({"received": now.received, "done": now.done})
