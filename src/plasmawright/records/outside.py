"""What the ledger keeps outside the database: the key that seals it, and the head of each chain.

A chain alone cannot show that its tail was cut; a head kept elsewhere can. Heads are appended, never replaced: two
processes may finish in either order, and a tail that was cut and grown again still stands against the line it lost.
"""

import os
import re
import secrets
from collections.abc import Mapping
from pathlib import Path

from django.db import connection

from plasmawright.errors import Refusal
from plasmawright.records.data_folder import data_folder, made

KEY_BYTES = 32

Heads = Mapping[int, frozenset[tuple[int, str]]]
"""For each clinic's key the places and digests that were once the end of its chain."""


def ledger_key() -> bytes:
    """Return the key that seals the ledger.

    Raises
    ------
    Refusal
        If it is not there: a new one would make every line written before look edited.
    """
    file = _folder() / "key"
    try:
        return bytes.fromhex(file.read_text(encoding="ascii"))
    except FileNotFoundError as missing:
        limit = "it must be there, since the ledger was sealed with it"
        raise Refusal(
            "ledger/key", "missing", limit, "Put the file back from a backup of the data folder."
        ) from missing


def make_ledger_key() -> None:
    """Make the key, readable by its owner alone; one that is there already is left alone."""
    file = _folder() / "key"
    try:
        descriptor = os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except FileExistsError:
        return
    with os.fdopen(descriptor, "w", encoding="ascii") as writing:
        writing.write(secrets.token_hex(KEY_BYTES))
        writing.flush()
        os.fsync(writing.fileno())


def keep_head(*, clinic_id: int, seq: int, digest: str) -> None:
    """Append the end of a clinic's chain to the file of heads, and wait until the disk has it.

    Each line begins a new one, so that a line torn by a power cut or a full disk does not take the next with it.
    """
    descriptor = os.open(heads_file(), os.O_CREAT | os.O_APPEND | os.O_WRONLY, 0o600)
    try:
        os.write(descriptor, f"\n{clinic_id} {seq} {digest}\n".encode())
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def kept_heads() -> Heads:
    """Return every head that was kept; a line torn by a power cut says nothing and is left out."""
    file = heads_file()
    found: dict[int, set[tuple[int, str]]] = {}
    if file.exists():
        for line in re.findall(r"^(\d+) (\d+) ([0-9a-f]{64})$", file.read_text(encoding="ascii"), flags=re.MULTILINE):
            found.setdefault(int(line[0]), set()).add((int(line[1]), line[2]))
    return {clinic_id: frozenset(heads) for clinic_id, heads in found.items()}


def heads_file() -> Path:
    """Return the file of heads of the database in use: two databases may share a data folder."""
    name = Path(str(connection.settings_dict["NAME"])).name
    return _folder() / f"heads-{connection.vendor}-{re.sub(r'[^A-Za-z0-9_.-]', '_', name)}"


def _folder() -> Path:
    return made(data_folder() / "ledger")
