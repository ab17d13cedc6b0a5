"""Tasks whose worker was killed: their rows still say that they run."""

from datetime import datetime

from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult

TRIES_MAX = 3


def start_again(installation: str, at: datetime) -> int:
    """Put every task that a worker of this installation left running back into the queue, and return how many.

    Only one worker of an installation runs at a time, so none of its rows can still be running. One that was killed
    over and over is given up.
    """
    running = DBTaskResult.objects.filter(status=TaskResultStatus.RUNNING)
    left = [row for row in running if row.worker_ids and str(row.worker_ids[-1]).startswith(f"{installation}-")]
    for row in left:
        given_up = len(row.worker_ids) >= TRIES_MAX
        row.status = TaskResultStatus.FAILED if given_up else TaskResultStatus.READY
        row.finished_at = at if given_up else None
        row.traceback = f"Its worker ended before it did, {TRIES_MAX} times." if given_up else ""
        row.save(update_fields=["status", "finished_at", "traceback"])
    return sum(row.status == TaskResultStatus.READY for row in left)
