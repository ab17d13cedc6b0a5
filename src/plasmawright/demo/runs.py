"""The invented day: patients, intakes, and one run that is finished."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Any

from plasmawright.bench.entries import Kind
from plasmawright.bench.moments import Moment
from plasmawright.bench.press import press_of
from plasmawright.bench.steps import SPINS, Step
from plasmawright.practice.intake import none_apply
from plasmawright.records.models import Clinic, Intake, Lot, Patient, Person, Plan, Run, SupplyKind, Tablet
from plasmawright.records.selectors.lots import lots_in_use
from plasmawright.records.selectors.runs import stand, vessels
from plasmawright.records.services.intake import open_intake, sign_intake
from plasmawright.records.services.patients import add_patient
from plasmawright.records.services.run_entries import Told, take_entry
from plasmawright.records.services.runs import open_run
from plasmawright.records.services.signatures import ReadBack, release_run

PATIENTS: tuple[Mapping[str, Any], ...] = (
    {
        "name": "Marta Fablewood",
        "birth_on": date(1965, 3, 12),
        "record_number": "INV-1001",
        "sex_for_blood_volume": "female",
        "weight_kg": 68.0,
        "height_cm": 171.0,
    },
    {
        "name": "Martha Fablewood",
        "birth_on": date(1971, 9, 2),
        "record_number": "INV-1002",
        "sex_for_blood_volume": "female",
        "weight_kg": 61.0,
        "height_cm": 164.0,
    },
    {
        "name": "Otis Quillfeather",
        "birth_on": date(1984, 6, 30),
        "record_number": "INV-1003",
        "sex_for_blood_volume": "male",
        "weight_kg": 82.0,
        "height_cm": 180.0,
    },
)
"""Nobody of these names and dates exists; the first two are alike so that the name alert is seen."""

FINISHED_BEFORE = timedelta(hours=3)
SECONDS: Mapping[Step, float] = {Step.REST: 605.0, Step.STAND: 30.0}


def _measures(plan: Plan) -> Mapping[Step, tuple[str, float]]:
    """Return what is read at three steps: a run in which all went as the plan expects."""
    chosen = plan.answer["chosen"]
    pooled_ml = round(chosen["stop"]["expected_plasma_ml"]["p50"] * chosen["tubes"], 1)
    return {
        Step.LOOK: ("interface_mm", round(chosen["stop"]["expected_interface_mm"]["p50"])),
        Step.POOL: ("pooled_ml", pooled_ml),
        Step.TAKE_OFF: ("ppp_ml", round(pooled_ml - chosen["leave_ml"], 1)),
    }


def _in_hand_ml(plan: Plan) -> float:
    sites = plan.answer["chosen"]["sites"]
    return round(sum(float(site["volume_ml"]) for site in sites if site["product"] == "prp"), 1)


def _lots(plan: Plan, at: datetime) -> list[tuple[Lot, int]]:
    """Return the lots a run opens, and how many pieces of each."""
    chosen = plan.answer["chosen"]
    pieces = {
        SupplyKind.BLOOD_TUBE: int(chosen["tubes"]),
        SupplyKind.SECOND_TUBE: int(chosen["hard"]["tubes"]) + 1,
        SupplyKind.SYRINGE: len(chosen["sites"]),
        SupplyKind.NEEDLE_SET: 1,
        SupplyKind.SKIN_PREPARATION: 1,
    }
    lots = lots_in_use(plan.clinic, at.date())
    kinds = {SupplyKind(lot.supply.kind): lot for lot in reversed(lots)}
    return [(kinds[kind], count) for kind, count in pieces.items() if kind in kinds]


def invent_patients(clinic: Clinic, by: Person, at: datetime) -> list[Patient]:
    """Add the invented patients."""
    return [add_patient(clinic=clinic, by=by, at=at, **fields) for fields in PATIENTS]


def invent_intake(patient: Patient, *, by: Person, clinician: Person, at: datetime) -> Intake:
    """Go through an intake in which nothing applies, signed to go on."""
    intake = open_intake(patient=patient, answers=none_apply(), by=by, at=at)
    return sign_intake(intake=intake, decision="go_on", reason="", consent=True, by=clinician, at=at)


class FinishedRun:
    """Runs one plan from the first identifier to a released syringe, on a clock that starts three hours ago."""

    def __init__(self, *, preparer: Person, clinician: Person, tablet: Tablet, at: datetime) -> None:
        self.preparer, self.clinician, self.tablet = preparer, clinician, tablet
        self.started_at = at - FINISHED_BEFORE
        self.passed_s = 0.0
        self.told = 0

    def _moment(self) -> Moment:
        at = self.started_at + timedelta(seconds=self.passed_s)
        return Moment(at=at, boot_id="invented", boot_s=self.passed_s)

    def make(self, patient: Patient, intake: Intake, plan: Plan, *, pin: str) -> Run:
        """Open the run, press its keys, measure what the plan asks to be measured, and have it released."""
        run = open_run(
            plan=plan,
            patient=patient,
            intake=intake,
            lots=_lots(plan, self.started_at),
            solo=False,
            practice=False,
            by=self.preparer,
            moment=self._moment(),
        )
        measures, in_hand_ml = _measures(plan), _in_hand_ml(plan)
        while (facts := stand(run)).step is not Step.RELEASE:
            if facts.step is Step.LABEL and not facts.scanned:
                for vessel in vessels(run):
                    if vessel.kind == "tube":
                        self._tell(run, Kind.SCANNED, {"code": vessel.code}, seconds=4.0)
            if facts.step in measures and measures[facts.step][0] not in facts.measured:
                what, value = measures[facts.step]
                self._tell(run, Kind.MEASURED, {"what": what, "value": value}, seconds=15.0)
            press = press_of(facts)
            if press is None:
                raise RuntimeError("an invented run meets no mishap")
            body = dict(press.body)
            if facts.step is Step.CHECK:
                body |= {"prp_ml": in_hand_ml, "label_read": True, "clock_read": True}
            self._tell(run, press.kind, body, seconds=self._lasts(run, facts.step))
        self.passed_s += 40.0
        release_run(
            run=run,
            signer=self.clinician,
            pin=pin,
            tablet=self.tablet,
            read=ReadBack(label=True, clock=True, prp_ml=in_hand_ml),
            by=self.preparer,
            moment=self._moment(),
        )
        return run

    def _lasts(self, run: Run, step: Step) -> float:
        """Return how long the hands take to come to this press."""
        facts = stand(run)
        if step in SPINS and facts.began_at is not None:
            minutes = float(facts.opening.plan["soft" if step is Step.SOFT_SPIN else "hard"]["minutes"])
            return 60.0 * minutes + 100.0
        return SECONDS.get(step, 45.0)

    def _tell(self, run: Run, kind: Kind, body: Mapping[str, Any], *, seconds: float) -> None:
        self.passed_s += seconds
        self.told += 1
        arrived = Told(
            kind=kind,
            step=stand(run).step,
            body=body,
            key=f"invented-{self.told}",
            by=self.preparer,
            carried_by=self.preparer,
            tablet=self.tablet,
        )
        take_entry(run=run, arrived=arrived, moment=self._moment())
