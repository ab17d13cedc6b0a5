"""Papers of a run and of a day: labels, record, scanner commands, downtime pack."""

from http import HTTPStatus

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from plasmawright import __version__
from plasmawright.documents.command_card import command_card
from plasmawright.documents.made import Printed
from plasmawright.documents.render import (
    render_command_card,
    render_downtime_pack,
    render_labels,
    render_record,
    render_single_labels,
)
from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Run
from plasmawright.records.permissions import Action
from plasmawright.records.selectors.runs import run as run_kept
from plasmawright.web.downtime_papers import downtime_pack
from plasmawright.web.paper_views import paper_named, pdf_answer
from plasmawright.web.run_labels import labels_of
from plasmawright.web.run_record import record_of
from plasmawright.web.sign_in import allowed


@allowed(Action.PRINT_PAPERS)
@require_GET
def labels(request: HttpRequest, clinic: Clinic, run_id: int, paper: str) -> HttpResponse:
    """Return a run's labels: on sheets from ``?from=``, or with ``?single=1`` one to a page."""
    run, named = _run_or_404(clinic, run_id), paper_named(paper)
    try:
        sheet = labels_of(run, paper=named, first=_position(request.GET.get("from", "1")), at=timezone.now())
    except Refusal as refused:
        shown = {"clinic": clinic, "refused": refused}
        return render(request, "web/paper_refused.html", shown, status=HTTPStatus.UNPROCESSABLE_ENTITY)
    make = render_single_labels if request.GET.get("single") == "1" else render_labels
    return pdf_answer(make(sheet, paper=named), f"labels-{run.code}.pdf")


@allowed(Action.PRINT_PAPERS)
@require_GET
def record(request: HttpRequest, clinic: Clinic, run_id: int, paper: str) -> HttpResponse:
    """Return the record of a run as it stands now."""
    run, named = _run_or_404(clinic, run_id), paper_named(paper)
    return pdf_answer(render_record(record_of(run, at=timezone.now()), paper=named), f"record-{run.code}.pdf")


@allowed(Action.PRINT_PAPERS)
@require_GET
def commands(request: HttpRequest, clinic: Clinic, paper: str) -> HttpResponse:
    """Return the card of scanner commands."""
    card = command_card(Printed(at=timezone.now(), version=__version__))
    return pdf_answer(render_command_card(card, paper=paper_named(paper)), "scanner-commands.pdf")


@allowed(Action.PRINT_PAPERS)
@require_GET
def downtime(request: HttpRequest, clinic: Clinic, paper: str) -> HttpResponse:
    """Return the day's papers in one file."""
    named, at = paper_named(paper), timezone.now()
    pack = downtime_pack(clinic, day=timezone.localdate(at), paper=named, at=at)
    return pdf_answer(render_downtime_pack(pack, paper=named), f"downtime-{pack.day}.pdf")


def _position(given: str) -> int:
    if not (given.isascii() and given.isdecimal() and len(given) < 5):
        raise Refusal("from", given, "it must be a position on the sheet, such as 4", "Count along the rows from 1.")
    return int(given)


def _run_or_404(clinic: Clinic, run_id: int) -> Run:
    found = run_kept(clinic, run_id)
    if found is None:
        raise Http404
    return found
