"""Databases as they were really written at the end of earlier issues still open, row by row."""

import json
import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

KEPT = Path(__file__).parents[1] / "fixtures/upgrade"
EVERY_ROW = """
import json
from django.apps import apps
from plasmawright.cli.serving import prepare_records
prepare_records()
from plasmawright.planning.reading import visit_from
from plasmawright.records.models import Clinic, Plan, Run, Visit
from plasmawright.records.selectors.runs import signature, stand
counted = {}
for model in apps.get_app_config("records").get_models():
    rows = list(model._base_manager.all())
    for row in rows:
        row.full_clean(validate_unique=False, validate_constraints=False)
        assert str(row)
    counted[model.__name__] = len(rows)
for clinic in Clinic.objects.all():
    for visit in Visit.objects.of(clinic):
        visit_from(visit.document)
    for plan in Plan.objects.of(clinic):
        assert plan.answer["chosen"]["tubes"] >= 1
    for run in Run.objects.of(clinic):
        facts = stand(run)
        assert facts.step == run.step == "released"
        assert signature(run).witnessed
print(json.dumps(counted))
"""
HELD = {
    "a1": {"Clinic": 2, "Person": 1, "Membership": 2, "Entry": 5},
    "a2": {
        "Clinic": 2, "Person": 1, "Membership": 2, "Rotor": 1, "TubeKind": 2, "Adapter": 1, "ParameterSet": 1,
        "Visit": 1, "Plan": 2, "Entry": 14, "Aside": 14, "ChainHead": 2,
    },
    "b": {
        "Clinic": 3, "Person": 5, "Membership": 6, "Centrifuge": 1, "Rotor": 3, "TubeKind": 5, "Adapter": 6, "Check": 4,
        "ClinicSetting": 1, "DrillPull": 1, "Patient": 3, "Intake": 3, "ChainHead": 3, "Entry": 151, "Aside": 151,
        "Supply": 9, "Lot": 10, "StockMovement": 10, "LotUse": 5, "Tablet": 1, "Pin": 4, "PinTry": 1, "Visit": 4,
        "ParameterSet": 1, "Plan": 5, "Run": 1, "RunEntry": 41, "Vessel": 13, "Signature": 1, "Foresight": 1,
    },
}  # fmt: skip
"""Rows of each kind after the upgrade; a1 had no ledger, so each of its five rows is given its first line."""

pytestmark = pytest.mark.slow


def opened(name: str, folder: Path) -> dict[str, str]:
    """Lay the kept database and its key into ``folder`` and return the environment of its installation."""
    with sqlite3.connect(folder / "records.sqlite3") as database:
        database.executescript((KEPT / f"{name}.sql").read_text(encoding="utf-8"))
    database.close()
    key = KEPT / f"{name}.key"
    if key.exists():
        (folder / "ledger").mkdir(mode=0o700)
        (folder / "ledger/key").write_text(key.read_text(encoding="ascii"), encoding="ascii")
    kept = {variable: value for variable, value in os.environ.items() if variable != "DATABASE_URL"}
    return {**kept, "PLASMAWRIGHT_DATA": str(folder)}


def test_a_database_is_kept_of_every_issue() -> None:
    assert {file.stem for file in KEPT.glob("*.sql")} == set(HELD)


@pytest.mark.parametrize("name", sorted(HELD))
def test_an_older_database_opens_row_by_row_with_its_ledger_whole(name: str, tmp_path: Path) -> None:
    environment = opened(name, tmp_path)
    ran = subprocess.run(
        [sys.executable, "-c", EVERY_ROW], env=environment, capture_output=True, text=True, check=False, timeout=120
    )
    assert ran.returncode == 0, ran.stderr
    counted = json.loads(ran.stdout)
    assert {kind: counted[kind] for kind in HELD[name]} == HELD[name]
    command = str(Path(sys.executable).with_name("plasmawright"))
    told = subprocess.run(
        [command, "ledger", "verify", "--json"],
        env=environment, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert told.returncode == 0, told.stdout + told.stderr
    assert json.loads(told.stdout)["entries"] == HELD[name]["Entry"]
    with (
        sqlite3.connect(tmp_path / "records.sqlite3") as database,
        pytest.raises(sqlite3.IntegrityError, match="never"),
    ):
        database.execute("DELETE FROM records_entry")
    database.close()
