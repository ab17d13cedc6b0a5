"""Writes everything an installation keeps into one encrypted file while it runs."""

import json
import os
import tarfile
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, cast

from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PublicKey

from plasmawright.errors import Refusal
from plasmawright.records.backup.history import applied_migrations
from plasmawright.records.backup.manifest import Manifest, digest_of, files_to_keep
from plasmawright.records.backup.rows import one_moment, write_rows
from plasmawright.records.backup.sealing import Sealer
from plasmawright.records.data_folder import data_folder, made
from plasmawright.records.models import ChainHead, Clinic
from plasmawright.records.outside import heads_file

SCRATCH = ".backing-up-"
REMEDY = "Name a file in a folder of yours with room for it."


def back_up(file: Path, recipient: X25519PublicKey, at: datetime) -> Manifest:
    """Write the backup; it stands in its place only when it is whole.

    Raises
    ------
    Refusal
        If there is a file already, or it cannot be written.
    """
    refuse_to_replace(file)
    folder = made(data_folder())
    beside = file.with_name(f".{file.name}-{os.getpid()}.part")
    try:
        with TemporaryDirectory(prefix=SCRATCH, dir=folder) as scratch:
            manifest = _gather(Path(scratch), folder, at)
            with os.fdopen(os.open(beside, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600), "wb") as kept:
                sealer = Sealer(kept, recipient)
                _pack(cast("IO[bytes]", sealer), Path(scratch), folder, manifest)
                sealer.finish()
                kept.flush()
                os.fsync(kept.fileno())
            beside.replace(file)
    except OSError as fault:
        raise Refusal("FILE", file.name, f"it cannot be written ({fault.strerror})", REMEDY) from fault
    finally:
        beside.unlink(missing_ok=True)
    return manifest


def refuse_to_replace(file: Path) -> None:
    """Refuse a name at which something stands: an earlier backup is not lost for a later one.

    Raises
    ------
    Refusal
        If it does, or its folder is not there.
    """
    if not file.absolute().parent.is_dir():
        raise Refusal("FILE", file.name, "its folder is not there", "Make the folder first, or name another.")
    if file.exists() and not (file.is_file() and file.stat().st_size == 0):
        raise Refusal("FILE", file.name, "something stands there already", "Name a new file.")


def _gather(scratch: Path, folder: Path, at: datetime) -> Manifest:
    """Write rows and heads into the scratch folder and say what there is."""
    # Heads first: one that is kept later would name a line that the rows do not hold yet.
    heads = heads_file()
    (scratch / "heads").write_bytes(heads.read_bytes() if heads.exists() else b"")
    (scratch / "rows").mkdir()
    with one_moment():
        counts = write_rows(scratch / "rows")
        heads_of_clinics = [ChainHead.objects.of(clinic).first() for clinic in Clinic.objects.order_by("pk")]
        applied = applied_migrations()
    return Manifest(
        made_at=at.isoformat(),
        applied=applied,
        counts=counts,
        heads=[head.digest for head in heads_of_clinics if head is not None and head.digest],
        files={name: digest_of(folder / name) for name in files_to_keep(folder)},
    )


def _pack(stream: IO[bytes], scratch: Path, folder: Path, manifest: Manifest) -> None:
    """Write the archive that is sealed: what is in it first, so that a reader knows what to expect."""
    (scratch / "manifest.json").write_text(json.dumps(manifest.as_document()), encoding="utf-8")
    with tarfile.open(fileobj=stream, mode="w|gz") as archive:
        archive.add(scratch / "manifest.json", "manifest.json")
        archive.add(scratch / "heads", "heads")
        for label in manifest.counts:
            archive.add(scratch / "rows" / f"{label}.jsonl", f"rows/{label}.jsonl")
        for name in manifest.files:
            archive.add(folder / name, f"files/{name}")
