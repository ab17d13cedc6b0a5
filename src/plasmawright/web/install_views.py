"""What a tablet needs before it trusts these pages, and how the installation is."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from plasmawright.records.certificates import kept_root
from plasmawright.records.models import Clinic
from plasmawright.records.selectors.health import health
from plasmawright.web.sign_in import members_only

CERTIFICATE_TYPE = "application/x-x509-ca-cert"


@require_GET
def install(request: HttpRequest) -> HttpResponse:
    """Show the steps to anybody: whoever needs them cannot have signed in yet."""
    return render(request, "web/install.html", {"root": kept_root(), "pages_url": request.build_absolute_uri("/")})


@require_GET
def root(_request: HttpRequest, form: str) -> HttpResponse:
    """Give out the root certificate as text (``crt``) or as bytes (``der``)."""
    kept = kept_root()
    if kept is None or form not in {"crt", "der"}:
        raise Http404
    return HttpResponse(kept.pem if form == "crt" else kept.der, content_type=CERTIFICATE_TYPE)


@require_GET
@members_only
def installation(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show how ledger, backups and certificate are."""
    return render(request, "web/installation.html", {"clinic": clinic, "place": "installation", "health": health()})
