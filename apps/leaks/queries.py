"""What the checks say about the lines."""

from apps.leaks.models import Leak, LeakQuerySet


def open_leaks() -> LeakQuerySet:
    """Every leak left and not yet fixed, oldest first, whatever season it is from."""
    return (
        Leak.objects.still_open()
        .select_related("line__woodlot", "opened_by__crew")
        .order_by("opened_at", "id")
    )
