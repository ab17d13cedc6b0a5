"""Papers of a saved plan, made from the numbers stored."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_GET

from plasmawright.documents.made import Made
from plasmawright.documents.rack_card import rack_cards_of
from plasmawright.documents.render import Paper, render_rack_cards, render_worksheet
from plasmawright.documents.worksheet import worksheet_of
from plasmawright.planning.reading import visit_from
from plasmawright.records.models import Clinic, Plan
from plasmawright.records.permissions import Action
from plasmawright.records.selectors.plans import parameters_of
from plasmawright.web.kept_layers import layers_of
from plasmawright.web.saved_plans import plan_or_404
from plasmawright.web.sign_in import allowed

PAPERS: Mapping[str, Paper] = {"a4": "a4", "letter": "letter"}


@dataclass(frozen=True, kw_only=True)
class PaperLink:
    """One paper that can be opened."""

    name: str
    address: str


def papers_of(plan: Plan) -> tuple[PaperLink, ...]:
    """Return what can be printed of a saved plan."""
    kinds = (("worksheet", "plan_worksheet"), ("rack card", "plan_rack_card"))
    sizes = (("A4", "a4"), ("Letter", "letter"))
    return tuple(
        PaperLink(name=f"{kind}, {size}", address=reverse(route, args=[plan.pk, paper]))
        for kind, route in kinds
        for size, paper in sizes
    )


@allowed(Action.PRINT_PAPERS)
@require_GET
def worksheet(request: HttpRequest, clinic: Clinic, plan_id: int, paper: str) -> HttpResponse:
    """Return the worksheet."""
    plan = plan_or_404(clinic, plan_id)
    visit, answer = visit_from(plan.visit.document), plan.answer
    sheet = worksheet_of(visit, answer, layers=layers_of(visit, answer), made=made_of(plan))
    return pdf_answer(render_worksheet(sheet, paper=paper_named(paper)), f"worksheet-{plan_id}.pdf")


@allowed(Action.PRINT_PAPERS)
@require_GET
def rack_card(request: HttpRequest, clinic: Clinic, plan_id: int, paper: str) -> HttpResponse:
    """Return the rack cards, to be printed at 100 %."""
    plan = plan_or_404(clinic, plan_id)
    cards = rack_cards_of(visit_from(plan.visit.document), plan.answer, made=made_of(plan))
    return pdf_answer(render_rack_cards(cards, paper=paper_named(paper)), f"rack-card-{plan_id}.pdf")


def paper_named(named: str) -> Paper:
    """Return the paper of an address.

    Raises
    ------
    Http404
        If there is no such paper.
    """
    if named not in PAPERS:
        raise Http404
    return PAPERS[named]


def made_of(plan: Plan) -> Made:
    """Return where the papers of a saved plan come from."""
    believed = parameters_of(plan)
    return Made(
        at=plan.saved_at,
        model_version=plan.model_version,
        seed=plan.seed,
        draws=plan.draws,
        parameters_origin=believed.origin,
        parameters_digest=str(believed.as_document()["digest"]),
    )


def pdf_answer(content: bytes, name: str) -> HttpResponse:
    """Return a PDF that opens in the browser."""
    headers = {"Content-Disposition": f'inline; filename="{name}"'}
    return HttpResponse(content, content_type="application/pdf", headers=headers)
