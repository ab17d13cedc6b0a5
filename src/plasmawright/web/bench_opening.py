"""What a run is opened with: a plan, a patient with a signed intake, the lots to open, one person or two."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from plasmawright.bench.policy import Policy
from plasmawright.errors import Refusal
from plasmawright.planning.visit import Visit
from plasmawright.practice.statements import Caution
from plasmawright.records.models import Clinic, Decision, Intake, Lot, Patient, Plan, SupplyKind
from plasmawright.records.selectors.checks import opening_cautions, opening_refusals
from plasmawright.records.selectors.intake import intakes_of
from plasmawright.records.selectors.lots import SupplyStock, stock
from plasmawright.records.selectors.patients import alerts_of, reference_of
from plasmawright.records.selectors.settings import policy_of
from plasmawright.web.run_labels import identifiers_of

PIECES_MAX = 99


@dataclass(frozen=True, kw_only=True)
class LotLine:
    """One supply of the shelf: the lot to open, how many pieces this run takes, and what stands against it."""

    supply: str
    lot: Lot | None
    left: int
    quantity: str
    field: str
    why: str


@dataclass(frozen=True, kw_only=True)
class OpeningPage:
    """Everything the page shows before a run is opened."""

    plan: Plan
    chosen: Mapping[str, Any]
    patient: Patient
    identifiers: tuple[str, ...]
    alerts: tuple[str, ...]
    other_reference: str
    intake: Intake | None
    stopped: tuple[str, ...]
    cautions: tuple[Caution, ...]
    lots: tuple[LotLine, ...]
    policy: Policy


def opening_page(
    clinic: Clinic,
    *,
    plan: Plan,
    visit: Visit,
    patient: Patient,
    intake: Intake | None,
    on: date,
    typed: Mapping[str, str],
) -> OpeningPage:
    """Return the page that opens a run, every quantity of the shelf filled in from the plan."""
    policy = policy_of(clinic)
    return OpeningPage(
        plan=plan,
        chosen=plan.answer["chosen"],
        patient=patient,
        identifiers=identifiers_of(patient, policy.label_identifiers),
        alerts=alerts_of(patient),
        other_reference="" if visit.patient.reference == reference_of(patient) else visit.patient.reference,
        intake=intake,
        stopped=tuple(str(one) for one in (*_of_intake(patient, intake), *opening_refusals(clinic, rotor=None))),
        cautions=opening_cautions(clinic, rotor=None, on=on),
        lots=lot_lines(clinic, plan=plan, visit=visit, on=on, typed=typed),
        policy=policy,
    )


def newest_intake(patient: Patient) -> Intake | None:
    """Return the patient's newest intake, or nothing."""
    return next(iter(intakes_of(patient)), None)


def _of_intake(patient: Patient, intake: Intake | None) -> tuple[Refusal, ...]:
    if intake is None:
        return (Refusal("intake", "missing", "a run needs this visit's intake", "Go through the intake first."),)
    if intake.decision != Decision.GO_ON:
        limit = "a clinician must have signed it to go on"
        return (Refusal("intake", "not signed to go on", limit, "Ask a clinician to decide and sign."),)
    return ()


def lot_lines(clinic: Clinic, *, plan: Plan, visit: Visit, on: date, typed: Mapping[str, str]) -> tuple[LotLine, ...]:
    """Return a line for each supply; the pieces that a kind needs stand at its first supply, or at the one named."""
    wanted, supplies = needed(plan.answer["chosen"]), stock(clinic, on)
    meant = _meant(supplies, visit)
    found = []
    for stands in supplies:
        kind = SupplyKind(stands.supply.kind)
        pieces = wanted.get(kind, 0) if meant.get(kind) == stands.supply.pk else 0
        lot, name = stands.to_open, f"lot-{stands.supply.pk}"
        # where all there is may not be used, somebody says so by writing 0: the page takes none by itself
        stopped = lot is None and any(one.refusal is not None for one in stands.to_show)
        found.append(
            LotLine(
                supply=stands.supply.name,
                lot=lot,
                left=stands.left,
                quantity=typed.get(name, str(pieces if lot is not None or stopped else 0)),
                field=name,
                why=_why(stands, pieces),
            )
        )
    return tuple(found)


def needed(chosen: Mapping[str, Any]) -> Counter[SupplyKind]:
    """Return how many pieces of each kind a plan takes."""
    tubes, second, sites = int(chosen["tubes"]), int(chosen["hard"]["tubes"]), len(chosen["sites"])
    return Counter(
        {
            SupplyKind.BLOOD_TUBE: tubes,
            SupplyKind.SECOND_TUBE: second + 1,  # one more keeps the platelet-poor plasma until release
            SupplyKind.ANTICOAGULANT: 1,
            SupplyKind.NEEDLE_SET: 1,
            SupplyKind.SYRINGE: sites,
            SupplyKind.NEEDLE: sites,
            SupplyKind.PIPETTE: tubes + second,
            SupplyKind.LABEL: tubes + second + 1 + sites,
            SupplyKind.SKIN_PREPARATION: 1,
        }
    )


def _meant(supplies: list[SupplyStock], visit: Visit) -> dict[SupplyKind, int]:
    """Return for each kind the supply the plan means: the one with its tube's name, else the first with a lot."""
    names = {SupplyKind.BLOOD_TUBE: visit.bench.tube, SupplyKind.SECOND_TUBE: visit.bench.second_tube}
    found: dict[SupplyKind, int] = {}
    for kind in SupplyKind:
        of_kind = [one for one in supplies if one.supply.kind == kind]
        named = [one for one in of_kind if names.get(kind, "\0").casefold() == one.supply.name.casefold()]
        usable = [one for one in of_kind if one.to_open is not None]
        if first := next(iter([*named, *usable, *of_kind]), None):
            found[kind] = first.supply.pk
    return found


def _why(stands: SupplyStock, pieces: int) -> str:
    if stands.to_open is None:
        refused = next((one.refusal for one in stands.to_show if one.refusal is not None), None)
        return f"None to use. {refused}" if refused else "None left on the shelf."
    return f"Only {stands.left} left." if stands.left < pieces else ""
