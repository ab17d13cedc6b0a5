"""The pages: each reads its input, makes one call, shows one template."""

from http import HTTPStatus

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from plasmawright.records.models import Clinic
from plasmawright.records.permissions import Action
from plasmawright.web.answer import Answer, answer_to
from plasmawright.web.form import document_of, entered, shown_groups, unplaced
from plasmawright.web.sign_in import allowed


@allowed(Action.READ)
@require_http_methods(["GET", "POST"])
def tube(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show what one preparation becomes; a refused entry comes back marked, with every other as it was."""
    values = entered(request.POST.dict())
    answer = answer_to(document_of(values))
    refused = () if isinstance(answer, Answer) else answer
    shown = {
        "clinic": clinic,
        "place": "tube",
        "groups": shown_groups(values, refused),
        "answer": None if refused else answer,
        "refused": refused,
        "unplaced": unplaced(refused),
    }
    template = "web/_tube.html" if request.headers.get("HX-Request") else "web/tube.html"
    return render(request, template, shown, status=HTTPStatus.UNPROCESSABLE_ENTITY if refused else HTTPStatus.OK)
