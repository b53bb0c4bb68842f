"""The clock, read at the edge (middleware and commands) and nowhere below."""

from collections.abc import Callable
from datetime import datetime
from typing import cast

from django.conf import settings
from django.utils import timezone
from django.utils.module_loading import import_string


def system_now() -> datetime:
    return timezone.now()


def now() -> datetime:
    """The present moment, aware and in UTC, by whichever clock the settings name."""
    # Looked up at each call: the demo and the tests name another clock while the process runs.
    read = cast("Callable[[], datetime]", import_string(settings.THAWLINE_CLOCK))
    return read()
