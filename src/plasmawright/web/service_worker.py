"""The worker that keeps the running step on screen when nobody answers."""

from functools import cache
from importlib.resources import files

from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET


@never_cache
@require_GET
def service_worker(_request: HttpRequest) -> HttpResponse:
    """Return the worker's script from an address above the pages it answers for, as a browser asks."""
    return HttpResponse(_script(), content_type="text/javascript; charset=utf-8")


@cache
def _script() -> str:
    return files("plasmawright.web").joinpath("static/web/bench/worker.js").read_text(encoding="utf-8")
