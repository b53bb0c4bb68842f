"""Choosing the demo's day."""

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from apps.demo import actions
from apps.demo.forms import StopForm
from apps.demo.models import DemoClock
from apps.operation.http import Request


@require_http_methods(["GET", "POST"])
def clock(request: Request) -> HttpResponse:
    if not settings.THAWLINE_DEMO:
        raise Http404("There is a clock to choose in the demo operation only.")
    row = DemoClock.objects.filter(pk=1).first()
    form = StopForm(request.POST or None, initial={"stop": row.stop if row else None})
    if request.method == "POST" and form.is_valid():
        # The demo's clock runs from a real moment, so this is the one view that reads one.
        actions.turn_to(stop=form.cleaned_data["stop"], chosen_at=timezone.now())
        messages.success(request, "The demo stands at another day; its records are made anew.")
        return redirect("today:board")
    return render(request, "demo/clock.html", {"form": form})
