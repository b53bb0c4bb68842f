"""Settings and crew: who works here and which constants the arithmetic uses."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from apps.operation import actions, queries
from apps.operation.access import owner_required
from apps.operation.catalogue import BY_KEY, Choice
from apps.operation.forms import (
    ChoiceForm,
    ConstantForm,
    CrewChangeForm,
    CrewForm,
    OperationForm,
    UnitForm,
)
from apps.operation.http import Request
from apps.operation.models import CrewMember


@require_GET
def settings_page(request: Request) -> HttpResponse:
    rows = queries.setting_rows(request.operation.unit_system)
    return render(request, "operation/settings.html", {"rows": rows})


@owner_required
@require_http_methods(["GET", "POST"])
def describe(request: Request) -> HttpResponse:
    # A row of its own: a model form writes on it while it checks, and the page's head shows the
    # request's.
    form = OperationForm(request.POST or None, instance=queries.current_operation())
    if request.method == "POST" and form.is_valid():
        actions.describe_operation(operation=request.operation, **form.cleaned_data)
        messages.success(request, "The operation is described anew.")
        return redirect("operation:settings")
    return render(request, "operation/describe.html", {"form": form})


def _setting_form(request: Request, key: str) -> UnitForm:
    row = BY_KEY.get(key)
    if row is None:
        raise Http404(f"There is no setting called {key}.")
    constants = queries.constants()
    unit_system = request.operation.unit_system
    data = request.POST or None
    if isinstance(row, Choice):
        initial: dict[str, object] = {"value": constants.choice(key)}
        return ChoiceForm(data, initial=initial, row=row, unit_system=unit_system)
    initial = {"value": constants.own(key)}
    return ConstantForm(data, initial=initial, row=row, unit_system=unit_system)


@owner_required
@require_http_methods(["GET", "POST"])
def change_setting(request: Request, key: str) -> HttpResponse:
    form = _setting_form(request, key)
    if request.method == "POST" and form.is_valid():
        value = form.cleaned_data["value"]
        actions.change_setting(key=key, value=value, now=request.now, by=request.user)
        messages.success(request, f"{BY_KEY[key].label} is changed.")
        return redirect("operation:settings")
    return render(request, "operation/setting.html", {"form": form, "row": BY_KEY[key]})


@owner_required
@require_POST
def restore_default(request: Request, key: str) -> HttpResponse:
    actions.restore_default(key=key)
    # Also when it stood there already: asked twice, it is where it was wanted.
    messages.success(request, "Back at its default.")
    return redirect("operation:settings")


@owner_required
@require_http_methods(["GET", "POST"])
def crew(request: Request) -> HttpResponse:
    form = CrewForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        member = actions.add_crew(**form.cleaned_data)
        messages.success(request, f"{member.shown_name} can sign in now.")
        return redirect("operation:crew")
    page = Paginator(queries.crew_members(), 50).get_page(request.GET.get("page"))
    return render(request, "operation/crew.html", {"form": form, "page": page})


@owner_required
@require_http_methods(["GET", "POST"])
def change_crew(request: Request, pk: int) -> HttpResponse:
    member = get_object_or_404(CrewMember, pk=pk)
    form = CrewChangeForm(request.POST or None, instance=member)
    if request.method == "POST" and form.is_valid():
        try:
            actions.change_crew(member=member, **form.cleaned_data)
        except actions.CrewRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"{member.shown_name} is changed.")
            return redirect("operation:crew")
    return render(request, "operation/change_crew.html", {"form": form, "member": member})
