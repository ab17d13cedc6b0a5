"""Real processes, real commits: nobody's writing forks the chain."""

import json
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.installation import Installation

pytestmark = [pytest.mark.database, pytest.mark.slow]

EACH = 20
OPEN = """
from tests.builders import make_clinic, make_person
make_person(make_clinic())
"""
WRITE = f"""
import sys, time
from pathlib import Path
from tests.builders import AT
from plasmawright.records.models import Clinic, Person
from plasmawright.records.services.shelf import add_rotor
clinic, person = Clinic.objects.get(), Person.objects.get()
Path(sys.argv[2], f"ready-{{sys.argv[1]}}").touch()
while not Path(sys.argv[2], "go").exists():
    time.sleep(0.005)
for number in range({EACH}):
    add_rotor(clinic=clinic, name=f"{{sys.argv[1]}} {{number}}", bottom_radius_mm=160, max_rcf=3000, places=8,
              by=person, at=AT)
    time.sleep(0.02)  # on SQLite a waiting writer sleeps between tries and would be starved
"""
WHO_WROTE = """
import json
from plasmawright.records.models import Clinic, Entry, Rotor
clinic = Clinic.objects.get()
names = dict(Rotor.objects.of(clinic).values_list("pk", "name"))
lines = Entry.objects.of(clinic).filter(about_kind="rotor").order_by("seq").values_list("seq", "about_id")
print(json.dumps([[seq, names[about].split()[0]] for seq, about in lines]))
"""
ALONE = """
from datetime import UTC, datetime
from django.db.transaction import TransactionManagementError
from plasmawright.records.models import Clinic
from plasmawright.records.services.ledger import write_entry
clinic = Clinic.objects.get()
try:
    write_entry(clinic=clinic, about=clinic, became="nothing", by="nobody", at=datetime(2026, 1, 1, tzinfo=UTC))
except TransactionManagementError:
    print("refused")
"""


def test_two_writers_at_once_make_one_chain(installation: "Installation", tmp_path: Path) -> None:
    installation.run(OPEN)
    writers = [installation.start(WRITE, name, str(tmp_path)) for name in ("first", "second")]
    while not all((tmp_path / f"ready-{name}").exists() for name in ("first", "second")):
        assert all(writer.poll() is None for writer in writers), "a writer ended before it began"
    (tmp_path / "go").touch()
    for writer in writers:
        _, said = writer.communicate(timeout=120)
        assert writer.returncode == 0, said
    told = installation.command("ledger", "verify", "--json")
    assert told.returncode == 0, told.stdout + told.stderr
    assert json.loads(told.stdout)["entries"] == 3 + 2 * EACH  # clinic, person, role, then the rotors of both
    lines = json.loads(installation.run(WHO_WROTE))
    assert [seq for seq, _ in lines] == list(range(4, 4 + 2 * EACH))
    changes = sum(one[1] != other[1] for one, other in pairwise(lines))
    assert changes > 1, "the writers took turns once only: nothing was tried"


def test_a_line_outside_the_transaction_of_its_row_is_refused(installation: "Installation") -> None:
    installation.run(OPEN)
    assert installation.run(ALONE) == "refused\n"
