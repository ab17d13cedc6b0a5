"""The newest check of everything, and what a run's opening has to say of them."""

from collections.abc import Iterable
from datetime import date

from plasmawright.errors import Refusal
from plasmawright.practice import checks as rules
from plasmawright.practice.checks import CheckKind, LastCheck
from plasmawright.practice.statements import Caution
from plasmawright.records.models import Centrifuge, Check, Clinic, Rotor, TubeKind

OF_A_CENTRIFUGE = (CheckKind.SPEED, CheckKind.TIMER)
OF_A_NAME = {CheckKind.HOOD: "the hood", CheckKind.SCALE: "the scale"}
"""What it is called until one of its checks says its name."""


def last_checks(clinic: Clinic) -> list[LastCheck]:
    """Return the newest check of every centrifuge, hood and scale; one that was never checked stands there empty."""
    return _checks_for(clinic, Centrifuge.objects.of(clinic).order_by("name"))


def opening_cautions(clinic: Clinic, *, rotor: Rotor | None, on: date) -> tuple[Caution, ...]:
    """Return what a run's opening should say of checks past due or never written down; they do not stop it.

    Without a rotor, or where nobody said which centrifuge it turns in, every centrifuge counts.
    """
    return rules.cautions_of(_checks_for(clinic, _turning(clinic, rotor)), on)


def opening_refusals(clinic: Clinic, *, rotor: Rotor | None) -> tuple[Refusal, ...]:
    """Return what stops a run: of everything it would use, the last checks that failed."""
    return rules.refusals_of(_checks_for(clinic, _turning(clinic, rotor)))


def checks_due(clinic: Clinic, on: date) -> list[LastCheck]:
    """Return the newest checks that failed, are past due, or were never written down."""
    return [check for check in last_checks(clinic) if rules.cautions_of((check,), on) or rules.refusals_of((check,))]


def last_bore(tube_kind: TubeKind) -> Check | None:
    """Return the newest measurement of a kind's bore, or nothing."""
    measured = Check.objects.of(tube_kind.clinic).filter(tube_kind=tube_kind)
    return measured.select_related("by").order_by("-done_on", "-pk").first()


def _turning(clinic: Clinic, rotor: Rotor | None) -> Iterable[Centrifuge]:
    if rotor is not None and rotor.centrifuge is not None:
        return (rotor.centrifuge,)
    return Centrifuge.objects.of(clinic).order_by("name")


def _checks_for(clinic: Clinic, centrifuges: Iterable[Centrifuge]) -> list[LastCheck]:
    newest = {
        (check.kind, check.about.casefold()): check
        for check in Check.objects.of(clinic).select_related("centrifuge", "tube_kind").order_by("done_on", "pk")
    }
    wanted = [(kind, centrifuge.name) for centrifuge in centrifuges for kind in OF_A_CENTRIFUGE]
    for kind, called in OF_A_NAME.items():
        named = sorted(check.about for (of, _), check in newest.items() if of == kind)
        wanted += [(kind, name) for name in named or [called]]
    return [_told(kind, about, newest.get((kind.value, about.casefold()))) for kind, about in wanted]


def _told(kind: CheckKind, about: str, check: Check | None) -> LastCheck:
    if check is None:
        return LastCheck(kind=kind, about=about)
    return LastCheck(
        kind=kind,
        about=about,
        done_on=check.done_on,
        due_on=check.due_on,
        passed=check.passed,
        reading=check.reading_text,
    )
