"""Room on the disk: a write is refused in words while there is still room to say so.

A disk that is wholly full takes the database's own working files with it, so that not even reading goes on; and the
ledger's head could no longer be kept beside a row that was.
"""

import os
import sqlite3

from django.db import OperationalError

from plasmawright.errors import Refusal
from plasmawright.records.data_folder import data_folder

FULL = "disk"
"""The field of the refusal, by which a front door knows it."""

KEPT_FREE_BYTES = 8 * 1024 * 1024
"""What the database needs to go on being read, a thousand entries' worth: its journal and the index of that."""

POSTGRESQL_DISK_FULL = "53100"


def refuse_without_room() -> None:
    """Let a write go on while the disk of the data folder has room.

    Raises
    ------
    Refusal
        If it has not.
    """
    if (free := _free_bytes()) < KEPT_FREE_BYTES:
        raise full_disk(free)


def full_disk(free_bytes: int) -> Refusal:
    """Return what is said of a disk without room."""
    limit = f"the records need {KEPT_FREE_BYTES / 1e6:.0f} MB of room to be kept whole"
    return Refusal(
        FULL,
        f"{free_bytes / 1e6:.1f} MB free",
        limit,
        "Make room on the server's disk; nothing that was acknowledged is lost.",
    )


def no_room_for(failed: OperationalError) -> Refusal | None:
    """Return what to say where the database failed for want of room; nothing where it failed otherwise."""
    cause = failed.__cause__
    on_sqlite = isinstance(cause, sqlite3.Error) and cause.sqlite_errorcode == sqlite3.SQLITE_FULL
    on_postgresql = getattr(cause, "sqlstate", None) == POSTGRESQL_DISK_FULL
    free = _free_bytes()
    return full_disk(free) if on_sqlite or on_postgresql or free < KEPT_FREE_BYTES else None


def _free_bytes() -> int:
    disk = os.statvfs(data_folder())
    return disk.f_bavail * disk.f_frsize
