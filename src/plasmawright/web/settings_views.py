"""The Settings page: what a clinic chooses for itself, each choice beside the published spread."""

from dataclasses import dataclass
from datetime import UTC, datetime
from http import HTTPStatus

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from plasmawright.errors import Refusal
from plasmawright.practice.clinic_settings import NO, SETTINGS, YES, Part, Setting, YesNoSetting
from plasmawright.records.models import Clinic, ClinicSetting
from plasmawright.records.permissions import Action, may
from plasmawright.records.selectors.settings import choices_of
from plasmawright.records.services.settings import set_setting
from plasmawright.web.sign_in import allowed, person_of


@dataclass(frozen=True, kw_only=True)
class Row:
    """One setting as the page shows it: what stands or was typed, who chose it, and why an entry was refused."""

    setting: Setting
    value: str
    chosen: ClinicSetting | None
    refusal: str

    @property
    def choices(self) -> tuple[str, ...]:
        """Return what may be chosen; empty for a number."""
        return (YES, NO) if isinstance(self.setting, YesNoSetting) else ()


@allowed(Action.READ)
@require_GET
def settings(request: HttpRequest, clinic: Clinic) -> HttpResponse:
    """Show every setting; whoever may not change them sees them all the same."""
    return _page(request, clinic)


@allowed(Action.CHANGE_SETTINGS)
@require_POST
def change(request: HttpRequest, clinic: Clinic, key: str) -> HttpResponse:
    """Choose one setting."""
    text = request.POST.get("value", "").strip()
    try:
        set_setting(clinic=clinic, key=key, value_text=text, by=person_of(request), at=datetime.now(UTC))
    except Refusal as refused:
        return _page(request, clinic, key=key, typed=text, refused=refused)
    words = next(known.words for known in SETTINGS if known.key == key)
    messages.success(request, f"{words}: {text}.")
    return redirect(f"{reverse('settings')}#{key}")


def _page(
    request: HttpRequest, clinic: Clinic, *, key: str = "", typed: str = "", refused: Refusal | None = None
) -> HttpResponse:
    chosen = choices_of(clinic)
    rows = [
        Row(
            setting=known,
            value=typed if known.key == key else _standing(known, chosen),
            chosen=chosen.get(known.key),
            refusal=str(refused) if refused is not None and known.key == key else "",
        )
        for known in SETTINGS
    ]
    shown = {
        "clinic": clinic,
        "place": "settings",
        "parts": [(part, [row for row in rows if row.setting.part is part]) for part in Part],
        "refused": refused,
        "may_change": may(person=person_of(request), clinic=clinic, action=Action.CHANGE_SETTINGS),
    }
    status = HTTPStatus.OK if refused is None else HTTPStatus.UNPROCESSABLE_ENTITY
    return render(request, "web/settings.html", shown, status=status)


def _standing(known: Setting, chosen: dict[str, ClinicSetting]) -> str:
    return chosen[known.key].value_text if known.key in chosen else known.default_text
