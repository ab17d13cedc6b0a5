"""A browser that becomes a tablet of the clinic by a code, where no manager can come to it and sign in."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from plasmawright.errors import Refusal
from plasmawright.records.selectors.tablets import tablet_anywhere
from plasmawright.web.tablets import keep_token

CODE_MAX = 200


@require_http_methods(["GET", "POST"])
def tablet(request: HttpRequest) -> HttpResponse:
    """Ask for the code, and have this browser hold it: from then on it is that tablet.

    The code is a long random secret that a manager made by enrolling; without it the page gives nothing away.
    """
    if request.method == "GET":
        return render(request, "web/tablet.html", {})
    code = request.POST.get("code", "")[:CODE_MAX].strip()
    if not code or tablet_anywhere(code) is None:
        refused = Refusal(
            "code", "not known", "it must be the code of a tablet that is enrolled", "Ask a manager for a fresh one."
        )
        return render(request, "web/tablet.html", {"refused": refused}, status=422)
    response = redirect("account_login")
    keep_token(request, response, code)
    return response
