"""When which task is due. Each is done once a day; one whose hour passed while the machine slept is done on waking."""

from collections.abc import Mapping
from datetime import datetime, time, timedelta

from django_tasks_db.models import DBTaskResult

from plasmawright.jobs.tasks import back_up, renew_certificate, verify_ledger
from plasmawright.records.certificates import kept_leaf
from plasmawright.records.own_addresses import own_names

NOT_BEFORE: Mapping[str, time] = {
    back_up.module_path: time(2),
    verify_ledger.module_path: time(3),
    renew_certificate.module_path: time(4),
}
"""The local hour at which each task is due, when nobody stands at the bench."""
KEPT_DAYS = 60


def enqueue_due(at: datetime, https_host: str) -> None:
    """Put every task that is due into the queue.

    Parameters
    ----------
    at
        Now, in the zone whose nights count.
    https_host
        The host the pages are served on with https; empty for plain http.
    """
    for task in (back_up, verify_ledger):
        if _is_due(task.module_path, at):
            task.enqueue()
    if https_host and (_is_due(renew_certificate.module_path, at) or _names_changed(https_host)):
        renew_certificate.enqueue(https_host)


def forget_old(at: datetime) -> None:
    """Drop what was kept of tasks long ago."""
    DBTaskResult.objects.finished().filter(finished_at__lt=at - timedelta(days=KEPT_DAYS)).delete()


def _is_due(task_path: str, at: datetime) -> bool:
    """Return whether the task was not put into the queue since its last hour came."""
    hour = datetime.combine(at.date(), NOT_BEFORE[task_path], at.tzinfo)
    came = hour if hour <= at else hour - timedelta(days=1)
    return not DBTaskResult.objects.filter(task_path=task_path, enqueued_at__gte=came).exists()


def _names_changed(host: str) -> bool:
    leaf = kept_leaf()
    waiting = DBTaskResult.objects.filter(task_path=renew_certificate.module_path, finished_at=None)
    return (leaf is None or leaf.names != frozenset(own_names(host))) and not waiting.exists()
