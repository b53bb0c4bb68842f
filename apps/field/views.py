"""The page a gloved thumb uses in the woods: line, state, save."""

from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from apps.domain.tapping import season_of
from apps.field import queries
from apps.field.forms import CheckForm, ReadingAfterForm
from apps.leaks import actions
from apps.leaks import queries as leaks
from apps.leaks.models import LeakCheck
from apps.leaks.walk import ranking_terms
from apps.operation.http import Request
from apps.operation.queries import constants


# Kept out of every cache: a page brought back by "back" would carry a used identifier.
@never_cache
@require_http_methods(["GET", "POST"])
def check(request: Request) -> HttpResponse:
    form = CheckForm(
        request.POST or None,
        unit_system=request.operation.unit_system,
        initial={"uuid": uuid4(), **_given(request)},
    )
    if form.is_valid():
        try:
            return _save(request, form)
        except actions.SentBefore as refusal:
            form.add_error(None, f"{refusal} To keep this as a second check, save it again.")
            form.again_as_a_new_check()
    return render(request, "field/check.html", _page(request, form))


def _save(request: Request, form: CheckForm) -> HttpResponse:
    answers = form.cleaned_data
    recorded = actions.record_check(
        uuid=answers["uuid"],
        line=answers["line"],
        state=answers["state"],
        # Logged where it is seen, so both times are one.
        observed_at=request.now,
        received_at=request.now,
        crew=request.user,
        vacuum_before_kpa=answers["vacuum_before"],
        vacuum_after_kpa=answers["vacuum_after"],
        place_drops=answers["place_drops"],
        cause=answers["cause"],
        note=answers["note"],
    )
    return redirect("field:saved", uuid=recorded.check.uuid)


def _page(request: Request, form: CheckForm) -> dict[str, object]:
    # Also from a refused form: the woodlot typed stays the one whose lines are shown.
    here = leaks.woodlot_chosen(form["woodlot"].value())
    in_use = constants()
    standings = leaks.ranked_lines(
        season=season_of(request.today), now=request.now, constants=in_use, woodlot=here
    )
    return {
        "form": form,
        "woodlots": leaks.woodlots(),
        "here": here,
        "picks": queries.picks(standings, chosen=form["line"].value()),
        "number_pad": queries.number_pad_is_enough(),
        "usual_kpa": ranking_terms(in_use).target_kpa,
    }


def _given(request: Request) -> dict[str, str]:
    """The line or woodlot another page has chosen already."""
    return {name: request.GET[name] for name in ("line", "woodlot") if name in request.GET}


def _check_or_404(uuid: UUID) -> LeakCheck:
    return get_object_or_404(LeakCheck.objects.select_related("line__woodlot", "crew"), uuid=uuid)


@never_cache
@require_GET
def saved(request: Request, uuid: UUID) -> HttpResponse:
    check = _check_or_404(uuid)
    form = ReadingAfterForm(unit_system=request.operation.unit_system)
    return _saved_page(request, check, form)


def _saved_page(request: Request, check: LeakCheck, form: ReadingAfterForm) -> HttpResponse:
    context = {
        "check": check,
        "form": form,
        "outcome": queries.outcome_of(check),
        "usual_kpa": ranking_terms(constants()).target_kpa,
    }
    return render(request, "field/saved.html", context)


@require_POST
def undo(request: Request, uuid: UUID) -> HttpResponse:
    check = _check_or_404(uuid)
    try:
        # Whether it may be taken back is for the action to say: the button alone keeps nobody out.
        actions.void_check(check=check, by=request.user, at=request.now)
    except actions.NotYours as refusal:
        messages.error(request, str(refusal))
    return redirect("field:saved", uuid=uuid)


@require_POST
def reading_after(request: Request, uuid: UUID) -> HttpResponse:
    check = _check_or_404(uuid)
    form = ReadingAfterForm(request.POST, unit_system=request.operation.unit_system)
    if not form.is_valid():
        return _saved_page(request, check, form)
    try:
        actions.add_reading_after(check=check, vacuum_after_kpa=form.cleaned_data["vacuum_after"])
    except actions.ReadingAlreadySet as refusal:
        messages.error(request, str(refusal))
    return redirect("field:saved", uuid=uuid)
