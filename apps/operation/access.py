"""Who may do what, said once."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse

from apps.operation.http import Request

View = Callable[..., HttpResponse]


def owner_required(view: View) -> View:
    """Refuse, with a page that says so, anyone who is not an owner."""

    @wraps(view)
    def guarded(request: Request, *args: Any, **kwargs: Any) -> HttpResponse:
        if not request.user.is_owner:
            # Shown on the refusal's page: whoever meets it can do something about it.
            raise PermissionDenied("Only an owner can do this. Ask the owner to sign in.")
        return view(request, *args, **kwargs)

    return guarded
