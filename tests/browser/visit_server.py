"""A clinic for whole visits: a shelf, patients who were here before, a plan of four tubes for one site, runs begun."""

import json
from pathlib import Path
from typing import Any

from tests.browser.bench_server import PINS, Served

from plasmawright.bench.mishaps import MISHAPS, Mishap
from plasmawright.bench.steps import ORDER, SPINS, Step

WITH_RECORDS = """
import json, sys, tomllib, uuid
from datetime import date
from plasmawright.cli.serving import prepare_records
prepare_records()
from tests.builders import *
from plasmawright.demo.bench import lay_out_bench
from plasmawright.records.selectors.patients import reference_of
from plasmawright.records.selectors.runs import vessels
from plasmawright.records.services.pins import set_pin
from plasmawright.records.services.run_entries import Told, take_entry
from plasmawright.records.services.tablets import enrol_tablet
from plasmawright.web.moment import moment_now

def add(number, name):
    return add_patient(
        clinic=clinic, name=name, birth_on=date(1940 + number, 1 + number % 12, 1 + number), weight_kg=68.0,
        record_number=f"R-{number}", sex_for_blood_volume="female", height_cm=171.0, by=pim, at=AT,
    )

def plan_for(patient, answer=None):
    own = {**document, "patient": {**document["patient"], "reference": reference_of(patient)}}
    visit = save_visit(clinic=clinic, document=own, text=json.dumps(own), by=cleo, at=AT)
    told = answer or choose_plan(visit_from(own), drawn(count=16, seed=1)).as_document()
    return make_plan(visit, cleo, answer=told)

def run_at(number, name, step, began, plan):
    patient, at = add(number, name), moment_now().at
    asked = open_intake(patient=patient, answers=none_apply(), by=pim, at=at)
    intake = sign_intake(intake=asked, decision="go_on", reason="", consent=True, by=cleo, at=at)
    run = open_run(
        plan=plan_for(patient, plan.answer), patient=patient, intake=intake, lots=(), solo=False, practice=False,
        by=pim, moment=moment_now(),
    )
    while (facts := stand(run)).step.value != step or (began and facts.began_at is None):
        if facts.step is Step.LABEL:  # scanned, so that tubes of several may be open at the hood
            for vessel in vessels(run):
                if vessel.kind == "tube":
                    tell(run, facts.step, Kind.SCANNED, {"code": vessel.code})
        press = press_of(facts)
        tell(run, facts.step, press.kind, press.body)
    return run.pk

def tell(run, step, kind, body):
    told = Told(kind=kind, step=step, body=body, key=uuid.uuid4().hex, by=pim, carried_by=pim)
    take_entry(run=run, arrived=told, moment=moment_now())
"""
CLINIC = (
    WITH_RECORDS
    + """
document = tomllib.loads(VISIT_TEXT)
document["bench"]["second_tubes_at_hand"] = 2
document["sites"] = [{**document["sites"][0], "platelets_1e9": 3.2}]
clinic = make_clinic()
pim, cleo = make_person(clinic), make_person(clinic, "cleo", Role.CLINICIAN)
mo = make_person(clinic, "mo", Role.MANAGER)
wanted = json.loads(sys.argv[1])
for person in (pim, cleo, mo):
    set_pin(person=person, clinic=clinic, pin=wanted["pins"][person.username], by=person, at=moment_now().at)
_, token = enrol_tablet(clinic=clinic, name="hood", by=mo, at=moment_now().at)
lay_out_bench(clinic, pim, moment_now().at)
plans = {}
for number, name in enumerate(wanted["returning"]):
    patient = add(number, name)
    make_intake(patient, pim, cleo)
    plans[name] = plan_for(patient, plans[wanted["returning"][0]].answer if plans else None)
first = plans[wanted["returning"][0]]
assert (first.answer["chosen"]["tubes"], len(first.answer["chosen"]["sites"])) == (4, 1)
runs = {
    one["key"]: run_at(10 + number, one["name"], one["step"], one["began"], first)
    for number, one in enumerate(wanted["runs"])
}
print(json.dumps({"token": token, "runs": runs}))
"""
)
CODES = """
import json, sys
from plasmawright.cli.serving import database_answers
with database_answers():
    pass
from plasmawright.records.models import Clinic
from plasmawright.records.selectors.runs import run, vessels
found = vessels(run(Clinic.objects.get(), int(sys.argv[1])))
print(json.dumps([[one.kind, one.number, one.code] for one in found]))
"""
STANDS = """
import json, sys
from plasmawright.cli.serving import database_answers
with database_answers():
    pass
from plasmawright.records.models import Clinic
from plasmawright.records.selectors.runs import entries, run, stand
clinic = Clinic.objects.get()
def told(number):
    found = run(clinic, number)
    facts = stand(found)
    return {
        "step": facts.step.value, "open": facts.open_mishap is not None, "dose_unknown": facts.dose_unknown,
        "lost": [tube.number for tube in facts.tubes if tube.lost], "tubes": len(facts.tubes),
        "void": [tube.number for tube in facts.tubes if tube.void], "all_void": facts.all_void,
        "red": {tube.number: tube.red_fate for tube in facts.tubes if tube.red},
        "mishaps": list(facts.mishaps), "kinds": [entry.kind for entry in entries(found)],
    }
print(json.dumps({number: told(int(number)) for number in sys.argv[1:]}))
"""


RETURNING = ("Ada Lindqvist", "Bo Okonjo")
"""Nobody is of these names."""


def first_step(mishap: Mishap) -> Step:
    """Return the step at which a mishap is first offered."""
    return min(mishap.steps, key=ORDER.index)


def name_of(mishap: str) -> str:
    """Return the name of the patient whose run stands for a mishap; it is like no other."""
    return f"{mishap} {mishap[::-1]}".title().replace("_", "")


def _begun(mishap: Mishap) -> dict[str, object]:
    """Return a run to be brought to the first step of a mishap."""
    step = first_step(mishap)
    return {"key": mishap.name, "name": name_of(mishap.name), "step": step.value, "began": step in SPINS}


class VisitServer(Served):
    """A clinic in which patients come back, and for each mishap a run stands where it is first offered."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        runs = [_begun(mishap) for mishap in MISHAPS.values()]
        made = self.printed(CLINIC, json.dumps({"pins": PINS, "returning": RETURNING, "runs": runs}))
        self.token: str = made["token"]
        self.runs: dict[str, int] = made["runs"]

    def codes(self, run: int) -> dict[tuple[str, int], str]:
        """Return what the labels of a run hold, by what they are on."""
        return {(kind, number): code for kind, number, code in self.printed(CODES, str(run))}

    def stands(self, *runs: int) -> dict[int, dict[str, Any]]:
        """Return where runs stand by the database. Any: JSON."""
        found = self.printed(STANDS, *(str(run) for run in runs))
        return {int(number): told for number, told in found.items()}
