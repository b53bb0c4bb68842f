"""The request as the middleware leaves it, for views to annotate."""

from datetime import date, datetime

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from apps.operation.models import CrewMember, Operation


class Request(HttpRequest):
    """A signed-in request carrying the operation, the moment and the local day."""

    operation: Operation
    now: datetime
    today: date
    htmx: HtmxDetails
    user: CrewMember
