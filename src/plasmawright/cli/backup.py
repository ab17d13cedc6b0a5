"""`plasmawright backup`: everything an installation keeps, in one encrypted file."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from plasmawright.cli.backup_key import KeyFileOption, NewKeyOption, key_that_seals
from plasmawright.cli.serving import JsonOption, prepare_records
from plasmawright.records.data_folder import data_folder, made
from plasmawright.records.folder_lock import folder_in_use

FileArgument = Annotated[Path, typer.Argument(metavar="FILE", help="The file to write; it must not be there yet.")]


def command(
    *, file: FileArgument, recovery_key_file: KeyFileOption = None, new_recovery_key: NewKeyOption = False,
    as_json: JsonOption = False,
) -> None:  # fmt: skip
    """Write everything into one encrypted file, while the pages are served or not."""
    folder = made(data_folder())
    with folder_in_use(folder):
        prepare_records()
        from plasmawright.records.backup.make import back_up, refuse_to_replace

        refuse_to_replace(file)
        recipient = key_that_seals(recovery_key_file, anew=new_recovery_key)
        manifest = back_up(file, recipient, datetime.now(UTC))
    document = {
        "file": str(file.absolute()),
        "made_at": manifest.made_at,
        "bytes": file.stat().st_size,
        "rows": manifest.rows,
        "attachments": manifest.attachments,
        "head": ",".join(manifest.heads),
    }
    if as_json:
        typer.echo(json.dumps(document))
        return
    typer.echo(f"{manifest.rows} rows and {manifest.attachments} attachments are in {file}, encrypted.")
    typer.echo(f"Head of the ledger: {document['head'] or 'none yet'}")
