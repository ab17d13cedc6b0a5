"""The one folder in which an installation keeps what is its own: database, secret key, logs, compiled kernels."""

import os
import secrets
from pathlib import Path

from platformdirs import user_data_path

FOLDER_VARIABLE = "PLASMAWRIGHT_DATA"
NUMBA_VARIABLE = "NUMBA_CACHE_DIR"


def data_folder() -> Path:
    """Return the data folder: ``PLASMAWRIGHT_DATA``, else the user's own. It may not exist yet."""
    named = os.environ.get(FOLDER_VARIABLE)
    return Path(named).absolute() if named else user_data_path("plasmawright", appauthor=False)


def use_data_folder(folder: Path | None) -> Path:
    """Make ``folder`` (or the one already in force) the data folder of this process and of those it starts.

    It also tells numba where compiled kernels are kept, which must happen before numba is first imported: an
    installation that cannot write beside its own code would otherwise stop at the first kernel.
    """
    if folder is not None:
        os.environ[FOLDER_VARIABLE] = str(folder.absolute())
    chosen = data_folder()
    os.environ.setdefault(NUMBA_VARIABLE, str(chosen / "numba"))
    return chosen


def made(folder: Path) -> Path:
    """Return ``folder`` after making it, readable by its owner alone."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


def secret_key() -> str:
    """Return the key that signs sessions, made on first use and readable by its owner alone."""
    file = made(data_folder()) / "secret_key"
    try:
        descriptor = os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except FileExistsError:
        return file.read_text(encoding="ascii")
    with os.fdopen(descriptor, "w", encoding="ascii") as writing:
        key = secrets.token_urlsafe(48)
        writing.write(key)
    return key
