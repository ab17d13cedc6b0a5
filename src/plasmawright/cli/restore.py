"""`plasmawright restore`: an installation brought back from its backup, proven before anything is replaced."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from plasmawright.cli.backup_key import KeyFileOption, key_that_opens
from plasmawright.cli.serving import JsonOption, database_answers
from plasmawright.errors import Refusal
from plasmawright.records.data_folder import data_folder, made, use_data_folder
from plasmawright.records.folder_lock import folder_alone

if TYPE_CHECKING:
    from plasmawright.records.backup.manifest import Manifest
    from plasmawright.records.backup.proving import Proven

FileArgument = Annotated[Path, typer.Argument(metavar="FILE", help="A file that `backup` wrote.")]
ReplaceOption = Annotated[bool, typer.Option("--replace", help="Replace what is there; it is kept aside.")]


def command(
    *, file: FileArgument, recovery_key_file: KeyFileOption = None, replace: ReplaceOption = False,
    as_json: JsonOption = False,
) -> None:  # fmt: skip
    """Prove a backup in a scratch place, then put it in place; what was there is kept aside."""
    from plasmawright.records.backup.restore import contents, move_into_place, unpacked

    folder, at = made(data_folder()), datetime.now(UTC)
    if not file.is_file():
        raise Refusal("FILE", file.name, "there is no such file", "Name a file that `plasmawright backup` wrote.")
    if contents(folder) and not replace:
        limit = "it is not empty"
        raise Refusal("--data", folder, limit, "Name an empty folder, or add --replace: the old is kept aside.")
    with folder_alone(folder), unpacked(file, key_that_opens(recovery_key_file), folder) as (scratch, manifest):
        try:
            use_data_folder(scratch / "files")
            proven = _proven(scratch, manifest, replace=replace, at=at)
        finally:
            use_data_folder(folder)
        aside = move_into_place(scratch / "files", folder, at)
    document = {
        "data": str(folder),
        "made_at": manifest.made_at,
        "entries": proven.entries,
        "head": proven.head,
        "rows": manifest.rows,
        "attachments": manifest.attachments,
        "kept_aside": str(aside) if aside else None,
    }
    if as_json:
        typer.echo(json.dumps(document))
        return
    typer.echo(
        f"Restored as of {manifest.made_at}: {manifest.rows} rows, {manifest.attachments} attachments, and a whole "
        f"ledger of {proven.entries} lines with head {proven.head or 'none yet'}."
    )
    if aside:
        typer.echo(f"What was there before is in {aside}.")


def _proven(scratch: Path, manifest: "Manifest", *, replace: bool, at: datetime) -> "Proven":
    """Load the backup into the database in use and prove it there."""
    with database_answers():
        from plasmawright.records.backup.proving import load_and_prove

        return load_and_prove(scratch, manifest, replacing=replace, at=at)
