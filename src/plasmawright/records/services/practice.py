"""A practice run given up."""

import secrets

from django.db import transaction

from plasmawright.bench.entries import Kind
from plasmawright.bench.moments import Moment
from plasmawright.errors import Refusal
from plasmawright.records.models import Person, Run, Tablet
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.selectors.runs import stand
from plasmawright.records.services.run_entries import Told, keep_entry

GIVEN_UP = "practice given up"


def give_up_practice(*, run: Run, tablet: Tablet | None, by: Person, moment: Moment) -> None:
    """Stop a practice run where it stands.

    Raises
    ------
    Refusal
        If the run is in earnest or has ended, or the role does not allow it.
    """
    refuse_unless_may(person=by, clinic=run.clinic, action=Action.PRACTICE)
    if not run.practice:
        raise Refusal("run", run.code, "it is no practice run", "End it on the Bench: release or discard.")
    with transaction.atomic():
        facts = stand(Run.objects.of(run.clinic).select_for_update().get(pk=run.pk))
        if facts.ended:
            raise Refusal("run", run.code, "it has ended", "Begin another practice run.")
        told = Told(
            kind=Kind.SIGNED,
            step=facts.step,
            body={"meaning": "stopped", "signer": by.username, "witnessed": False, "words": GIVEN_UP},
            key=secrets.token_hex(16),
            by=by,
            carried_by=by,
            tablet=tablet,
        )
        keep_entry(run, told, moment)
