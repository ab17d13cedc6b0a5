"""Pulls of the stop-line drill kept."""

from datetime import datetime

from django.db import transaction

from plasmawright.practice.drill import Pull, stopped_mm
from plasmawright.records.models import Clinic, DrillPull, Person
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.services.ledger import write_entry


@transaction.atomic
def keep_pull(*, clinic: Clinic, person: Person, series: str, pull: Pull, at: datetime) -> DrillPull:
    """Keep one weighed pull of ``person`` as the next of its series.

    Raises
    ------
    Refusal
        If a reading cannot be, or the role does not allow it.
    """
    refuse_unless_may(person=person, clinic=clinic, action=Action.DRILL)
    got_mm = stopped_mm(pull)
    row = DrillPull(
        clinic=clinic,
        person=person,
        series=series,
        number=DrillPull.objects.of(clinic).filter(series=series).count() + 1,
        inner_diameter_mm=pull.inner_diameter_mm,
        aimed_mm=pull.aimed_mm,
        added_g=pull.added_g,
        taken_g=pull.taken_g,
        got_mm=got_mm,
        pulled_at=at,
    )
    row.save(force_insert=True)
    write_entry(clinic=clinic, about=row, became="pulled", by=person.username, at=at)
    return row
