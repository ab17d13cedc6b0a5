"""What the worker does: each task is one call of the records, and returns what is kept of it."""

from datetime import UTC, datetime

from django_tasks import task

from plasmawright.records.backup.nightly import back_up_tonight
from plasmawright.records.certificates import leaf_for
from plasmawright.records.own_addresses import own_names
from plasmawright.records.selectors.ledger import ledger_verdict

Kept = dict[str, object]
"""What a task leaves: plain data that JSON holds."""


@task()
def verify_ledger() -> Kept:
    """Walk the history of every record."""
    return ledger_verdict().as_document()


@task()
def back_up() -> Kept:
    """Write tonight's encrypted backup, when a recovery key was set up."""
    return back_up_tonight(datetime.now(UTC))


@task()
def renew_certificate(host: str) -> Kept:
    """Make the certificate anew when it ends soon or speaks for other names than this machine has now."""
    leaf = leaf_for(own_names(host), datetime.now(UTC))
    return {"until": leaf.certificate.not_valid_after_utc.isoformat(), "names": sorted(leaf.names)}
