"""The way back from a backup: proven in a scratch place before anything is replaced.

The scratch place lies inside the data folder, so that what is proven is moved into place by renaming, on the same disk.
"""

import json
import shutil
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from tempfile import mkdtemp
from typing import IO, cast

from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey

from plasmawright.errors import Refusal
from plasmawright.records.backup.manifest import Manifest, digest_of, manifest_from, stamp
from plasmawright.records.backup.sealing import Opener

SCRATCH = ".restoring-"
ASIDE = "before-restore-"
STAYS = frozenset({"backups", "faults.log", "in-use.lock", "numba", "serving.json", "worker.lock"})
"""What a restore neither minds nor moves."""


def contents(folder: Path) -> list[Path]:
    """Return what an installation keeps in its data folder, without what a restore leaves alone."""
    if not folder.is_dir():
        return []
    return [
        entry
        for entry in sorted(folder.iterdir())
        if entry.name not in STAYS and not entry.name.startswith((".", ASIDE))
    ]


@contextmanager
def unpacked(file: Path, key: X25519PrivateKey, folder: Path) -> Iterator[tuple[Path, Manifest]]:
    """Lay the contents of a backup into a scratch place inside ``folder``, which is gone afterwards.

    Raises
    ------
    Refusal
        If the file is no backup, was sealed with another key, was changed or cut, or lacks something it promises.
    """
    scratch = Path(mkdtemp(prefix=SCRATCH, dir=folder))
    try:
        _extract(file, key, scratch)
        manifest = manifest_from(json.loads((scratch / "manifest.json").read_text(encoding="utf-8")))
        (scratch / "files").mkdir(mode=0o700, exist_ok=True)
        for name, digest in manifest.files.items():
            kept = scratch / "files" / name
            if not kept.is_file() or digest_of(kept) != digest:
                limit = "it is not in the backup as it was kept"
                raise Refusal("FILE", name, limit, "Use an earlier backup.")
        yield scratch, manifest
    except OSError as fault:
        limit = f"it cannot be restored here ({fault.strerror})"
        raise Refusal("FILE", file.name, limit, "Make room, or name another folder by --data.") from fault
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _extract(file: Path, key: X25519PrivateKey, scratch: Path) -> None:
    with file.open("rb") as kept:
        opener = Opener(kept, key, file.name)
        with tarfile.open(fileobj=cast("IO[bytes]", opener), mode="r|gz") as archive:
            archive.extractall(scratch, filter="data")
        opener.finish()


def move_into_place(proven: Path, folder: Path, at: datetime) -> Path | None:
    """Move what was kept in ``folder`` aside and what is proven to its place; return where the old is, if any.

    If a move fails, everything is put back.
    """
    old, new = contents(folder), sorted(proven.iterdir())
    aside = folder / f"{ASIDE}{stamp(at)}"
    moves = [(entry, aside / entry.name) for entry in old] + [(entry, folder / entry.name) for entry in new]
    done: list[tuple[Path, Path]] = []
    if old:
        aside.mkdir(mode=0o700)
    try:
        for source, target in moves:
            source.rename(target)
            done.append((source, target))
    except OSError:
        for source, target in reversed(done):
            target.rename(source)
        raise
    return aside if old else None
