"""The worker that `serve` keeps running: ``python -m plasmawright.jobs [HOST]``, with HOST when it serves https."""

import hashlib
import logging
import os
import secrets
import signal
import socket
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType

LOOK_EVERY_S = 2.0
SCHEDULE_FIRST_S = 20.0
"""A machine that was just switched on has more urgent things to do."""
SCHEDULE_EVERY_S = 60.0


def run(https_host: str) -> None:
    """Do background work until a signal ends it; the records are migrated by whoever starts this."""
    signal.signal(signal.SIGTERM, _leave)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plasmawright.config.settings")
    import django

    django.setup()
    logging.getLogger("django_tasks").setLevel(logging.ERROR)
    logging.getLogger("django_tasks_db").setLevel(logging.ERROR)
    from plasmawright.records.data_folder import data_folder, made
    from plasmawright.records.folder_lock import only_worker

    folder = made(data_folder())
    with only_worker(folder):
        _work(installation=installation_name(folder), https_host=https_host)


def _work(*, installation: str, https_host: str) -> None:
    from django.db import close_old_connections
    from django_tasks_db.management.commands.db_worker import Worker
    from django_tasks_db.models import DBTaskResult

    from plasmawright.jobs.left_running import start_again
    from plasmawright.jobs.schedule import enqueue_due, forget_old

    start_again(installation, datetime.now(UTC))
    worker = Worker(
        queue_names=["default"],
        interval=0,
        batch=True,
        backend_name="default",
        startup_delay=False,
        max_tasks=None,
        worker_id=f"{installation}-{secrets.token_hex(8)}",
        excluded_queue_names=[],
    )
    next_s = time.monotonic() + SCHEDULE_FIRST_S
    while True:
        if time.monotonic() >= next_s:
            now = datetime.now().astimezone()
            enqueue_due(now, https_host)
            forget_old(now)
            next_s = time.monotonic() + SCHEDULE_EVERY_S
        if DBTaskResult.objects.ready().exists():  # the worker itself would ask with everybody else locked out
            worker.run()
        close_old_connections()
        time.sleep(LOOK_EVERY_S)


def installation_name(folder: Path) -> str:
    """Return a name for this data folder on this machine: another machine may work on the same database."""
    return hashlib.sha256(f"{socket.gethostname()}\n{folder}".encode()).hexdigest()[:16]


def _leave(_signal: int, _frame: FrameType | None) -> None:
    """End at once, without unwinding: the worker takes an unwinding for a fault of the task it is at.

    What is not committed is rolled back, and the row still says that the task runs, so it is started again.
    """
    os._exit(0)


if __name__ == "__main__":
    run(*(sys.argv[1:] or [""]))
