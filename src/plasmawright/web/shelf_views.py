"""The Shelf: what stands there, its forms, recalls, and who got a lot."""

from datetime import UTC, datetime
from http import HTTPStatus

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods
from django_htmx.http import HttpResponseClientRedirect

from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Clinic
from plasmawright.records.permissions import Action, may
from plasmawright.records.selectors.lots import lots, lots_numbered, patients_of_lot
from plasmawright.web.entry import sentences_of, shown_entry
from plasmawright.web.shelf_forms import FORMS, RECALL, ShelfForm
from plasmawright.web.shelf_page import shelf_page
from plasmawright.web.shelf_reading import Reading
from plasmawright.web.sign_in import allowed, person_of


@allowed(Action.READ)
@require_GET
def shelf(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show what stands on the shelf, what is left, and which checks are due."""
    shown = {"page": shelf_page(clinic, timezone.localdate()), **_frame(request, clinic)}
    return render(request, "web/shelf.html", shown)


@allowed(Action.KEEP_SHELF)
@require_http_methods(["GET", "POST"])
def add(request: HttpRequest, clinic: Clinic, what: str) -> HttpResponse:
    """Show one form of the Shelf, or keep what it says."""
    form = FORMS.get(what)
    if form is None:
        raise Http404
    return _form(request, clinic, form, then=reverse("shelf") + f"#{form.section}")


@allowed(Action.RECALL_LOTS)
@require_http_methods(["GET", "POST"])
def recall(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Recall a lot with a reason, then show who got it."""
    number = next((lot.number for lot in lots(clinic) if str(lot.pk) == request.POST.get("lot.lot")), "")
    search = reverse("shelf_lot_search", query={"number": number})
    return _form(request, clinic, RECALL, then=search)


@allowed(Action.READ)
@require_GET
def lot_search(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show every patient who got lots of one number."""
    number = request.GET.get("number", "").strip()
    shown = {
        "number": number,
        "lots": lots_numbered(clinic, number) if number else (),
        "found": patients_of_lot(clinic, number) if number else (),
        **_frame(request, clinic),
    }
    return render(request, "web/shelf_lot_search.html", shown)


def _form(request: HttpRequest, clinic: Clinic, form: ShelfForm, *, then: str) -> HttpResponse:
    fields = form.fields(clinic)
    refused: tuple[Refusal, ...] = ()
    if request.method == "POST":
        values = {field.name: request.POST.get(field.name, "").strip() for field in fields}
        try:
            form.keep(clinic, Reading(values), person_of(request), datetime.now(UTC))
        except (Refusal, Refusals) as found:
            refused = _in_the_forms_words(found, values)
        else:
            messages.success(request, f"{form.title}: kept.")
            return HttpResponseClientRedirect(then) if request.headers.get("HX-Request") else redirect(then)
    else:
        values = {field.name: request.GET.get(field.name, field.start) for field in fields}
    names = {field.name for field in fields}
    shown = {
        "form": form,
        "entries": tuple(shown_entry(field, values, sentences_of(refused)) for field in fields),
        "unplaced": tuple(str(refusal) for refusal in refused if refusal.field not in names),
        "refused": refused,
        **_frame(request, clinic),
    }
    template = "web/_shelf_form.html" if request.headers.get("HX-Request") else "web/shelf_form.html"
    return render(request, template, shown, status=HTTPStatus.UNPROCESSABLE_ENTITY if refused else HTTPStatus.OK)


def _in_the_forms_words(found: Refusal | Refusals, values: dict[str, str]) -> tuple[Refusal, ...]:
    """Return refusals named as the form's entries are: a file names a tube's section after the tube."""
    refused = found.found if isinstance(found, Refusals) else (found,)
    called = f"tubes.{values.get('tubes.name')}."
    return tuple(
        Refusal(refusal.field.replace(called, "tubes.", 1), refusal.value, refusal.limit, refusal.remedy)
        if refusal.field.startswith(called)
        else refusal
        for refusal in refused
    )


def _frame(request: HttpRequest, clinic: Clinic) -> dict[str, object]:
    person = person_of(request)
    return {
        "clinic": clinic,
        "place": "shelf",
        "keeps": may(person=person, clinic=clinic, action=Action.KEEP_SHELF),
        "recalls": may(person=person, clinic=clinic, action=Action.RECALL_LOTS),
    }
