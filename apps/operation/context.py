"""What every template may count on."""

from django.conf import settings
from django.http import HttpRequest


def operation(request: HttpRequest) -> dict[str, object]:
    return {
        "operation": getattr(request, "operation", None),
        "now": getattr(request, "now", None),
        "today": getattr(request, "today", None),
        "demo_mode": settings.THAWLINE_DEMO,
    }
