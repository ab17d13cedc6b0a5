"""What a backup says of itself, and which files beside the rows belong to it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from hashlib import file_digest
from pathlib import Path
from typing import Any  # a document as read from a file is nested plain data of any kind

from plasmawright import __version__
from plasmawright.errors import Refusal

FORM = 1
SINGLE_FILES = ("secret_key", "ledger/key", "certificates/root.pem", "recovery_key.pub")
ATTACHMENTS = "attachments"


@dataclass(frozen=True, kw_only=True)
class Manifest:
    """What must be found again when the backup is restored.

    Parameters
    ----------
    applied
        For each part the changes of the tables that were made.
    counts
        How many rows of each kind there are.
    heads
        The end of every clinic's chain, as digests.
    files
        Every file beside the rows, with its SHA-256.
    """

    made_at: str
    applied: Mapping[str, Sequence[str]]
    counts: Mapping[str, int]
    heads: Sequence[str]
    files: Mapping[str, str]
    form: int = FORM
    version: str = field(default=__version__)

    def as_document(self) -> dict[str, object]:
        """Return it as it is written."""
        return asdict(self)

    @property
    def rows(self) -> int:
        """Return how many rows of every kind there are together."""
        return sum(self.counts.values())

    @property
    def attachments(self) -> int:
        """Return how many attachments there are."""
        return sum(name.startswith(f"{ATTACHMENTS}/") for name in self.files)


def manifest_from(document: Mapping[str, Any]) -> Manifest:
    """Return what a backup says of itself.

    Raises
    ------
    Refusal
        If it is of a later form.
    """
    if document.get("form") != FORM:
        limit = "this version reads another form"
        raise Refusal("FILE", f"form {document.get('form')}", limit, "Restore it with a newer version.")
    return Manifest(**document)


def files_to_keep(folder: Path) -> Iterator[str]:
    """Yield every file of a data folder that belongs into a backup, as a path below it."""
    yield from (name for name in SINGLE_FILES if (folder / name).is_file())
    for file in sorted((folder / ATTACHMENTS).rglob("*")):
        if file.is_file() and not file.is_symlink():
            yield file.relative_to(folder).as_posix()


def digest_of(file: Path) -> str:
    """Return the SHA-256 of a file."""
    with file.open("rb") as reading:
        return file_digest(reading, "sha256").hexdigest()


def stamp(at: datetime) -> str:
    """Return a time as part of a file's name."""
    return f"{at:%Y%m%dT%H%M%SZ}"
