"""The backup that is made every night, once a recovery key was set up."""

import os
from datetime import datetime
from pathlib import Path

from plasmawright.records.backup.make import back_up
from plasmawright.records.backup.recovery_key import kept_public_half
from plasmawright.records.data_folder import data_folder, made

FOLDER_VARIABLE = "PLASMAWRIGHT_BACKUPS"
NIGHTS_KEPT = 14


def backups_folder() -> Path:
    """Return where the nightly backups go: ``PLASMAWRIGHT_BACKUPS``, else a folder in the data folder."""
    named = os.environ.get(FOLDER_VARIABLE)
    return Path(named).absolute() if named else data_folder() / "backups"


def back_up_tonight(at: datetime) -> dict[str, object]:
    """Write this night's backup, forget those from long ago, and say what was done; ``file`` is empty without a key."""
    recipient = kept_public_half()
    if recipient is None:
        return {"file": "", "rows": 0, "attachments": 0}
    folder = made(backups_folder())
    file = folder / f"plasmawright-{at:%Y-%m-%dT%H%M%SZ}.backup"
    manifest = back_up(file, recipient, at)
    for old in sorted(folder.glob("plasmawright-*.backup"))[:-NIGHTS_KEPT]:
        old.unlink()
    return {"file": file.name, "rows": manifest.rows, "attachments": manifest.attachments}
