"""The Shelf as its page shows it: what stands there, what is left, and what is due."""

from dataclasses import dataclass
from datetime import date

from plasmawright.practice.checks import CheckKind, LastCheck
from plasmawright.records.models import Adapter, Centrifuge, Check, Clinic, Rotor, TubeKind
from plasmawright.records.selectors.checks import last_bore, last_checks
from plasmawright.records.selectors.lots import SupplyStock, stock
from plasmawright.records.selectors.shelf import adapters, centrifuges, rotors, tube_kinds

FORM_OF = {
    CheckKind.SPEED: "speed",
    CheckKind.TIMER: "timer",
    CheckKind.SCALE: "scale",
    CheckKind.HOOD: "hood",
}


@dataclass(frozen=True, kw_only=True)
class CheckLine:
    """One thing that is checked, and how it stands; ``word`` is failed, due, missing or stands."""

    called: str
    form: str
    word: str
    words: str
    reading: str


@dataclass(frozen=True, kw_only=True)
class TubeLine:
    """One kind of tube, with how its bore is known and what carries it."""

    kind: TubeKind
    bore: Check | None
    adapters: tuple[Adapter, ...]


@dataclass(frozen=True, kw_only=True)
class ShelfPage:
    """Everything the Shelf shows on a day."""

    centrifuges: list[Centrifuge]
    rotors: list[Rotor]
    tubes: tuple[TubeLine, ...]
    supplies: list[SupplyStock]
    low: tuple[SupplyStock, ...]
    checks: tuple[CheckLine, ...]


def shelf_page(clinic: Clinic, on: date) -> ShelfPage:
    """Return what the Shelf shows on a day."""
    carried, stocked = adapters(clinic), stock(clinic, on)
    return ShelfPage(
        centrifuges=centrifuges(clinic),
        rotors=rotors(clinic),
        tubes=tuple(
            TubeLine(
                kind=kind,
                bore=last_bore(kind),
                adapters=tuple(adapter for adapter in carried if adapter.tube_kind_id == kind.pk),
            )
            for kind in tube_kinds(clinic)
        ),
        supplies=stocked,
        low=tuple(stands for stands in stocked if stands.is_low),
        checks=tuple(_line(check, on) for check in last_checks(clinic)),
    )


def _line(check: LastCheck, on: date) -> CheckLine:
    word, words = _standing(check, on)
    return CheckLine(called=check.called, form=FORM_OF[check.kind], word=word, words=words, reading=check.reading)


def _standing(check: LastCheck, on: date) -> tuple[str, str]:
    if check.done_on is None or check.due_on is None:
        return "missing", "none is written down"
    if not check.passed:
        return "failed", f"failed on {check.done_on}: no run may start with it"
    if on > check.due_on:
        return "due", f"was due by {check.due_on}"
    return "stands", f"done {check.done_on}, stands until {check.due_on}"
