"""Labels of a run's vessels, gathered from what is on record."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from plasmawright import __version__
from plasmawright.bench.clocks import hold_clock
from plasmawright.bench.facts import RunFacts
from plasmawright.documents.labels import Label, LabelSheet, label_of, label_sheet
from plasmawright.documents.made import Printed
from plasmawright.documents.render import Paper
from plasmawright.planning.reading import visit_from
from plasmawright.records.models import Patient, Plan, Run, Vessel, VesselKind
from plasmawright.records.selectors.patients import alerts_of
from plasmawright.records.selectors.runs import entries, stand, vessels
from plasmawright.web.run_times import day_and_minute

PRACTICE_PATIENT = ("Practice, nobody's blood",)
HOLDS = {
    VesselKind.COUNT_TUBE: "blood for counting",
    VesselKind.TUBE: "blood, anticoagulated",
    VesselKind.SECOND_TUBE: "plasma",
    VesselKind.PPP: "PPP, kept until release",
    VesselKind.SYRINGE: "syringe",
}
IN_ORDER = tuple(VesselKind)


def identifiers_of(patient: Patient, chosen: Sequence[str]) -> tuple[str, ...]:
    """Return the identifiers a clinic prints, the name first."""
    words = {
        "name": patient.name,
        "birth_on": f"born {patient.birth_on:%Y-%m-%d}",
        "record_number": f"no. {patient.record_number}",
    }
    return tuple(said for name, said in words.items() if name in chosen)


def labels_of(run: Run, *, paper: Paper, first: int, at: datetime) -> LabelSheet:
    """Return the labels of a run from position ``first`` of a sheet; what has not happened yet stays a line.

    Raises
    ------
    OutOfRange
        If the sheet has no such position.
    """
    facts, held = stand(run), sorted(vessels(run), key=lambda one: (IN_ORDER.index(VesselKind(one.kind)), one.number))
    full_at = filled_at(run)
    patient = run.patient
    chosen = run.policy_document["label_identifiers"]
    identifiers = PRACTICE_PATIENT if patient is None else identifiers_of(patient, chosen)
    alerted = patient is not None and bool(alerts_of(patient))
    of_kind = {kind: sum(one.kind == kind for one in held) for kind in VesselKind}
    labels = [
        replace(
            _label(one, facts, full_at=full_at, of=of_kind[VesselKind(one.kind)], identifiers=identifiers),
            name_alert=alerted,
            practice=run.practice,
        )
        for one in held
    ]
    return label_sheet(
        labels,
        title=run.code,
        paper=paper,
        made=Printed(at=at, version=__version__),
        first=first,
        inner_diameters_mm=bores_mm(run.plan),
    )


def labels_without_codes(
    plan: Plan, *, identifiers: tuple[str, ...], alerted: bool, paper: Paper, at: datetime
) -> LabelSheet:
    """Return labels of a run that is planned and not opened: it has no codes yet, the identifiers stand alone."""
    chosen = plan.answer["chosen"]
    blank = [(f"tube {number}", HOLDS[VesselKind.TUBE]) for number in range(1, int(chosen["tubes"]) + 1)]
    blank += [(f"second tube {number}", "plasma") for number in range(1, int(chosen["hard"]["tubes"]) + 1)]
    blank.append(("PPP", HOLDS[VesselKind.PPP]))
    labels = [label_of(None, vessel=vessel, identifiers=identifiers, product=product) for vessel, product in blank]
    for number, site in enumerate(chosen["sites"], start=1):
        side = "" if site["side"] == "none" else f" ({site['side']})"
        made = label_of(None, vessel=f"syringe {number}", identifiers=identifiers, product=site["product"].upper())
        labels.append(replace(made, place=f"{site['name']}{side}"))
    return label_sheet(
        [replace(one, name_alert=alerted) for one in labels],
        title=", ".join(identifiers[:1]),
        paper=paper,
        made=Printed(at=at, version=__version__),
        inner_diameters_mm=bores_mm(plan),
    )


def bores_mm(plan: Plan) -> tuple[float, ...]:
    """Return the bores of the tubes that a plan uses."""
    visit = visit_from(plan.visit.document)
    names = (visit.bench.tube, visit.bench.second_tube)
    return tuple(visit.tubes[name].inner_diameter_mm for name in names)


def filled_at(run: Run) -> datetime | None:
    """Return when the syringes were filled last."""
    done = [one for one in entries(run) if (one.kind, one.step, one.review) == ("done", "fill", False)]
    return (done[-1].true_at or done[-1].at) if done else None


def _label(
    vessel: Vessel, facts: RunFacts, *, full_at: datetime | None, of: int, identifiers: tuple[str, ...]
) -> Label:
    kind = VesselKind(vessel.kind)
    counted = f" {vessel.number} of {of}" if of > 1 else ""
    made = label_of(
        vessel.code,
        vessel={VesselKind.PPP: "PPP", VesselKind.SECOND_TUBE: "second"}.get(kind, kind.label) + counted,
        identifiers=identifiers,
        product=vessel.product.upper() or HOLDS[kind],
    )
    prepared_at = full_at if kind is VesselKind.SYRINGE else None
    volume_ml = vessel.volume_ml if full_at is not None else None
    if kind is VesselKind.TUBE and (tube := facts.tube(vessel.number)) is not None and tube.filled_at is not None:
        prepared_at = tube.filled_at
        volume_ml = tube.blood_ml or facts.opening.blood_ml
    hold = hold_clock(facts)
    return replace(
        made,
        volume="" if volume_ml is None else f"{volume_ml:.1f} mL",
        prepared="" if prepared_at is None else day_and_minute(prepared_at),
        use_by="" if hold is None or kind is VesselKind.COUNT_TUBE else day_and_minute(hold.due_at),
        place=vessel.site,
    )
