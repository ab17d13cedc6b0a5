"""How the recovery key comes to a command: shown once and typed back, read from a file, or piped in."""

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from plasmawright.errors import Refusal

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey

KeyFileOption = Annotated[
    Path | None,
    typer.Option("--recovery-key-file", metavar="FILE", help="Read the recovery key here; a new one is written here."),
]
NewKeyOption = Annotated[
    bool, typer.Option("--new-recovery-key", help="Make a new recovery key; earlier backups keep theirs.")
]
TRIES = 3


def key_that_opens(key_file: Path | None) -> "X25519PrivateKey":
    """Return the key from its file, from what is piped in, or as typed."""
    from plasmawright.records.backup.recovery_key import private_half

    if key_file is not None:
        return private_half(_read(key_file))
    if not sys.stdin.isatty():
        return private_half(sys.stdin.readline())
    typed: str = typer.prompt("Recovery key", err=True)
    return private_half(typed)


def key_that_seals(key_file: Path | None, *, anew: bool) -> "X25519PublicKey":
    """Return what backups are sealed with; set up first when there is none yet, or a new one is wanted.

    Raises
    ------
    Refusal
        If there is none and nobody to confirm a new one, or the file named holds another than the one in use.
    """
    from plasmawright.records.backup.recovery_key import keep_public_half, kept_public_half, private_half

    in_use = None if anew else kept_public_half()
    if key_file is None:
        return in_use or keep_public_half(_shown_and_confirmed())
    if not key_file.exists() and in_use is None:
        return keep_public_half(_written(key_file))
    if anew:
        limit = "it is there already"
        raise Refusal("--recovery-key-file", key_file.name, limit, "Name a new file for a new key.")
    typed = _read(key_file)
    named = private_half(typed).public_key()
    if in_use is None:
        return keep_public_half(typed)
    if named.public_bytes_raw() != in_use.public_bytes_raw():
        limit = "backups here are sealed with another key"
        raise Refusal("--recovery-key-file", key_file.name, limit, "Leave it out, or add --new-recovery-key.")
    return in_use


def _shown_and_confirmed() -> str:
    """Show a new key once and have it typed back."""
    from plasmawright.records.backup.recovery_key import new_recovery_key, private_half

    if not sys.stdin.isatty():
        limit = "nobody is here to write it down"
        raise Refusal("recovery key", "not set up", limit, "Run this in a terminal, or name --recovery-key-file.")
    key = new_recovery_key()
    typer.echo("Your backups open with this key alone. Write it on paper and keep it away from this machine.\n")
    typer.echo(f"    {key}\n\nIt is not shown again and not kept here.")
    for _ in range(TRIES):
        typed: str = typer.prompt("Type it back from the paper")
        try:
            if private_half(typed).private_bytes_raw() == private_half(key).private_bytes_raw():
                return key
        except Refusal as slip:
            typer.echo(str(slip))
    limit = "it was not typed back as it was shown"
    raise Refusal("recovery key", "not confirmed", limit, "Begin again; a new one will be shown.")


def _written(file: Path) -> str:
    """Write a new key into a file, readable by its owner alone."""
    from plasmawright.records.backup.recovery_key import new_recovery_key

    key = new_recovery_key()
    try:
        descriptor = os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except OSError as fault:
        limit = f"it cannot be written ({fault.strerror})"
        raise Refusal("--recovery-key-file", file.name, limit, "Name a file in a folder of yours.") from fault
    with os.fdopen(descriptor, "w", encoding="ascii") as writing:
        writing.write(f"{key}\n")
        writing.flush()
        os.fsync(writing.fileno())
    return key


def _read(file: Path) -> str:
    try:
        return file.read_text(encoding="ascii")
    except (OSError, UnicodeDecodeError) as fault:
        limit = "no recovery key can be read from it"
        raise Refusal("--recovery-key-file", file.name, limit, "Name the file the key was written into.") from fault
