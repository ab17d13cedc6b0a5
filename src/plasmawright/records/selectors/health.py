"""How an installation is: the last walk along the ledger, the last backup, how long the certificate lasts."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any  # what a task left is plain data of any kind

from django_tasks_db.models import DBTaskResult

from plasmawright.records.backup.recovery_key import kept_public_half
from plasmawright.records.certificates import kept_leaf

VERIFY_LEDGER = "plasmawright.jobs.tasks.verify_ledger"
BACK_UP = "plasmawright.jobs.tasks.back_up"


@dataclass(frozen=True, kw_only=True)
class Done:
    """The last time a task ended, and what it told; nothing when it failed."""

    at: datetime
    told: Mapping[str, Any]
    failed: bool


@dataclass(frozen=True, kw_only=True)
class Health:
    """What a person looks at once a day.

    Parameters
    ----------
    ledger, backup
        Nothing when it never ended.
    certificate_until
        Nothing when the pages were never served with https.
    """

    ledger: Done | None
    backup: Done | None
    backups_set_up: bool
    certificate_until: datetime | None

    @property
    def ledger_is_whole(self) -> bool | None:
        """Return what the last walk found; nothing when there was none, or it did not end."""
        return bool(self.ledger.told["ok"]) if self.ledger and not self.ledger.failed else None


def health() -> Health:
    """Return how this installation is."""
    leaf = kept_leaf()
    return Health(
        ledger=_last(VERIFY_LEDGER),
        backup=_last(BACK_UP),
        backups_set_up=kept_public_half() is not None,
        certificate_until=leaf.certificate.not_valid_after_utc if leaf else None,
    )


def _last(task_path: str) -> Done | None:
    found = DBTaskResult.objects.filter(task_path=task_path).finished().order_by("-finished_at").first()
    if found is None or found.finished_at is None:
        return None
    told = found.return_value
    return Done(at=found.finished_at, told=told if isinstance(told, dict) else {}, failed=not isinstance(told, dict))
